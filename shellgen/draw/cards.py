"""Small pictures of single pieces for the guide: joins, score lines, where to heat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import KDTree

from shellgen.canvas import Drawing, Path, Text
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.draw.growth import growth
from shellgen.draw.guide import arrow, in_order, strokes_of
from shellgen.draw.lines import outline, score_paths
from shellgen.draw.placing import Room
from shellgen.draw.topview import disc, dot
from shellgen.geom.curves import arc_length, at_arc_length
from shellgen.pattern.joins import Join
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam

EDGE = 3.0
FINE = 0.05
HEIGHTS = (3.5, 2.5, 1.8)  # ISO 3098
GRID = 5.5
"""mm between the signs of the heat picture."""
TIP = 2.0
"""mm, largest arrow head on a small picture (chosen)."""
SIZES = (0.75, 2.3), (0.5, 1.5), (0.25, 0.7)
"""Share of the largest growth from which a sign reaches so many mm from its middle (chosen by eye)."""
LARGEST = 0.7
"""Size of a picture over the piece's own size (chosen: small pieces look small but have room for their numbers)."""
LEAST = 0.003
"""Stretch too small to be shown, because foam gives by itself (chosen: a tenth of the usual limit)."""
Items = list[Path | Text]
Numbered = tuple[int, float, float, float]
"""A mark: its number, its place on the flat piece, the angle inwards."""


@dataclass(frozen=True, slots=True, eq=False)
class Card:
    """A piece on a small sheet: `move` maps its flat points to the sheet. edge : (n, 2) its outline on the sheet"""

    name: str
    low: Floats
    scale: float
    size: tuple[float, float]
    edge: Floats

    def move(self, points: Floats) -> Floats:
        return _moved(points, self.low, self.scale)

    def drawing(self, kind: str, items: Sequence[Path | Text], words: str) -> Drawing:
        return Drawing(f"{self.name}-{kind}", *self.size, tuple(items), f"{self.name}: {words}")


def card(foam: Foam, index: int, *, across: float, up: float) -> Card:
    flat = foam.pattern.flats[index].flat
    low, size = flat.min(axis=0), np.ptp(flat, axis=0)
    scale = min(LARGEST, float(((np.array([across, up]) - 2 * EDGE) / size).min()))
    sheet = scale * float(size[0]) + 2 * EDGE, scale * float(size[1]) + 2 * EDGE
    return Card(foam.cut.pieces[index].name, low, scale, sheet, _moved(outline(foam, index), low, scale))


def _moved(points: Floats, low: Floats, scale: float) -> Floats:
    return EDGE + scale * (points - low)


def join_card(foam: Foam, index: int, joins: Sequence[Join], *, across: float, up: float) -> Drawing:
    """Outline with the number of the join at every side, the numbers of its marks, and a dot where gluing starts."""
    of, flat = card(foam, index, across=across, up=up), foam.pattern.flats[index].flat
    by_seam = {join.seam: join for join in joins}
    sides = tuple(
        (by_seam[side.seam].number, of.move(flat[side.vertices]), side.forward == by_seam[side.seam].forward)
        for side in foam.cut.pieces[index].sides
        if side.seam >= 0
    )
    marks = tuple((mark.number, *spot[1:]) for mark in foam.marks for spot in mark.at if spot[0] == index)
    return _joined(of, sides, marks, frozenset(join.marks[0] for join in joins))


@remembered
def _joined(
    of: Card, sides: tuple[tuple[int, Floats, bool], ...], marks: tuple[Numbered, ...], starts: frozenset[int]
) -> Drawing:
    """sides : the number of each one's join, its line on the sheet, whether gluing starts at the start of the line"""
    items: Items = [Path(_simple(of.edge, closed=True), "cut", closed=True)]
    room = Room(of.edge, [])
    items += _mark_numbers(of, marks, starts, room)
    shown = set[int]()
    for number, line, ahead in sides:
        if number not in shown:  # the two sides of a dart lie together
            items += _side_disc(number, line, room)
        shown.add(number)
        items.append(dot(line[0] if ahead else line[-1]))
    items += room.place([of.name], HEIGHTS, room.spots(of.edge.mean(axis=0), step=2.0, most=900))
    return of.drawing("joins", items, "joins, in the order of gluing")


