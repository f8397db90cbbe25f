"""Paper that is drawn around, flipped and drawn around again gives the whole piece, with every mark and name."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from drawn import DEMOS, shell, templates_of
from inked import ink, paths, words

from shellgen.canvas import Path, tiling
from shellgen.draw import printed
from shellgen.draw.flip import Flip, both, flip_of, printed_as
from shellgen.draw.key import signs_on
from shellgen.draw.lines import TICK, outline, sheet_of, ticks
from shellgen.draw.template import template

SHELLS = [(name, plan) for name in DEMOS for plan in ("plates", "darts")]


def parts(of):
    return of.ground, of.foam, of.top.seats, of.top.spikes, of.worn.wear.anchors


@pytest.fixture(scope="module", params=SHELLS, ids="-".join)
def papers(request: pytest.FixtureRequest):
    """The shell; by the index of a piece how its paper is flipped and what is on it; and the sheets printed."""
    of, found = shell(*request.param), {}

    def seen(*given, joints=(), **more):
        sheet, (index, flip) = template(*given, joints=joints, **more), given[-2:]
        if flip and not joints:
            found[index] = flip, sheet
        return sheet

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(printed, "template", seen)
        sheets = printed.on_paper(of.name, *parts(of), templates_of(of)).sheets
    return of, found, sheets


def low(of, index):
    return sheet_of(of.foam.pattern, index)[0]


def test_flipped_paper_gives_both_sides(papers):
    of, found, _ = papers
    whole = templates_of(of)
    assert found and {of.foam.cut.pieces[k].side for k in found} <= {"L", "C"}
    for index, (flip, sheet) in found.items():
        mirror = of.foam.cut.pieces[index].mirror
        for layer in ("cut", "score", "seat"):
            here = [p.line + low(of, index) for p in paths(sheet, layer)]
            if flip.axis is not None:
                here += [line * (-1, 1) for line in here]
            wanted = [p.line + low(of, index) for p in paths(whole[index], layer)]
            assert bool(here) == bool(wanted)
            if here:
                apart = shapely.hausdorff_distance(shapely.MultiLineString(here), shapely.MultiLineString(wanted))
                assert apart < 0.05, (sheet.name, layer)
        right = outline(of.foam, mirror) * (-1, 1)
        assert shapely.hausdorff_distance(shapely.Polygon(right), shapely.Polygon(outline(of.foam, index))) < 0.05


def test_every_mark_is_on_the_paper_once_for_each_side(papers):
    of, found, _ = papers
    for index, (_, sheet) in found.items():
        mirror = of.foam.cut.pieces[index].mirror
        written = [p for p in paths(sheet, "mark") if "mark" in p.data]
        drawn = [(number, p.points[0] + low(of, index), p.points[1] + low(of, index))
                 for p in written for number in [p.data["mark"].split("/")[0]] if number]  # fmt: skip
        flipped = [(number, (p.points[0] + low(of, index)) * (-1, 1), (p.points[1] + low(of, index)) * (-1, 1))
                   for p in written for number in [p.data["mark"].split("/")[-1]] if number]  # fmt: skip
        both_sides = [t for k in {index, mirror} for t in ticks(of.foam, k, np.zeros(2))]
        wanted = [(str(t.number), t.at, t.at + TICK * t.inward) for t in both_sides]
        for number, at, tip in wanted:
            gaps = [np.hypot(*(at - a)) + np.hypot(*(tip - b)) for n, a, b in (*drawn, *flipped) if n == number]
            assert gaps and min(gaps) < 0.1, f"mark {number} of {sheet.name}"


def test_no_lettering_leaves_the_half_or_crosses_a_line(papers):
    of, found, _ = papers
    for index, (flip, sheet) in found.items():
        area = shapely.Polygon(flip.moved(low(of, index)).half(outline(of.foam, index) - low(of, index)))
        lines = shapely.MultiLineString([p.line for p in sheet.items if isinstance(p, Path) and p.layer != "label"])
        for text in words(sheet):
            assert area.covers(ink(text)) and not lines.intersects(ink(text)), f"{text.text!r} on {sheet.name}"
        assert sheet.width >= area.bounds[2] and sheet.height >= area.bounds[3]


def test_no_sign_covers_a_number(papers):
    """Neither circle nor cross, arrow or seat, on whole templates and on halves; a leader ends at its own number."""
    of, found, _ = papers
    for sheet in (*templates_of(of), *(sheet for _, sheet in found.values())):
        numbers = [text for text in words(sheet) if re.fullmatch(r"[\d/]+", text.text)]
        assert numbers, "every piece here has seams"
        signs = [p for p in sheet.items if isinstance(p, Path) and p.layer != "cut" and "leader" not in p.data]
        lines = shapely.STRtree([shapely.LineString(p.line) for p in signs])
        areas = shapely.STRtree([shapely.make_valid(shapely.Polygon(p.points)) for p in signs if p.closed])
        for text in numbers:
            assert not len(lines.query(ink(text), predicate="intersects")), f"{text.text} on {sheet.name}"
            assert not len(areas.query(ink(text), predicate="intersects")), f"{text.text} on {sheet.name}"


def test_the_legend_explains_every_sign_on_the_templates_and_no_other(papers):
    of, found, _ = papers
    for sheet in (*templates_of(of), *(sheet for _, sheet in found.values())):
        names = {sign.name for sign in signs_on([sheet])}
        known = [p for p in sheet.items if isinstance(p, Path) and (p.layer != "label" or p.data)]
        assert all(signs_on([replace(sheet, items=(path,))]) for path in known), sheet.name
        assert ("end of a dart" in names) == any("tip" in p.data for p in known)
        assert ("anchor of a strap" in names) == any("anchor" in p.data for p in known)
        assert ("plate line" in names) == bool(paths(sheet, "score"))


def test_all_pieces_are_served_by_fewer_papers(papers):
    of, _, sheets = papers
    names = {sheet.name for sheet in sheets}
    pieces = of.foam.cut.pieces
    assert all((piece.name in names) != (printed_as(piece.name) in names - {piece.name}) for piece in pieces)
    assert len(sheets) == len(names) <= 0.8 * len(pieces) or len(pieces) == 1
    for sheet in sheets:  # a mark's number is one text, or two
        said = {text.text for text in words(sheet)}
        marks = [p.data["mark"] for p in paths(sheet, "mark") if "mark" in p.data]
        assert sheet.name in said and all(mark in said or set(mark.split("/")) <= said for mark in marks)
    plan = tiling.arrange(sheets)
    for placed in plan.placed:
        joints = shapely.MultiLineString(list(plan.joints(placed)))
        crossed = [text.text for text in words(placed.drawing) if joints.intersects(ink(text))]
        assert not crossed, f"lettering of {placed.drawing.name} where paper is joined"


def test_a_spike_on_one_side_only_is_printed_whole():
    of = shell("marsh-warden", "darts")
    seats = tuple(
        tuple(seat for seat in own if not re.search("-R-", seat[0]) or k) for k, own in enumerate(of.top.seats)
    )
    assert flip_of(of.ground, of.foam, of.top.seats, of.top.spikes, of.worn.wear.anchors, 0)
    assert flip_of(of.ground, of.foam, seats, of.top.spikes, of.worn.wear.anchors, 0) is None
    assert flip_of(of.ground, of.foam, of.top.seats, of.top.spikes, of.worn.wear.anchors[:1], 0) is None


def test_names_of_both_sides():
    assert both("L-mid-2") == "L/R-mid-2" and both("to R-rim-1") == "to R/L-rim-1" and both("C-mid-1") == "C-mid-1"
    assert both("pleural-L-1-2") == "pleural-L/R-1-2" and both("shoulder-L") == "shoulder-L/R"
    assert printed_as("R-mid-2") == printed_as("L-mid-2") == "L/R-mid-2"
    flip = Flip(None, (), {"spike-a": "spike-b", "spike-L-1": "spike-R-1", "spike-c": "spike-c"})
    assert [flip.spike(name) for name in flip.spikes] == ["a/b", "L/R-1", "c"]
