"""The score-line guide of one piece: which lines to burn or carve, in which order and in which direction."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shellgen.canvas import Drawing, Path, Text
from shellgen.draw.lines import MARGIN, score_paths, seat_paths
from shellgen.draw.placing import Room
from shellgen.geom.curves import arc_length, at_arc_length
from shellgen.model import Shell

ARROW = 7.0
NUMBER_HEIGHTS = (7.0, 5.0, 3.5, 2.5)
TITLE_HEIGHTS = (10.0, 7.0, 5.0, 3.5)


def guide(shell: Shell, index: int) -> Drawing:
    """Piece `index` at true size with numbered strokes. They start at the crown and run outwards, so that the
    hand rests on foam that is still cool."""
    piece, flat = shell.cut.pieces[index], shell.pattern.flats[index].flat
    low = flat.min(axis=0) - MARGIN
    width, height = flat.max(axis=0) + MARGIN - low
    outline = np.concatenate([flat[side.vertices[:-1]] for side in piece.sides]) - low
    strokes = in_order(shell, score_paths(shell, index, low))
    seats = seat_paths(shell, index, low)
    arrows = [_arrow(stroke.points) for stroke in strokes]
    room = Room(outline, [p.points for p in (*strokes, *seats, *arrows)])
    words: list[Text] = []
    for number, stroke in enumerate(strokes, start=1):
        words += room.place([str(number)], NUMBER_HEIGHTS, _beside(stroke.points))
    centre = flat.mean(axis=0) - low
    note = f"{len(strokes)} lines" if len(strokes) != 1 else "1 line"
    words += room.place(
        [piece.name, "score lines, this side up", note], TITLE_HEIGHTS, room.spots(centre)
    ) or room.place([piece.name], TITLE_HEIGHTS, room.spots(centre))
    edge = Path(outline, "guide", closed=True)
    return Drawing(
        f"{piece.name}-score",
        float(width),
        float(height),
        (edge, *seats, *strokes, *arrows, *words),
        f"{piece.name} score",
    )


def in_order(shell: Shell, strokes: list[Path]) -> list[Path]:
    """Strokes from the crown outwards, each running away from the crown."""
    keyed = []
    for stroke in strokes:
        line = shell.layout.lines[int(stroke.data["line"])]
        reach = np.linalg.norm(line.uv[[0, -1]], axis=1)
        points = stroke.points if reach[0] <= reach[1] else stroke.points[::-1]
        keyed.append((float(reach.min()), float(reach.max()), Path(points, "score", data=stroke.data)))
    return [stroke for *_, stroke in sorted(keyed, key=lambda item: item[:2])]


def _arrow(points: NDArray) -> Path:
    """An open arrow head at two thirds of a stroke."""
    s = arc_length(points)[-1]
    tip, back = at_arc_length(points, np.array([0.66 * s, max(0.66 * s - 1.0, 0.0)]))
    ahead = (tip - back) / np.linalg.norm(tip - back)
    aside = np.array([-ahead[1], ahead[0]])
    size = min(ARROW, 0.2 * s)
    return Path(
        np.array([tip - size * ahead + 0.4 * size * aside, tip, tip - size * ahead - 0.4 * size * aside]), "label"
    )


def _beside(points: NDArray) -> NDArray:
    """Places for a stroke's number: near its beginning, on either hand."""
    s = arc_length(points)[-1]
    spots = []
    for share in (0.25, 0.35, 0.45, 0.15, 0.8):
        at, ahead = at_arc_length(points, np.array([share * s, share * s + min(1.0, 0.1 * s)]))
        along = (ahead - at) / np.linalg.norm(ahead - at)
        aside = np.array([-along[1], along[0]])
        spots += [at + hand * gap * aside for gap in (7.0, 9.0, 5.0) for hand in (1, -1)]
    return np.array(spots)
