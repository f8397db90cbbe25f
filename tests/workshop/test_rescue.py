"""A day that cannot be moved: every set of changes on offer, pasted into the preset and read again, makes the date."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
import yaml

from shellgen import preset as presets
from shellgen.errors import PresetError
from shellgen.model import Schedule
from shellgen.workshop import schedule
from shellgen.workshop.schedule import ToPrint, WorkAmounts, changes, rescue

EVENT = date(2027, 6, 19)
ZONES = ("plates", "grooves", "spikes", "rings", "rim")


def made_up(number: int) -> tuple[str, WorkAmounts]:
    """The text of a preset, and what its shell would measure; the choices in it are those of the text."""
    draw = random.Random(number)
    spikes = draw.choice((0, 6, 18, 40))
    masters = min(spikes, draw.randint(1, 9))
    copies = [spikes // masters] * masters if masters else []
    prints = [ToPrint(False, many, draw.uniform(1e3, 6e3), draw.uniform(8e3, 2e4), 30.0, 30.0) for many in copies]
    prints += [
        ToPrint(True, 0, draw.uniform(1e4, 3e4), draw.uniform(3e4, 1e5), draw.uniform(60, 110), draw.uniform(40, 70))
        for _ in range(3 * masters)
    ]
    measured = WorkAmounts(
        pieces=draw.randint(1, 12), cut_m=draw.uniform(4, 12), score_m=draw.uniform(3, 9), seam_m=draw.uniform(0.8, 5),
        spikes=spikes, masters=masters, ring_m=draw.uniform(0, 4) if spikes else 0.0, rim_m=draw.uniform(1, 2),
        area_m2=draw.uniform(0.15, 0.5), primer_coats=0, coats=(), masks=draw.choice((0, 8, 2 * spikes + 8)),
        straps=draw.choice((0, 3, 4)), trial=draw.random() < 0.5, prints=tuple(prints),
    )  # fmt: skip
    hours = draw.choice((1, 1.5, 2, 3, 0))
    making = {"way": draw.choice(("clay", "clay", "clay", "printed", "bought")), "moulds": draw.random() < 0.8}
    if draw.random() < 0.4:
        making["shrinkage"] = 0.04
    plan = {
        "event": EVENT.isoformat(),
        "weekday_hours": hours,
        "begin_at": draw.choice((9, 17.5, 18, 19)),
        "reserve": draw.choice((0, 1, 3)),
        "shading": draw.choice(("oil", "oil", "alkyd", "acrylic")),
        "prefer": draw.choice(("late", "late", "early")),
        "printer_hours": draw.choice((24, 24, 12, 4)),
        "pace": draw.choice((0.8, 1, 1.5)),
        "hands": draw.choice((1, 1, 1, 2)),
    }
    if draw.random() < 0.5:
        plan["weekend_hours"] = draw.choice((2, 5, 8))
    of = {
        "making": making,
        "materials": {"primer_coats": draw.choice((2, 4, 6)), "paint_coats": draw.choice((2, 3, 4))},
        "paint": {"coats": {"rim": draw.choice((1, 3, 5))}},
        "schedule": plan,
    }
    return f"# made up, number {number}\n{yaml.safe_dump(of, sort_keys=False)}", measured


def read(text: str, folder: Path) -> presets.Preset:
    path = folder / "made-up.yaml"
    path.write_text(text, encoding="utf-8")
    return presets.read(path)


def amounts(measured: WorkAmounts, of: presets.Preset) -> WorkAmounts:
    """As `work.size` puts them together, of a preset's own choices."""
    usual, own = of.materials.paint_coats, of.paint.coats
    coats = tuple((z, usual if getattr(own, z) is None else getattr(own, z)) for z in ZONES)
    return replace(
        measured, primer_coats=of.materials.primer_coats, coats=coats, varnish_coats=of.materials.varnish_coats,
        test_cube=of.making.shrinkage is None, way=of.making.way, moulds=of.making.moulds,
        infill=of.making.printer.infill, flow=of.making.printer.flow,
    )  # fmt: skip


def too_late(number: int, folder: Path) -> tuple[str, WorkAmounts]:
    """A preset whose start leaves fewer days than its plan takes."""
    text, measured = made_up(number)
    bare = text.replace("prefer: early", "prefer: late")
    of = read(bare, folder)
    plan = schedule.build(amounts(measured, of), of.schedule)
    days = (EVENT - plan.begin.date()).days
    start = EVENT - timedelta(days=int(days * random.Random(-number).uniform(0.55, 0.97)))
    return f"{text}  start: {start}\n", measured


