"""Strips, cutting lists, plans and slips: true sizes, sums that agree, lettering on its sheet and clear of other
lettering."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from drawn import DEMOS, demo, lines, shell, templates_of
from inked import ink, paths, words

from shellgen import pipeline, preset
from shellgen.canvas import Drawing, Text, lettering, rule
from shellgen.canvas import Path as Line
from shellgen.core.flow import Flow
from shellgen.dome.surfaces import plan as dome_plan
from shellgen.draw import lengths, masks, notes, patches, strips, wrap
from shellgen.draw.flip import both
from shellgen.draw.key import key
from shellgen.draw.overview import overview
from shellgen.draw.shelf import CELL, GAP, on_sheets
from shellgen.model import FoamSheet
from shellgen.pack import papers, readback
from shellgen.spikes import casting, place, solids
from shellgen.spikes.groups import Group
from shellgen.spikes.making import Params
from shellgen.trim import edging, rings

INCHES = rule.Rule(inches=True)

POND = """\
dome: {length: 300, width: 260, height: 90}
mesh: {edge: 30}
plates: {layout: turtle, vertebrals: 3, pleurals: 2, marginals: 6}
seams: plates
shape: {rounds: 1}
spikes: [{plates: vertebral, base_diameter: 20, height: 30}]
nest: {effort: quick}
"""


def ring_sheets(name: str) -> tuple[Drawing, ...]:
    return strips.ring_strips(shell(name).trim.rings, demo(name).rings)


def everything(name: str) -> list[Drawing]:
    of, found, darts = shell(name), lines(name), shell(name, "darts")
    rings = {s: p.length for p in of.trim.rings.patterns for s in p.spikes}
    return [
        *wrap.wrap_strips(found),
        wrap.dial(of.name),
        wrap.wrap_words(found),
        wrap.measuring_map(of.ground, found, title=name),
        strips.ring_words(of.trim.rings, demo(name).rings),
        *ring_sheets(name),
        *strips.core_sectors(of.top.casting.cores, of.top.spikes),
        *lengths.cut_sheets("ring-cuts", "Ring strips", of.trim.ring_stock, rings),
        lengths.edging_plan(name, of.trim.edging),
        key(name),
        overview(of.ground, of.foam, of.top.seats, title=name),
        overview(darts.ground, darts.foam, darts.top.seats, title=name),
        masks.mask_words(()),
        strips.ring_words(of.trim.rings, demo(name).rings, rule=INCHES),
        *strips.ring_strips(of.trim.rings, demo(name).rings, rule=INCHES),
        *strips.core_sectors(of.top.casting.cores, of.top.spikes, rule=INCHES),
        lengths.edging_plan(name, of.trim.edging, rule=INCHES),
        *patches.patch_sheets(of.worn.wear, rule=INCHES),
    ]


def test_a_maker_who_prints_on_letter_reads_inches_beside_millimetres() -> None:
    """1 in = 25.4 mm exactly (NIST Handbook 44, appendix C)."""
    of = shell("marsh-warden")
    assert [rule.of(paper).inches for paper in ("A4", "A3", "Letter", "Tabloid")] == [False, False, True, True]
    for how in (rule.METRIC, INCHES):
        drawn = (
            *patches.patch_sheets(of.worn.wear, rule=how),
            *strips.ring_strips(of.trim.rings, demo("marsh-warden").rings, rule=how),
            lengths.edging_plan("x", of.trim.edging, rule=how),
        )
        for sheet in drawn:
            said = " ".join(text.text for text in words(sheet))
            told = [(float(mm), inches) for mm, inches in re.findall(r"([\d.]+) mm \(?(\d[\d /]*) in", said)]
            assert bool(told) == how.inches, sheet.name
            for mm, inches in told:
                assert abs(sum(map(Fraction, inches.split())) * 25.4 - mm) <= 25.4 / 32 + 0.5, (sheet.name, mm, inches)


@pytest.mark.parametrize("name", DEMOS)
def test_lettering_stays_on_its_sheet_and_off_other_lettering(name: str) -> None:
    for sheet in everything(name):
        whole = shapely.box(0, 0, sheet.width, sheet.height)
        drawn = [ink(text) for text in words(sheet)]
        for text, strokes in zip(words(sheet), drawn, strict=True):
            assert whole.covers(strokes), f"{text.text!r} leaves {sheet.name}"
        first, second = shapely.STRtree(drawn).query(drawn, predicate="dwithin", distance=0.2)
        clash = [(words(sheet)[a].text, words(sheet)[b].text) for a, b in zip(first, second, strict=True) if a < b]
        assert not clash, f"{clash} on {sheet.name}"


@pytest.mark.parametrize("name", DEMOS)
def test_wrap_strips_name_every_corner_inside_themselves(name: str) -> None:
    found = wrap.wrap_strips(lines(name))
    sheets = {sheet.name: sheet for sheet in found}
    assert len(sheets) == len(found), "no two of one name"
    assert len(sheets) < 0.7 * len(lines(name).wraps)
    for strip in lines(name).wraps:
        twin = strip.name.translate(wrap.OTHER_SIDE)
        names = (f"strip {said}" for said in (strip.name, both(strip.name), both(twin)))
        sheet = next(sheets[said] for said in names if said in sheets)
        inside = shapely.Polygon(paths(sheet, "cut")[0].points)
        said = {t.text for t in words(sheet)}
        for stop in strip.stops:
            alone = sheet.name == f"strip {strip.name}"
            assert (stop.corner if alone else stop.corner.rstrip("LR")) in said, sheet.name
        for text in words(sheet):
            assert inside.covers(ink(text)), f"{text.text!r} leaves {sheet.name}"
            assert not any(ink(text).intersects(shapely.LineString(p.points)) for p in paths(sheet, "score"))


@pytest.mark.parametrize("name", DEMOS)
@pytest.mark.parametrize("lies", ["upright", "flank"])
def test_ring_strips_are_true_size_and_all_there(name: str, lies: str) -> None:
    of, params = shell(name), replace(demo(name).rings, lies=lies)
    made = rings.build(of.ground.surface, of.top.spikes, params)
    sheets = strips.ring_strips(made, params)
    flat = {strip.spike: strip for strip in made.strips}
    named = []
    for sheet in sheets:
        said = " ".join(t.text for t in words(sheet) if t.layer == "note")
        these = [w.strip(",") for w in said.split(" for ")[1].split()]
        named += these
        assert f"cut {len(these)}," in said
        lengths_ = {s: r.neutral_length for r in made.rings if (s := r.spike.removeprefix("spike-")) in these}
        strip = flat[f"spike-{max(lengths_, key=lambda s: lengths_[s])}"]
        outline = paths(sheet, "cut")[0].points
        assert np.abs((outline - outline[0]) - (strip.outline - strip.outline[0])).max() < 1e-9
        assert np.ptp(list(lengths_.values())) <= rings.SAME
        assert f"{max(lengths_.values()):.1f} mm from joint to joint" in said
        if lies == "upright":
            box = np.ptp(outline, axis=0)
            assert box[0] == pytest.approx(max(lengths_.values()) + rings.scarf_run(params), abs=1e-6)
            assert box[1] == pytest.approx(params.width)
            inner = next(p for p in paths(sheet, "guide") if p.data.get("line") == "chamfer").points[:, 1]
            assert outline[:, 1].max() - inner == pytest.approx(params.chamfer)
    assert sorted(named) == sorted(r.spike.removeprefix("spike-") for r in made.rings)
    if lies == "upright":  # straight strips differ in nothing but their length and the places of the quarters
        longest = sorted(p.length for p in made.patterns)
        assert all(b - a > 1e-9 for a, b in pairwise(longest))
        assert len(sheets) < len(made.rings)


def test_core_sectors_are_those_computed() -> None:
    of = shell("marsh-warden")
    cones = (Group(plates=("vertebral",), base_diameter=44.0, height=60.0, tip_radius=6.0),)
    spikes, _ = place.build(of.ground.surface, of.ground.mesh, of.ground.layout, cones)
    cores = casting.cores_of(solids.masters(of.ground.surface, spikes, glue_line=0.1), Params(core=3.0))
    sheets = strips.core_sectors(cores, spikes)
    assert len(sheets) == len(cores) > 0
    for sheet, core in zip(sheets, cores.values(), strict=True):
        outline = paths(sheet, "cut")[0].points
        assert np.abs((outline - outline[0]) - (core.outline - core.outline[0])).max() < 1e-9


@pytest.mark.parametrize("name", DEMOS)
def test_cutting_lists_hold_every_ring_once(name: str) -> None:
    of = shell(name)
    sizes = {s: p.length for p in of.trim.rings.patterns for s in p.spikes}
    true = {r.spike: r.neutral_length for r in of.trim.rings.rings}
    assert all(0.0 <= sizes[s] - true[s] <= rings.SAME for s in true)
    table = lengths.cut_table("ring-cuts", of.trim.ring_stock, sizes)
    assert sorted(row[1] for row in table.rows) == sorted(sizes)
    assert sum(float(row[2]) for row in table.rows) == pytest.approx(sum(sizes.values()), abs=0.05 * len(sizes))
    sheets = lengths.cut_sheets("ring-cuts", "Ring strips", of.trim.ring_stock, sizes)
    bars = [p.data["piece"] for sheet in sheets for p in paths(sheet, "cut")]
    assert sorted(bars) == sorted(sizes)
    scale = (lengths.SHEET[0] - 2 * lengths.BORDER) / of.trim.ring_stock.stock
    for sheet in sheets:
        for bar in paths(sheet, "cut"):
            assert np.ptp(bar.points[:, 0]) == pytest.approx(scale * sizes[bar.data["piece"]])


def test_the_edgings_plan_shows_joints_reliefs_and_mitres() -> None:
    """A rim that is squarish and small, with stiff stock, needs all of them."""
    surface = dome_plan.build(dome_plan.Params(length=300, width=260, height=100, squareness=0.6))
    params = edging.Params(stock=400.0, strain_limit=0.05, corner=np.radians(12))
    made = edging.build(surface, params, FoamSheet(10.0))
    sheet = lengths.edging_plan("small", made)
    joints = [p for p in paths(sheet, "mark") if "joint" in p.data]
    assert len(joints) == len(made.joints)
    assert len([p for p in paths(sheet, "score") if "relief" in p.data]) == sum(r.count for r in made.reliefs)
    said = [t.text for t in words(sheet)]
    assert sum(text.startswith("mitre") for text in said) == len(made.corners) > 0
    assert {piece.name for piece in made.pieces} <= set(said)
    rim = shapely.LinearRing(paths(sheet, "cut")[0].points)
    scale = float(sheet.items[-len([t for t in words(sheet) if t.layer == "note"])].text.split("1:")[1])
    level = np.linalg.norm(np.diff(np.vstack([made.curve, made.curve[:1]])[:, :2], axis=0), axis=1).sum()
    assert rim.length * scale == pytest.approx(level, rel=1e-9)
    table = lengths.edging_table(made)
    assert sum(float(row[1]) for row in table.rows) == pytest.approx(made.length, abs=0.1 * len(made.pieces))
    assert sum(int(row[5]) for row in table.rows) == sum(r.count for r in made.reliefs)


@pytest.mark.parametrize("name", DEMOS)
def test_small_parts_lie_whole_on_their_sheets_and_apart(name: str) -> None:
    parts = [*wrap.wrap_strips(lines(name)), *ring_sheets(name), wrap.dial(name)]
    plan = on_sheets(parts)
    assert plan.split == 0
    for page in plan.pages:
        window = shapely.box(*plan.frame.tile(*page))
        here = plan.on(page)
        assert here
        for placed in here:
            for item in placed.drawing.items:
                points = lettering.box(item) if isinstance(item, Text) else item.points
                assert window.buffer(1e-6).covers(shapely.MultiPoint(placed.move(points))), placed.drawing.name
        solid = [shapely.Polygon(p.move(paths(p.drawing, "cut")[0].points)) for p in here]
        first, second = shapely.STRtree(solid).query(solid, predicate="dwithin", distance=GAP - 1e-6)
        assert all(a == b for a, b in zip(first, second, strict=True))
    assert len(plan.pages) < len(parts) / 3


def test_shelves_take_a_known_number_of_sheets() -> None:
    """Equal boxes in rows and columns, counted by hand from the window's size; the raster may cost two cells each."""
    from export_samples import piece

    one = piece("part", 80.0, 30.0)
    box = np.ptp(np.reshape(on_sheets([one]).placed[0].outline.bounds, (2, 2)), axis=0)
    window = np.array(on_sheets([one]).frame.window[2:])
    each, whole = box + GAP + 2 * CELL, window + GAP
    per = int(np.prod(whole // each))
    assert per == int(np.prod(whole // (box + GAP))) > 6
    many = [replace(one, name=f"part{k}") for k in range(2 * per)]
    assert len(on_sheets(many).pages) == 2
    assert len(on_sheets(many[: per + 1]).pages) == 2 and len(on_sheets(many[:per]).pages) == 1


def test_parts_larger_than_a_sheet_are_laid_over_several() -> None:
    from export_samples import piece

    plan = on_sheets([piece("large", 400.0, 300.0), piece("small", 50.0, 40.0)])
    assert plan.split == 1


def test_notes_move_a_drawing_and_change_nothing_on_it() -> None:
    sheet = lengths.edging_plan("x", shell("marsh-warden").trim.edging)
    noted = notes.with_notes(sheet, [notes.BURN])
    up = noted.height - sheet.height
    assert up > 0
    for before, after in zip(sheet.items, noted.items, strict=False):
        if not isinstance(before, Text):
            assert np.abs(after.points - before.points - [0.0, up]).max() < 1e-12


def test_all_papers_are_read_back_within_a_hundredth_and_repeat(tmp_path: Path) -> None:
    path = tmp_path / "pond.yaml"
    path.write_text(POND)
    small = preset.read(path)
    of = pipeline.shell_of(small, Flow())
    made = papers.build(of, small, templates_of(of))
    for piece in of.foam.cut.pieces:
        name = piece.name
        assert {f"templates/{name}.svg", f"dxf/{name}.dxf", f"guides/{name}-score.svg"} <= set(made.files)
    assert {f"{what}-A4.pdf" for what in ("templates", "wrap", "rings", "masks", "shading")} <= set(made.files)
    assert set(made.off) == {path for path in made.files if not path.endswith(".csv")}
    assert max(made.off.values()) <= readback.LIMIT
    again = papers.build(of, small, templates_of(of))
    assert again.files == made.files


def test_words_next_to_a_strip_keep_clear_of_it():
    box = np.array([(4.0, 4.0), (106.0, 4.0), (106.0, 13.5), (4.0, 13.5)])
    strip = Drawing("ring-94", 110.0, 17.5, (Line(box, "cut", closed=True),))
    text = "ring-94: cut 8, 94.4 mm (3 11/16 in) from joint to joint, for " + ", ".join(f"hex-L-{k}" for k in range(9))
    made = strips.captioned(strip, text, 180.0)
    assert " ".join(item.text for item in words(made)) == text and made.width == 180.0
    corners = np.vstack([lettering.box(item) for item in words(made)])
    assert corners[:, 0].min() >= 110.0 and corners[:, 0].max() <= 180.0
    assert corners[:, 1].min() >= 0.0 and corners[:, 1].max() <= made.height
    assert np.ptp(paths(made, "cut")[0].points, axis=0) == pytest.approx([102.0, 9.5])
