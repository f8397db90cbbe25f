"""Paper strips and a map, with tape and dial, to mark the score lines on the built dome."""

from __future__ import annotations

import numpy as np
import shapely

from shellgen.canvas import Drawing, Path, Table, Text
from shellgen.canvas.lettering import fit
from shellgen.canvas.rule import METRIC, Rule
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.dome.tapes import to_crown
from shellgen.draw import notes
from shellgen.draw.flip import both
from shellgen.draw.placing import Room
from shellgen.draw.strips import slip
from shellgen.finish.scores import ScoreCorner, Scores, Wrap, from_crown
from shellgen.geom.curves import at_arc_length, length
from shellgen.model import Layout, Surface
from shellgen.pipeline.dome import Ground

HALF = 9.0
"""mm of paper on each side of a line (chosen: room for a corner's number, but narrow enough to lie flat)."""
BRANCH = 6.0
SAME = 0.05
"""mm by which two mirror images may differ."""
OTHER_SIDE = str.maketrans("LR", "RL")
MARGIN = 3.0
HEIGHTS = (3.5, 2.5, 1.8)
SHEET = (210.0, 297.0)  # ISO 216 A4
DIAL = 60.0
"""mm, radius of the dial."""


def wrap_strips(scores: Scores) -> tuple[Drawing, ...]:
    """One full-size Drawing per strip, seen from outside; one for both of two that are mirror images."""
    known = {wrap.name: wrap for wrap in scores.wraps}
    twins = {wrap.name: known.get(wrap.name.translate(OTHER_SIDE)) for wrap in scores.wraps}
    pairs = {name for name, twin in twins.items() if twin and twin.name != name and _mirrored(known[name], twin)}
    done: set[str] = set()
    sheets = []
    for wrap in scores.wraps:
        if wrap.name in pairs:
            done.add(wrap.name.translate(OTHER_SIDE))
        if wrap.name not in done:
            sheets.append(_strip(wrap, flipped=wrap.name in pairs))
    return tuple(sheets)


def _mirrored(one: Wrap, other: Wrap) -> bool:
    return len(one.centre) == len(other.centre) and bool(np.abs(one.centre - other.centre * (1, -1)).max() < SAME)


def wrap_words(scores: Scores, *, rule: Rule = METRIC) -> Drawing:
    """Instructions for all strips, on a separate slip."""
    lines = [
        notes.PRINT,
        "Strips for the built dome: the dashed line of a strip is the score line, seen from outside.",
        "L/R: use the strip as it lies for the first side, flipped over for the second; its corners are of that side.",
        "Find the first corners by tape and dial (measuring table), starting at the crown, and prick them in.",
        "Tape a strip down from corner to corner without a crease and transfer the line: prick through every 10 mm, or "
        "cut the strip along its line and draw along one half.",
        "Short blue lines at a corner show the direction of the other lines; they must meet the next strips.",
        f"Then {scores.way} each line {scores.width:g} mm wide and {scores.depth:g} mm deep, outwards from the crown.",
        notes.BURN if scores.way == "burn" else notes.CARVE,
    ]
    return slip("about the strips", [lines[0], *map(rule.both, lines[1:])])


@remembered
def _strip(wrap: Wrap, *, flipped: bool) -> Drawing:
    """flipped : it serves for its mirror image too"""
    name = both(wrap.name) if flipped else wrap.name
    line = shapely.LineString(wrap.centre)
    paper = line.buffer(HALF, cap_style="flat", join_style="mitre", mitre_limit=1.6)
    outline = np.array(paper.exterior.coords)[:-1]
    low = outline.min(axis=0) - MARGIN
    size = outline.max(axis=0) + MARGIN - low
    drawn = [Path(wrap.centre - low, "score", data={"strip": wrap.name})]
    for stop in wrap.stops:
        at = stop.at - low
        drawn += [
            Path(np.array([at, at + BRANCH * np.array([np.cos(a), np.sin(a)])]), "mark", data={"corner": stop.corner})
            for a in stop.branches
        ]
    room = Room(outline - low, [path.points for path in drawn])
    words: list[Text | Path] = []
    for stop in wrap.stops:
        corner = stop.corner.rstrip("LR") if flipped else stop.corner
        found = room.place([corner], HEIGHTS, _round(stop.at - low))
        words += found or room.lead([corner], HEIGHTS[1:], stop.at - low)
    words += room.place([name], HEIGHTS, *_along(wrap.centre - low))
    items = (Path(outline - low, "cut", closed=True), *drawn, *words)
    return Drawing(f"strip {name}", float(size[0]), float(size[1]), items, f"wrap strip {name}")


def _round(at: Floats) -> Floats:
    """Places around a corner, nearest first."""
    turn = 2 * np.pi * np.arange(16) / 16
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    return np.concatenate([at + r * ring for r in (4.0, 5.0, 6.0, 7.5, 9.0, 11.0)])


def _along(line: Floats) -> tuple[Floats, Floats]:
    """Places next to a line and the line's direction there."""
    s = length(line) * np.array([0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8])
    step = at_arc_length(line, s + 1.0) - at_arc_length(line, s - 1.0)
    angle = np.arctan2(step[:, 1], step[:, 0])
    aside = np.stack([-np.sin(angle), np.cos(angle)], axis=1)
    spots = np.concatenate([at_arc_length(line, s) + d * aside for d in (4.6, -4.6)])
    return spots, np.tile(angle, 2)