def _mark_numbers(of: Card, marks: Sequence[Numbered], starts: frozenset[int], room: Room) -> Items:
    """Every mark with its number nearer to it than to any other, or else at the end of a leader line. The mark to
    start at is first."""
    marks = sorted(marks, key=lambda mark: mark[0] not in starts)
    inward = np.array([(np.cos(angle), np.sin(angle)) for *_, angle in marks]).reshape(-1, 2)
    at = of.move(np.array([(x, y) for _, x, y, _ in marks]).reshape(-1, 2))
    tips = at + 1.5 * inward
    items: Items = [Path(np.array([foot, tip]), "mark") for foot, tip in zip(at, tips, strict=True)]
    waiting = []
    for k, (number, *_) in enumerate(marks):
        aside = np.array([-inward[k][1], inward[k][0]])
        spots = np.array([at[k] + r * inward[k] + s * aside for r in (3.4, 4.4, 5.6, 7.0)
                          for s in (0.0, 1.5, -1.5, 3.0, -3.0, 4.5, -4.5)])  # fmt: skip
        nearest = np.linalg.norm(spots[:, None] - tips, axis=2).argmin(axis=1)
        found = room.place([str(number)], HEIGHTS[2:], spots[nearest == k])
        items += found
        waiting += [] if found else [(k, spots)]
    for k, spots in waiting:
        said = [str(marks[k][0])]
        items += room.lead(said, HEIGHTS[2:], tips[k]) or room.place(said, HEIGHTS[2:], spots)
    return items


def score_card(ground: Ground, foam: Foam, index: int, *, across: float, up: float) -> Drawing:
    """Outline and score lines, numbered in the order in which they are burnt or carved, each with its direction."""
    return _scored(card(foam, index, across=across, up=up), *strokes_of(ground, foam, index, np.zeros(2)))


@remembered
def _scored(of: Card, strokes: Sequence[Floats], start: Sequence[float], stop: Sequence[float]) -> Drawing:
    """The score lines as `strokes_of` gives them on the flat piece."""
    lines = [of.move(stroke.points) for stroke in in_order(strokes, start, stop)]
    items: Items = [Path(_simple(of.edge, closed=True), "cut", closed=True)]
    heads = [arrow(line, TIP) for line in lines]
    items += [*(Path(_simple(line), "score") for line in lines), *heads]
    room, waiting = Room(of.edge, [*lines, *(head.points for head in heads)]), list[tuple[int, Floats]]()
    for number, line in enumerate(lines, 1):
        s = arc_length(line)[-1]
        at, on = at_arc_length(line, np.array([0.35 * s, 0.35 * s + 1]))
        aside = np.array([on[1] - at[1], at[0] - on[0]])
        spots = np.array([at + hand * gap * aside / np.hypot(*aside) for gap in (2.6, 3.4, 4.4, 6) for hand in (1, -1)])
        found = room.place([str(number)], HEIGHTS[1:], spots)
        items += found
        waiting += [] if found else [(number, at)]
    for number, at in waiting:
        items += room.lead([str(number)], HEIGHTS[1:], at)
    return of.drawing("strokes", items, "score lines in order")


def heat_card(ground: Ground, foam: Foam, heat: Floats, index: int, *, across: float, up: float) -> Drawing:
    """Crosses where the foam must grow, bars where it must shrink, in three sizes, over the lines of the plates."""
    of, grown = card(foam, index, across=across, up=up), _grown(foam, heat)
    most = max(float(np.abs(np.concatenate(grown)).max()), 4 * LEAST)
    middles = of.move(foam.pattern.flats[index].flat[foam.cut.pieces[index].faces].mean(axis=1))
    lines = tuple(of.move(path.points) for path in score_paths(ground, foam, index, np.zeros(2)))
    return _heated(of, lines, middles, grown[index] / most)


