"""Every word on every template of every demo: inside its piece, across no line, all that a maker needs to be told."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from drawn import DEMOS, lines, shell, templates_of
from inked import ink, paths, words

from shellgen.canvas import Path, lettering
from shellgen.draw.guide import HAND_WIDTH, ROW, guides, in_order, strokes_of
from shellgen.draw.lines import TICK, outline, sheet_of

SHELLS = [(name, plan) for name in DEMOS for plan in ("plates", "darts")]


@pytest.fixture(params=SHELLS, ids="-".join)
def sheets(request: pytest.FixtureRequest):
    of = shell(*request.param)
    return of, templates_of(of)


def inside(of, index) -> shapely.Polygon:
    return shapely.Polygon(outline(of.foam, index) - sheet_of(of.foam.pattern, index)[0])


def test_no_lettering_leaves_its_piece_or_crosses_a_line(sheets):
    of, drawings = sheets
    for index, sheet in enumerate(drawings):
        piece = inside(of, index)
        ways = shapely.STRtree(
            [shapely.LineString(p.line) for p in sheet.items if isinstance(p, Path) and p.layer != "label"]
        )
        for text in words(sheet):
            strokes = ink(text)
            assert piece.covers(strokes), f"{text.text!r} leaves {sheet.name}"
            assert not len(ways.query(strokes, predicate="intersects")), f"{text.text!r} crosses a line of {sheet.name}"


def test_no_lettering_lies_on_other_lettering(sheets):
    _, drawings = sheets
    for sheet in drawings:
        all_ink = [ink(text) for text in words(sheet)]
        first, second = shapely.STRtree(all_ink).query(all_ink, predicate="dwithin", distance=0.4)
        clash = [(words(sheet)[a].text, words(sheet)[b].text) for a, b in zip(first, second, strict=True) if a < b]
        assert not clash, f"{clash} on {sheet.name}"


def test_every_piece_has_its_name_and_every_mark_its_number(sheets):
    _, drawings = sheets
    for sheet in drawings:
        said = [text.text for text in words(sheet)]
        assert sheet.name in said
        marks = [p.data["mark"] for p in paths(sheet, "mark") if "mark" in p.data]
        for number in marks:
            assert said.count(number) >= marks.count(number), f"mark {number} of {sheet.name} has no number"


def test_numbers_stand_by_their_own_ticks_or_have_a_leader(sheets):
    _, drawings = sheets
    for sheet in drawings:
        ticks = [p for p in paths(sheet, "mark") if "mark" in p.data]
        tips = np.array([p.points[1] for p in ticks])
        leaders = [shapely.LineString(p.points) for p in paths(sheet, "label")]
        numbers = [t for t in words(sheet) if t.text.isdigit()]
        centres = np.array([np.mean(lettering.box(t), axis=0) for t in numbers])
        for tick, tip in zip(ticks, tips, strict=True):
            own = np.array([t.text == tick.data["mark"] for t in numbers])
            gap = np.linalg.norm(centres[own] - tip, axis=1).min()
            led = any(leader.distance(shapely.Point(tip)) < 1e-6 for leader in leaders)
            assert gap < 3 * TICK or led, f"number {tick.data['mark']} of {sheet.name} is {gap:.0f} mm from its tick"


def test_every_side_says_what_it_is_glued_to(sheets):
    of, drawings = sheets
    for index, sheet in enumerate(drawings):
        said = [text.text for text in words(sheet)]
        wanted: dict[str, int] = {}
        for side in of.foam.cut.pieces[index].sides:
            mates = [] if side.seam < 0 else [p for p, _ in of.foam.cut.seams[side.seam].sides if p != index]
            name = "rim" if side.seam < 0 else f"to {of.foam.cut.pieces[mates[0]].name}" if mates else "dart"
            wanted[name] = wanted.get(name, 0) + 1
        for name, count in wanted.items():
            bare = name.removeprefix("to ")  # on the smallest pieces
            found = sum(text in (name, bare) or text.startswith((f"{name},", f"{name} ", f"{bare} ")) for text in said)
            assert found >= count, f"{name} stands {found} of {count} times on {sheet.name}"


def test_every_whole_seat_names_its_spike_and_turning_line(sheets):
    of, drawings = sheets
    for index, sheet in enumerate(drawings):
        said = {text.text for text in words(sheet)}
        turning = {p.data["turning"] for p in paths(sheet, "label") if "turning" in p.data}
        for name, points in of.top.seats[index]:
            if len(points) > 90:
                assert name.removeprefix("spike-") in said, f"{name} is not named on {sheet.name}"
        middle = {spike.name for spike in of.top.spikes if np.hypot(*spike.uv) < 0.8}
        assert {name for name, points in of.top.seats[index] if name in middle and len(points) > 90} <= turning


def test_the_knife_stops_at_the_tip_of_each_dart(sheets):
    of, drawings = sheets
    for index, sheet in enumerate(drawings):
        low = sheet_of(of.foam.pattern, index)[0]
        tips = {p.data["tip"]: p.points.mean(axis=0) for p in paths(sheet, "mark") if "tip" in p.data}
        darts = [s for s in of.foam.cut.seams if s.dart and s.sides[0][0] == index]
        ends = 0
        for seam in darts:
            corner = [
                of.foam.pattern.flats[index].flat[of.foam.cut.pieces[index].sides[k].vertices[[0, -1]]] - low
                for _, k in seam.sides
            ]
            shared = [a for a in corner[0] for b in corner[1] if np.abs(a - b).max() < 1e-9]
            if shared:
                ends += 1
                assert np.abs(tips[seam.name] - shared[0]).max() < 1e-9
        assert len(tips) == ends


@pytest.mark.parametrize("name", DEMOS)
def test_right_pieces_are_mirrored_and_their_letters_are_not(name):
    of = shell(name)
    for index, piece in enumerate(of.foam.cut.pieces):
        if piece.side != "R":
            continue
        left, right = templates_of(of)[piece.mirror], templates_of(of)[index]
        assert (left.width, left.height) == pytest.approx((right.width, right.height), abs=1e-6)
        flat, mate = inside(of, index), inside(of, piece.mirror)
        flipped = shapely.transform(mate, lambda xy, w=left.width: np.column_stack([w - xy[:, 0], xy[:, 1]]))
        aside = shapely.transform(mate, lambda xy, h=left.height: np.column_stack([xy[:, 0], h - xy[:, 1]]))
        assert min(flat.symmetric_difference(m).area for m in (flipped, aside)) < 1e-6 * flat.area
        for text in words(right):
            across = lettering.strokes(text.text, text.height)
            laid = lettering.lay(text)
            turn = np.array([[np.cos(text.angle), -np.sin(text.angle)], [np.sin(text.angle), np.cos(text.angle)]])
            assert np.linalg.det(turn) > 0
            for a, b in zip(across, laid, strict=True):
                assert np.abs((a - a[0]) @ turn.T - (b - b[0])).max() < 1e-9
            assert -np.pi / 2 - 1e-9 <= text.angle <= np.pi / 2 + 1e-9  # read from below or from the right


# ---- score lines ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", DEMOS)
def test_strokes_cover_every_score_line_once_and_run_from_the_crown(name):
    of = shell(name, "darts")
    from shellgen.draw.lines import score_paths

    low = np.zeros(2)
    strokes, start, stop = strokes_of(of.ground, of.foam, 0, low)
    single = sum(shapely.LineString(p.points).length for p in score_paths(of.ground, of.foam, 0, low))
    assert sum(shapely.LineString(s).length for s in strokes) == pytest.approx(single, rel=1e-12)
    assert len(strokes) < len(score_paths(of.ground, of.foam, 0, low))
    assert all(a <= b for a, b in zip(start, stop, strict=True))
    done = in_order(strokes, start, stop)
    assert len(done) == len(strokes)
    begun = {s.tobytes(): a for s, a in zip(strokes, start, strict=True)}
    row = [begun[p.points.tobytes()] for p in done]
    assert all(later >= earlier - ROW for k, earlier in enumerate(row) for later in row[k:])
    ways = [shapely.LineString(p.points) for p in done]
    near = [a.distance(b) < 0.9 * HAND_WIDTH for a, b in pairwise(ways)]
    assert np.mean(near) < 0.2  # most are a hand's breadth from the one before


@pytest.mark.parametrize(("name", "plan"), SHELLS)
def test_guides_letter_within_the_sheet_and_say_how_to_burn(name, plan):
    of, found = shell(name, plan), lines(name)
    for sheet in guides(of.name, of.ground, of.foam, of.top.seats, found):
        whole = shapely.box(0, 0, sheet.width, sheet.height)
        assert all(whole.covers(ink(text)) for text in words(sheet))
        said = " ".join(text.text for text in words(sheet) if text.layer == "note")
        if paths(sheet, "score"):
            assert "Caution, hot tool" in said and f"{found.depth:g} mm deep" in said
            numbers = [int(t.text) for t in words(sheet) if t.text.isdigit()]
            assert sorted(numbers) == list(range(1, len(paths(sheet, "score")) + 1))