@pytest.fixture(scope="module")
def plans(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[str, WorkAmounts, Schedule]]:
    """Sixty presets, what their shells measure, and their plans, which are too long."""
    folder = tmp_path_factory.mktemp("made-up")
    found = []
    for number in range(60):
        text, measured = too_late(number, folder)
        of = read(text, folder)
        plan = schedule.build(amounts(measured, of), of.schedule)
        assert plan is not None
        found.append((text, measured, plan))
    return found


@pytest.mark.parametrize("number", range(60))
def test_every_set_on_offer_makes_the_date_when_it_is_pasted(number: int, plans: Any, tmp_path: Path) -> None:
    text, measured, plan = plans[number]
    assert not plan.fits and plan.findings[0].level == "fault"
    assert bool(plan.offers) != bool(plan.earliest), "it says what helps, or how far off the day is"
    for offer in plan.offers:
        after = read(text + offer.lines, tmp_path)
        new = schedule.build(amounts(measured, after), after.schedule)
        assert new is not None and new.fits and new.findings[0].level == "ok", offer.lines
        assert (new.begin, new.ready) == (offer.begin, offer.ready), "as the offer says"
        assert new.begin.date() >= after.schedule.start
        assert new.ready <= datetime.combine(EVENT - timedelta(days=after.schedule.reserve), time())
        assert all(change.cost.endswith(".") and change.change for change in offer.changes)
        assert offer.points == sum(change.points for change in offer.changes)
    points = [offer.points for offer in plan.offers]
    assert points == sorted(points) and len(points) <= 3
    kinds = [{change.change for change in offer.changes} for offer in plan.offers]
    assert not any(a <= b or b <= a for a, b in combinations(kinds, 2)), "none within another"


def test_nothing_less_painful_makes_the_date(plans: Any, tmp_path: Path) -> None:
    """Every set of one or two changes, tried one by one: none that makes the date costs less than the first offer,
    and where the offers are as small as that, they are the first three."""
    tried = 0
    for text, measured, plan in plans[:20]:
        of = read(text, tmp_path)
        size = amounts(measured, of)
        listed = changes.catalogue(size, of.schedule)
        pairs = (pair for pair in combinations(listed, 2) if pair[0].key != pair[1].key)
        enough = [
            sum(one.points for one in chosen)
            for chosen in (*((one,) for one in listed), *pairs)
            if rescue.laid(*changes.made(size, of.schedule, chosen)).fits
        ]
        if enough:
            tried += 1
            assert plan.offers[0].points <= min(enough)
    assert tried >= 5


def test_most_plans_have_three_sets_to_choose_from(plans: Any) -> None:
    assert sum(len(plan.offers) == 3 for *_, plan in plans) >= 45


def test_where_nothing_helps_the_first_possible_day_is_said(plans: Any, tmp_path: Path) -> None:
    hopeless = [(text, measured, plan) for text, measured, plan in plans if not plan.offers]
    assert hopeless
    for text, measured, plan in hopeless:
        of = read(text, tmp_path)
        size, (least, plain) = amounts(measured, of), plan.earliest
        assert EVENT < least <= plain
        assert schedule.build(size, replace(of.schedule, event=plain)).fits
        assert not schedule.build(size, replace(of.schedule, event=plain - timedelta(days=1))).fits
        for day, fits in ((least, True), (least - timedelta(days=1), False)):
            new = changes.made(size, of.schedule, rescue.everything(changes.catalogue(size, of.schedule)))
            assert rescue.laid(new[0], replace(new[1], event=day)).fits == fits
        assert f"{least:%A} {least.day} {least:%B %Y}" in plan.findings[0].text


def test_lines_in_place_of_others_are_joined_section_by_section(tmp_path: Path) -> None:
    """A mistake in them is named with its own line."""
    text = "schedule:\n  weekday_hours: 2\n  reserve: 3\n"
    of = read(text + "instead:\n  schedule:\n    weekday_hours: 3\n  making: {moulds: no}\n", tmp_path)
    assert (of.schedule.weekday_hours, of.schedule.reserve, of.making.moulds) == (3, 3, False)
    assert read(f"{text}instead:\n", tmp_path).schedule.weekday_hours == 2, "an empty section changes nothing"
    with pytest.raises(PresetError, match="weekday_hours") as wrong:
        read(text + "instead:\n  schedule:\n    weekday_hours: many\n", tmp_path)
    assert wrong.value.line == 6
    with pytest.raises(PresetError, match="not a section"):
        read(f"{text}instead: faster\n", tmp_path)
