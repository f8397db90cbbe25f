"""Spikes of clay, printed or bought; and a shell that is late, until lines on offer are pasted into its preset."""

from __future__ import annotations

from html import unescape
from pathlib import Path
from typing import Any

import pytest

from shellgen import pipeline
from shellgen import preset as presets
from shellgen.canvas.rule import METRIC
from shellgen.cli import summary
from shellgen.core.flow import Flow
from shellgen.pack.contents import build
from shellgen.record import record

SMALL = """
name: pond-guard
dome: {length: 300, width: 260, height: 90}
plates: {layout: turtle, vertebrals: 3, pleurals: 2, marginals: 6}
mesh: {edge: 40}
shape: {rounds: 0}
spikes: [{plates: [vertebral-2, pleural], base_diameter: 20, height: 30}]
nest: {effort: quick}
"""


@pytest.fixture(scope="module")
def flow() -> Flow:
    return Flow()


def figures(text: str, folder: Path, flow: Flow) -> Any:
    path = folder / "pond-guard.yaml"
    path.write_text(text, encoding="utf-8")
    return record(pipeline.shell_of(presets.read(path), flow))


def test_what_the_spikes_are_decides_what_is_bought_printed_and_done(tmp_path: Path, flow: Flow) -> None:
    """Filament by hand: every part as often as it is printed. A bought spike is taken to weigh what clay does."""
    making = "making: {{way: {}, shrinkage: 5 %}}\n"
    clay, printed, bought = (
        figures(SMALL + making.format(way), tmp_path, flow) for way in ("clay", "printed", "bought")
    )
    items = [{line.item: line for line in of.materials} for of in (clay, printed, bought)]
    assert ["foam clay" in of for of in items] == [True, False, False]
    assert ["print filament" in of for of in items] == [True, True, False]
    assert items[2]["ready-made spikes"].buy == len(bought.spikes)
    grams = sum(part.copies * part.plastic_g for part in printed.prints)
    assert items[1]["print filament"].amount == pytest.approx(grams, abs=0.5)
    assert printed.mass_parts_g["spikes"] == pytest.approx(grams, abs=0.5)
    assert bought.mass_parts_g["spikes"] == pytest.approx(clay.mass_parts_g["spikes"], rel=1e-3)
    masters = {part.for_: part for part in printed.prints if not part.id.endswith(("right", "2"))}
    assert sum(part.copies for part in masters.values()) == len(printed.spikes)
    assert {part.role for part in printed.prints} == {"master"} and not bought.prints
    larger = {part.id: part for part in clay.prints}
    for part in printed.prints:
        ratio = larger[part.id].volume_mm3 / part.volume_mm3
        assert ratio == pytest.approx(0.95**-3, rel=0.06), "at its finished size, and not larger as for clay"
    names = [{task.task for task in of.schedule} for of in (clay, printed, bought)]
    assert [name for of in names for name in of if name.endswith("the spikes") and "glue" not in name] == [
        "make the spikes", "buy the spikes",
    ]  # fmt: skip
    assert "finish the printed spikes" in names[1] and any(n.startswith("print the spikes") for n in names[1])
    hours = sum(part.copies * part.minutes for part in printed.prints) / 60
    assert printed.plan.printer_h == pytest.approx(hours, abs=0.2)
    hours = sum(part.minutes for part in clay.prints) / 60
    assert clay.plan.printer_h == pytest.approx(hours, abs=0.2)
    assert bought.plan.printer_h == 0


def test_a_late_shell_is_in_time_when_the_lines_of_an_offer_are_pasted(tmp_path: Path, flow: Flow) -> None:
    """Whole shells, not plans alone; and the terminal, the guide and the page show the lines."""
    late = f"{SMALL}schedule:\n  event: 2027-06-19\n  start: 2027-06-05\n"
    path = tmp_path / "late.yaml"
    path.write_text(late, encoding="utf-8")
    made = build(presets.read(path), flow=flow)
    of = made.record
    assert len(of.plan.offers) == 3 and not of.plan.fits
    shown = summary.text(of, tmp_path, METRIC), summary.checked(of, path, METRIC), summary.plan(of)
    pages = [unescape(made.files[name].decode()) for name in ("guide.html", "index.html")]
    for offer in of.plan.offers:
        after = figures(late + offer.lines, tmp_path, flow)
        assert after.plan.fits and (after.plan.begin, after.plan.ready) == (offer.begin, offer.ready)
        assert not [f for f in after.findings if f.stage == "plan" and f.level == "fault"]
        last = offer.lines.splitlines()[-1]
        assert all(last in text for text in (*shown, *pages))
        assert all(one.cost.split(".")[0] in text for one in offer.changes for text in (*shown, *pages))
