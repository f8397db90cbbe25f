"""The score-line guide of each piece: which lines to burn or carve, in which order and in which direction."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.spatial.distance import cdist

from shellgen.canvas import Drawing, Path, Text
from shellgen.canvas.rule import METRIC, Rule
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.draw import notes
from shellgen.draw.lines import outline, score_paths, seat_paths, sheet_of
from shellgen.draw.placing import Room
from shellgen.finish.scores import Scores
from shellgen.geom.curves import arc_length, at_arc_length
from shellgen.geom.trails import trails
from shellgen.model import ShellMesh
from shellgen.pattern.flatmap import Seats, carry
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam

ARROW = 7.0
NUMBER_HEIGHTS = (7.0, 5.0, 3.5, 2.5)
TITLE_HEIGHTS = (10.0, 7.0, 5.0, 3.5, 2.5)
STRAIGHT_ON = np.radians(30.0)
"""A stroke continues past a corner that turns by no more than this (chosen: a tool follows it without stopping)."""
HAND_WIDTH = 70.0
"""mm, about the width of a hand. The next stroke keeps this distance from the last one, if possible."""
ROW = 0.15
"""Strokes whose starts differ by less, as a share of the way from crown to rim, may change places."""


def guides(
    shell_name: str, ground: Ground, foam: Foam, seats: Seats, scores: Scores, *, rule: Rule = METRIC
) -> tuple[Drawing, ...]:
    """One full-size Drawing per piece, with numbered strokes and instructions."""
    rings = _rings(ground.mesh, foam, scores)
    return tuple(
        _guide(shell_name, ground, foam, seats, scores, index, rings[index], rule)
        for index in range(len(foam.cut.pieces))
    )


def _guide(
    shell_name: str,
    ground: Ground,
    foam: Foam,
    seats: Seats,
    scores: Scores,
    index: int,
    rings: list[tuple[str, Floats]],
    rule: Rule,
) -> Drawing:
    piece = foam.cut.pieces[index]
    low, across, up = sheet_of(foam.pattern, index)
    edge = outline(foam, index) - low
    strokes, arrows, number_spots = _ordered(*strokes_of(ground, foam, index, low))
    around = [Path(points - low, "guide", data={"ring": name}) for name, points in rings]
    seat_lines = seat_paths(seats, index, low)
    room = Room(edge, [p.points for p in (*strokes, *seat_lines, *around, *arrows)])
    words: list[Text] = []
    for number, spots in enumerate(number_spots, start=1):
        words += room.place([str(number)], NUMBER_HEIGHTS, spots)
    middle = room.spots(edge.mean(axis=0))
    count = f"{len(strokes)} strokes" if len(strokes) != 1 else "1 stroke"
    words += room.place([piece.name, f"score lines: {count}"], TITLE_HEIGHTS, middle) or room.place(
        [piece.name], TITLE_HEIGHTS, middle
    )
    items: tuple[Path | Text, ...] = (Path(edge, "guide", closed=True), *around, *seat_lines, *strokes, *arrows, *words)
    drawing = Drawing(f"{piece.name}-score", across, up, items, f"{shell_name} {piece.name} score")
    return notes.with_notes(drawing, tuple(map(rule.both, _instructions(scores, bool(strokes)))))


@remembered
def _ordered(
    strokes: Sequence[Floats], start: Sequence[float], stop: Sequence[float]
) -> tuple[list[Path], list[Path], list[Floats]]:
    """Strokes in order, their arrows, and places for their numbers."""
    ordered = in_order(strokes, start, stop)
    return ordered, [arrow(s.points) for s in ordered], [_number_spots(s.points) for s in ordered]


def _instructions(scores: Scores, any_strokes: bool) -> list[str]:
    if not any_strokes:
        return ["No score lines on this piece: its plate lines are seams. Green: seats of spikes. Blue: their rings."]
    verb, caution = {"burn": ("Burn", notes.BURN), "carve": ("Carve", notes.CARVE)}[scores.way]
    return [
        f"{verb} each line {scores.width:g} mm wide and {scores.depth:g} mm deep on the textured side, in the order of "
        "the numbers and along the arrows, away from the crown, so that your hand rests on fresh foam. Do not start "
        "next to the stroke you just made. Green dots: seats of spikes. Blue: outer edges of their rings.",
        caution,
    ]


def strokes_of(ground: Ground, foam: Foam, index: int, low: Floats) -> tuple[list[Floats], list[float], list[float]]:
    """Score lines of a piece, joined where they continue straight, each from its end nearest the crown; and the
    distance of both ends from the crown, as a share of the way to the rim."""
    paths = score_paths(ground, foam, index, low)
    if not paths:
        return [], [], []
    corner: dict[tuple[float, float], int] = {}
    ends = np.array(
        [
            [corner.setdefault((round(float(x), 4), round(float(y), 4)), len(corner)) for x, y in p.points[[0, -1]]]
            for p in paths
        ]
    )
    leaving = np.array([(p.points[1] - p.points[0], p.points[-2] - p.points[-1]) for p in paths])
    leaving /= np.linalg.norm(leaving, axis=2, keepdims=True)
    reach = np.array([np.linalg.norm(ground.layout.lines[int(p.data["line"])].uv[[0, -1]], axis=1) for p in paths])
    strokes, start, stop = [], [], []
    for trail in trails(ends, leaving, most_turn=STRAIGHT_ON):
        parts = [paths[e].points if d > 0 else paths[e].points[::-1] for e, d in trail]
        first, last = (reach[e, int(d < 0) if k == 0 else int(d > 0)] for k, (e, d) in ((0, trail[0]), (1, trail[-1])))
        line = np.vstack([part[int(k > 0) :] for k, part in enumerate(parts)])
        strokes.append(line if first <= last else line[::-1])
        start.append(float(min(first, last)))
        stop.append(float(max(first, last)))
    return strokes, start, stop


def in_order(strokes: Sequence[Floats], start: Sequence[float], stop: Sequence[float]) -> list[Path]:
    """Order from the crown outwards; within a row the next stroke keeps a hand's width from the last one, or else is
    the farthest from it."""
    left = sorted(range(len(strokes)), key=lambda k: (round(start[k], 6), round(stop[k], 6)))
    coarse = [at_arc_length(s, np.linspace(0, arc_length(s)[-1], 12)) for s in strokes]
    done: list[int] = []
    while left:
        row = [k for k in left if start[k] <= start[left[0]] + ROW]
        apart = [cdist(coarse[k], coarse[done[-1]]).min() if done else np.inf for k in row]
        clear = [k for k, d in zip(row, apart, strict=True) if d >= HAND_WIDTH]
        following = clear[0] if clear else row[int(np.argmax(np.round(apart, 6)))]
        left.remove(following)
        done.append(following)
    return [Path(strokes[k], "score", data={"stroke": str(number)}) for number, k in enumerate(done, 1)]


def _rings(mesh: ShellMesh, foam: Foam, scores: Scores) -> list[list[tuple[str, Floats]]]:
    """For each piece, the outer edges of the rings on it."""
    found: list[list[tuple[str, Floats]]] = [[] for _ in foam.cut.pieces]
    seats = [seat for seat in scores.seats if len(seat.ring)]
    carried = carry([seat.ring for seat in seats], mesh, foam.cut, foam.pattern, closed=True)
    for seat, parts in zip(seats, carried, strict=True):
        for piece, points in parts:
            found[piece].append((seat.spike, points))
    return found


def arrow(points: Floats, largest: float = ARROW) -> Path:
    """An open arrow head at two thirds of a stroke. largest : mm"""
    s = arc_length(points)[-1]
    tip, back = at_arc_length(points, np.array([0.66 * s, max(0.66 * s - 1.0, 0.0)]))
    ahead = (tip - back) / np.linalg.norm(tip - back)
    aside = np.array([-ahead[1], ahead[0]])
    size = min(largest, 0.2 * s)
    return Path(
        np.array([tip - size * ahead + 0.4 * size * aside, tip, tip - size * ahead - 0.4 * size * aside]), "label"
    )


def _number_spots(points: Floats) -> Floats:
    """Places for a stroke's number: near its start, on both sides."""
    s = arc_length(points)[-1]
    spots = []
    for share in (0.25, 0.35, 0.45, 0.15, 0.8):
        at, ahead = at_arc_length(points, np.array([share * s, share * s + min(1.0, 0.1 * s)]))
        along = (ahead - at) / np.linalg.norm(ahead - at)
        aside = np.array([-along[1], along[0]])
        spots += [at + hand * gap * aside for gap in (7.0, 9.0, 5.0) for hand in (1, -1)]
    return np.array(spots)