def measuring_table(scores: Scores) -> Table:
    """Each corner of the net and each spike by tape and bearing; mirrored corners share a row."""
    rows: list[tuple[str | float | int, ...]] = [
        (
            c.name.rstrip("L") + (" (both halves)" if c.name.endswith("L") else " (midline)"),
            round(c.tape, 1),
            round(float(np.degrees(abs(c.bearing))), 1),
            " ".join(c.plates),
            "",
        )
        for c in scores.corners
        if not c.name.endswith("R")
    ]
    for seat in scores.seats:
        bearing = float(np.degrees(seat.bearing))
        hand = "" if abs(bearing) < 0.05 or abs(bearing) > 179.95 else " left" if bearing > 0 else " right"
        turn = round(float(np.degrees(seat.turn)), 1)
        rows.append((seat.spike + hand, round(seat.tape, 1), round(abs(bearing), 1), "", turn + 0.0))
    columns = (
        "corner or spike", "tape from the crown (mm)", "bearing from the head (deg)", "plates that meet there",
        "turning line, to the left of the tape's direction (deg)",
    )  # fmt: skip
    return Table("measuring", columns, tuple(rows))


def measuring_map(ground: Ground, scores: Scores, *, title: str, rule: Rule = METRIC) -> Drawing:
    """The net by tape and bearing: every corner at its bearing and distance, to scale."""
    return _map(ground.surface, ground.layout, scores.corners, title, rule.mm(to_crown(ground.surface)))


@remembered
def _map(surface: Surface, layout: Layout, corners: tuple[ScoreCorner, ...], title: str, crown: str) -> Drawing:
    """crown : how far it is from the head"""
    tape, bearing, _ = from_crown(surface, layout.nodes)
    at = tape[:, None] * np.stack([-np.sin(bearing), np.cos(bearing)], axis=1)  # head up, the wearer's left on the left
    room_for = np.array(SHEET) - (30.0, 70.0)
    scale = 2 / np.ceil(2 * (2 * np.abs(at).max(axis=0) / room_for).max())
    middle = np.array([SHEET[0] / 2, SHEET[1] / 2 - 12.0])
    lines = [
        Path(middle + scale * at[[line.start, line.end]], "score" if line.kind == "plate" else "guide")
        for line in layout.lines
        if line.kind in ("plate", "rim")
    ]
    cross = [np.array([middle - 3 * d, middle + 3 * d]) for d in np.eye(2)]
    box = np.array([(8.0, 8.0), (SHEET[0] - 8, 8.0), (SHEET[0] - 8, SHEET[1] - 26), (8.0, SHEET[1] - 26)])
    room = Room(box, [*(path.points for path in lines), *cross])
    items: list[Path | Text] = [*lines, *(Path(arm, "note") for arm in cross)]
    top = max(path.points[:, 1].max() for path in lines)
    items += room.place(["head"], (5.0,), np.array([(middle[0], y) for y in np.arange(top + 8, SHEET[1] - 30, 2.0)]))
    items += room.place(["crown"], (3.5, 2.5), _round(middle))
    for c in corners:
        items += room.place([c.name], HEIGHTS[1:], _round(middle + scale * at[c.node]))
    title_lines = (
        f"{title}: corners of the plates by tape and bearing, scale 1:{1 / scale:g}",
        f"Crown: on the midline, {crown} by tape from the rim at the head. Pin the dial there, 0 to the head.",
        "Pull the tape from its middle along the bearing. Figures: measuring.csv.",
    )
    for k, words in enumerate(title_lines):
        height = fit(words, SHEET[0] - 24, most=5.0 if k == 0 else 2.5) or HEIGHTS[-1]
        items.append(Text(words, (12.0, SHEET[1] - 14 - 7 * k), height, layer="note"))
    return Drawing("measuring-map", *SHEET, tuple(items), title_lines[0])


def dial(shell_name: str) -> Drawing:
    """A disc to pin to the crown: degrees to both sides of the head's direction."""
    size = 2 * (DIAL + MARGIN)
    middle = np.full(2, size / 2)

    def ray(degrees: float, inner: float, outer: float) -> Floats:
        direction = np.array([-np.sin(np.radians(degrees)), np.cos(np.radians(degrees))])
        return middle + np.outer([inner, outer], direction)

    ring = np.array([ray(d, DIAL, DIAL)[0] for d in range(0, 360, 2)])
    items: list[Path | Text] = [Path(ring, "cut", closed=True)]
    for d in range(0, 360, 2):
        items.append(Path(ray(d, DIAL - (7.0 if d % 10 == 0 else 3.5), DIAL), "mark"))
        if d % 10 == 0:
            shown = min(d, 360 - d)
            x, y = ray(d, DIAL - 12.0, DIAL)[0]
            items.append(Text(str(shown), (float(x), float(y) - 1.25), 2.5, anchor="middle"))
    items += [Path(ray(d, 3.0, 20.0), "guide") for d in (0, 90, 180, 270)]
    for word, d in (("head", 0), ("left", 90), ("tail", 180), ("right", 270)):
        x, y = ray(d, 30.0, DIAL)[0]
        items.append(Text(word, (float(x), float(y) - 1.75), 3.5, anchor="middle"))
    return Drawing("dial", size, size, tuple(items), f"{shell_name} dial")
