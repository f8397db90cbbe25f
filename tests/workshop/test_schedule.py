"""The plan against a general graph library, and against a week worked out by hand."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import networkx
import numpy as np
import pytest
import yaml

from shellgen.errors import PresetError
from shellgen.model import Task
from shellgen.workshop import schedule
from shellgen.workshop.schedule import Params, WorkAmounts

SIZE = WorkAmounts(12, 9.0, 6.0, 4.0, 30, 8, 3.5, 1.7, 0.35, 6, 3)


def test_critical_chain_is_the_longest_path_of_a_graph_library():
    """networkx.dag_longest_path_length on the same net (networkx 3)."""
    listed = schedule.tasks(SIZE, Params())
    net = networkx.DiGraph()
    for task in listed:
        net.add_edge(("in", task.name), ("out", task.name), weight=task.hands_h + task.dry_h)
        for name in task.after:
            net.add_edge(("out", name), ("in", task.name), weight=0.0)
    chain, hours = schedule.critical(listed)
    assert hours == pytest.approx(networkx.dag_longest_path_length(net))
    path = networkx.dag_longest_path(net)
    assert [name for kind, name in path if kind == "in"] == list(chain)


def test_textbook_network():
    """Vanhoucke (2014), see published/schedule.yaml: seventeen activities that need no hands, an hour for each week.

    An activity finishes no earlier than its own longest chain; laid back from the end, all are as late as they can be;
    the difference is the float printed.
    """
    rows = yaml.safe_load((Path(__file__).parents[1] / "published" / "schedule.yaml").read_text(encoding="utf-8"))
    told = {row["id"]: row["value"] for row in rows}
    whole = [
        Task(str(k), 0.0, float(hours), tuple(map(str, after)))
        for k, (hours, after) in enumerate(zip(told["durations"], told["after"], strict=True), 1)
    ]
    chain, hours = schedule.critical(whole)
    assert [int(name) for name in chain] == told["critical"] and hours == told["duration"]

    def before(task):
        """A task and all that it comes after, in their order."""
        needed = {task.name}
        for other in reversed(whole):
            needed |= set(other.after) if other.name in needed else set()
        return [other for other in whole if other.name in needed]

    early = [schedule.critical(before(task))[1] for task in whole]
    assert early == told["early-finish"]
    end = date(2027, 5, 7)
    jobs = schedule.backward(whole, Params(reserve=0), end)
    opens = datetime(2027, 5, 7) - timedelta(hours=told["duration"])
    of = {int(job.task.name): job for job in jobs}
    late = [
        ((of[k].begin - opens).total_seconds() / 3600, (of[k].dry - opens).total_seconds() / 3600) for k in sorted(of)
    ]
    assert late == list(zip(told["late-start"], told["late-finish"], strict=True))
    floats = [b - a for a, (_, b) in zip(early, late, strict=True)]
    assert [k for k, left in enumerate(floats, 1) if not left] == told["critical"]


def test_a_week_by_hand():
    """Glue two hours and a day to dry, then an hour of paint; two free hours a day from 18:00; event on a Friday.

    Ready by Thursday 00:00 with a day's reserve, so the paint, two hours to dry, is on Wednesday... 21:00 is too late:
    its hour is 19:00 to 20:00 (free until 20:00). Glue must be dry by then, so it ends on Tuesday by 19:00, an hour of
    it on Tuesday from 18:00 and the other on Monday evening's last hour.
    """
    listed = (Task("glue", 2, 24, ()), Task("paint", 1, 2, ("glue",)))
    friday = date(2027, 5, 7)
    jobs = schedule.backward(listed, Params(weekday_hours=2, weekend_hours=0, begin_at=18, reserve=1), friday)
    assert [job.task.name for job in jobs] == ["glue", "paint"]
    assert jobs[1].spans == ((datetime(2027, 5, 5, 19), datetime(2027, 5, 5, 20)),)
    assert jobs[0].spans == (
        (datetime(2027, 5, 3, 19), datetime(2027, 5, 3, 20)),
        (datetime(2027, 5, 4, 18), datetime(2027, 5, 4, 19)),
    )


@pytest.mark.parametrize("hours", [(2, 5), (0, 8), (1, 0), (6, 6)])
def test_no_task_begins_before_what_it_needs_is_dry_and_hands_do_one_thing_at_a_time(hours):
    params = Params(weekday_hours=hours[0], weekend_hours=hours[1])
    listed = schedule.tasks(SIZE, params)
    jobs = schedule.backward(listed, params, date(2027, 6, 20))
    of = {job.task.name: job for job in jobs}
    for job in jobs:
        assert all(of[name].dry <= job.begin for name in job.task.after)
        worked = sum((b - a for a, b in job.spans), timedelta())
        assert worked.total_seconds() / 3600 == pytest.approx(job.task.hands_h, abs=1e-3)
    spans = sorted(span for job in jobs for span in job.spans)
    assert all(a[1] <= b[0] for a, b in pairwise(spans))
    assert max(job.dry for job in jobs) <= datetime(2027, 6, 19)


def test_critical_chain_worked_by_hand():
    """A net of six tasks as textbooks of operations research set them, here computed by hand: A 3, B 5 after A, C 2
    after A, D 4 after B and C, E 6 after C, F 1 after D and E. Earliest finishes A 3, B 8, C 5, D 12, E 11, F 13, so
    A-B-D-F in 13.
    """
    hours = {"A": 3, "B": 5, "C": 2, "D": 4, "E": 6, "F": 1}
    needs = {"A": "", "B": "A", "C": "A", "D": "BC", "E": "C", "F": "DE"}
    listed = tuple(Task(name, hours[name], 0, tuple(needs[name])) for name in hours)
    assert schedule.critical(listed) == (("A", "B", "D", "F"), 13)


def test_a_plan_that_cannot_be_done_says_what_would_help():
    event = date(2027, 5, 7)
    plan = schedule.build(SIZE, Params(event=event))
    assert plan.findings[0].level == "ok"
    late = replace(Params(event=event), start=plan.begin.date() + timedelta(days=2))
    fault = schedule.build(SIZE, late).findings[0]
    assert fault.level == "fault" and "acrylic" in fault.text
    hopeless = schedule.build(SIZE, replace(late, start=event - timedelta(days=1))).findings[0]
    assert "No single change" in hopeless.text


def test_days_gained_are_those_of_the_plan_laid_again_with_the_change():
    """Each change made in the preset itself, where that can be said, and the two plans compared."""
    before = schedule.build(SIZE, Params(event=date(2027, 6, 20)))
    changed = {
        "shade with acrylic paint": (SIZE, Params(event=date(2027, 6, 20), shading="acrylic")),
        "three coats of primer": (replace(SIZE, primer_coats=3), Params(event=date(2027, 6, 20))),
        "two coats of paint": (replace(SIZE, paint_coats=2), Params(event=date(2027, 6, 20))),
        "one more hour every day": (SIZE, Params(event=date(2027, 6, 20), weekday_hours=3, weekend_hours=6)),
    }
    gained = {way.change: way.gained_days for way in before.ways}
    for change, (size, params) in changed.items():
        after = schedule.build(size, params)
        assert gained.get(change, 0) == max((after.begin.date() - before.begin.date()).days, 0), change
    assert len(gained) >= 4


def test_a_change_that_changes_nothing_is_not_offered():
    ways = schedule.build(replace(SIZE, spikes=0, primer_coats=3), Params(shading="acrylic")).ways
    assert not {"buy the spikes", "three coats of primer", "shade with acrylic paint"} & {w.change for w in ways}
    assert "shade with alkyd paint" not in {w.change for w in ways}, "slower than what was chosen"


def test_clay_that_is_not_measured_dries_as_a_cube_before_the_spikes():
    size, params = replace(SIZE, test_cube=True), Params(event=date(2027, 6, 20), cube_dry=100)
    plan, measured = schedule.build(size, params), schedule.build(SIZE, params)
    of = {job.task.name: job for job in plan.jobs}
    cube = of[schedule.CUBE]
    assert (cube.dry - cube.end).total_seconds() == 100 * 3600 and cube.dry <= of["make the spikes"].begin
    assert schedule.CUBE in plan.chain and schedule.CUBE not in {job.task.name for job in measured.jobs}
    gained = {way.change: way.gained_days for way in plan.ways}
    assert gained["no test cube, and spikes a little small"] == (measured.begin.date() - plan.begin.date()).days > 0
    for bare in (schedule.tasks(size, params, sculpted=False), schedule.tasks(replace(size, spikes=0), params)):
        assert schedule.CUBE not in {task.name for task in bare}


def test_without_a_day_the_days_are_only_counted():
    plan = schedule.build(SIZE, Params())
    assert plan.event is None and plan.findings == () and plan.day(plan.begin) == 1
    same = schedule.build(SIZE, Params(event=schedule.SOME_DAY))
    assert [j.begin for j in plan.jobs] == [j.begin for j in same.jobs]


def test_no_free_hour_in_the_week():
    none = Params(weekday_hours=0, weekend_hours=0)
    assert schedule.build(SIZE, none) is None
    with pytest.raises(PresetError, match="The week has no free hour"):
        schedule.build(SIZE, replace(none, event=date(2027, 6, 20)))


@pytest.mark.parametrize("pace", [0.7, 1.0, 1.37])
def test_work_is_counted_in_whole_five_minutes(pace):
    hours = np.array([task.hands_h for task in schedule.tasks(SIZE, Params(pace=pace))])
    assert np.abs(hours * 12 - np.round(hours * 12)).max() < 1e-9
