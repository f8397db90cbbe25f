"""When the search for a layout ends: told its reports one by one, without searching."""

from __future__ import annotations

import io
import json
import sys
import threading
from types import SimpleNamespace

import pytest
import spyrrow

from shellgen.workshop.nest import _solver

FOUND, STUCK = spyrrow.ReportType.ExplFeas, spyrrow.ReportType.ExplInfeas


class Told:
    """A queue of reports (kind, length of the layout), and how many of them were read."""

    def __init__(self, *reports):
        self.reports, self.read = [(kind, SimpleNamespace(width=width)) for kind, width in reports], 0

    def drain(self):
        for report in self.reports[self.read :]:
            self.read += 1
            yield report


def followed(told, work, *, enough=0.0, weight=1.0):
    return [layout.width for layout in _solver._followed(told, threading.Event(), work, enough, weight)]


@pytest.mark.parametrize("work", (1, 3, 5))
def test_each_report_of_a_search_that_goes_on_counts_for_one(work):
    told = Told(*((FOUND, 100.0 - k) for k in range(9)))
    assert followed(told, work) == [101.0 - work] and told.read == work


def test_reports_of_a_stuck_search_count_for_more_and_more():
    """1 for the layout and 1 for the first after it, then 1 + w, 1 + 2 w: with w = 2 it comes to 1, 2, 5, 10, 17."""
    for work, read in ((1, 1), (2, 2), (3, 3), (5, 3), (6, 4), (10, 4), (17, 5)):
        told = Told((FOUND, 90.0), *((STUCK, 80.0),) * 9)
        assert followed(told, work, weight=2.0) == [90.0] and told.read == read


def test_a_layout_that_is_short_enough_ends_the_search():
    told = Told((FOUND, 90.0), (FOUND, 70.0), (FOUND, 60.0))
    assert followed(told, 100, enough=75.0) == [70.0] and told.read == 2


def test_without_a_layout_the_search_goes_on_when_its_work_is_done():
    told = Told(*((STUCK, 50.0),) * 9, (FOUND, 90.0))
    assert followed(told, 2)[-1] == 90.0 and told.read == 10


@pytest.mark.parametrize(("shapes", "weight"), ((4, 6.0), (24, 1.0), (48, 1.0)))
def test_what_the_task_says_reaches_the_search(shapes, weight, monkeypatch):
    """Few shapes have few layouts: 24 of them and more count for one, 4 for six."""
    told, square = [], {"shape": [(0, 0), (9, 0), (9, 9), (0, 9)], "angles": [0.0]}
    task = {"parts": [square] * shapes, "height": 100.0, "seed": 5, "work": 30, "enough": 70.0}
    seen = []
    monkeypatch.setattr(sys, "stdin", io.StringIO(json.dumps(task)))
    monkeypatch.setattr(_solver.os, "_exit", told.append)
    monkeypatch.setattr(_solver, "_followed", lambda queue, ended, *limits: told.append(limits))
    monkeypatch.setattr(
        spyrrow,
        "StripPackingInstance",
        lambda *of: SimpleNamespace(solve=lambda how, progress: None, of=seen.append(of)),
    )
    _solver.main()
    assert told == [(30, 70.0, weight), 0]
    assert seen[0][1] == 100.0 and len(seen[0][2]) == shapes