@remembered
def _grown(foam: Foam, heat: Floats) -> tuple[Floats, ...]:
    """The growth of every piece at its triangles."""
    return tuple(
        growth(of.flat[piece.faces].mean(axis=1), heat[piece.shell_faces])
        for piece, of in zip(foam.cut.pieces, foam.pattern.flats, strict=True)
    )


@remembered
def _heated(of: Card, lines: Sequence[Floats], middles: Floats, share: Floats) -> Drawing:
    """lines : of the plates, on the sheet; middles : (m, 2) of the triangles there; share : (m,) growth of each over
    the largest of all pieces"""
    items: Items = [Path(_simple(of.edge, closed=True), "cut", closed=True)]
    items += [Path(_simple(line), "score") for line in lines]
    (x0, y0), (x1, y1) = of.edge.min(axis=0), of.edge.max(axis=0)
    (across, up), middle = ((x1 - x0) // (2 * GRID), (y1 - y0) // (2 * GRID)), np.array([x0 + x1, y0 + y1]) / 2
    grid = middle + GRID * np.stack(np.meshgrid(np.arange(-across, across + 1), np.arange(-up, up + 1)), -1)
    inside = shapely.make_valid(shapely.Polygon(of.edge)).buffer(-1.5)
    at = grid.reshape(-1, 2)[shapely.contains_xy(inside, grid.reshape(-1, 2))]
    triangles = KDTree(middles)
    for spot in at:
        near = [int(triangles.query(spot)[1]), *triangles.query_ball_point(spot, GRID)]
        value, low = share[near[0]], share[near].min()
        value = low if abs(value) < SIZES[-1][0] else value  # the foam shrinks in narrow places
        reach = next((size for least, size in SIZES if abs(value) >= least), 0.0)
        items += _sign(spot, value > 0, reach) if reach else ()
    return of.drawing("heat", items, "where to heat")


def _sign(at: Floats, plus: bool, reach: float) -> Items:
    level, upright = reach * np.array([[-1, 0], [1, 0]]), reach * np.array([[0, -1], [0, 1]])
    return [Path(at + arm, "cut") for arm in ((level, upright) if plus else (level,))]


def _side_disc(number: int, line: Floats, room: Room) -> tuple[Path | Text, ...]:
    """A place inside the edge, as near the middle of the side as there is room; else at the end of a leader line."""
    whole = arc_length(line)[-1]
    shares = np.array([0.5, 0.42, 0.58, 0.34, 0.66, 0.25, 0.75, 0.15, 0.85])
    at = at_arc_length(line, shares * whole)
    ahead = at_arc_length(line, np.minimum(shares * whole + 0.5, whole)) - at_arc_length(line, shares * whole - 0.5)
    inward = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1) / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    size = (5.4, 5.4)
    spots = np.concatenate([at + r * inward for r in (4.0, 5.5, 7.5, 10.0, 13.0, 17.0, 22.0)])
    taken = room.reserve(size, spots)
    if taken is not None:
        return disc(number, spots[taken])
    spots = room.spots(at[0], step=2.0, most=900)
    taken = room.reserve(size, spots)
    if taken is None:
        return disc(number, at[0])
    return Path(np.array([at[0], spots[taken]]), "label", data={"leader": "yes"}), *disc(number, spots[taken])


def _simple(points: Floats, *, closed: bool = False) -> Floats:
    line = np.vstack([points, points[:1]]) if closed else points
    fine: Floats = shapely.get_coordinates(shapely.simplify(shapely.linestrings(line), FINE))
    return fine[:-1] if closed else fine
