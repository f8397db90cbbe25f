"""Glue tabs along an edge of a flat piece of card: where they fit, how wide, and how they are split along a curve."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from shellgen.core.arrays import Floats
from shellgen.geom.curves import arc_length, at_arc_length

SHARES = np.linspace(0.0, 1.0, 6)
"""Of a run of the edge: where the foot of a tab may begin and end (chosen)."""
SLANTS = (0.45, 1.2)
"""How far a tab's end leans in, in widths there: as steep as a mitre needs, or flat, next to a corner (chosen)."""
WIDTHS = 6
"""Widths tried at each end (chosen)."""
CORNER = np.radians(12.0)
"""Turn at a point of an edge from which on it is a corner (chosen: well over that of a curve's smooth points)."""
FIRST = 8
"""Places tried at once before all others: the largest, most often free."""
TOUCH = 1e-6
"""mm2 in which a tab and what it hangs on may overlap: rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class TabSizes:
    """All in mm.

    width, least : of a tab, and the narrowest that still holds, at least twice the sag and gap
    longest, shortest : of its foot
    sag : by which the foot may differ from a straight line, so that the tab folds flat
    gap : from its outer half to anything else, so that a knife can pass
    end : from its foot to the next tab and to the end of the edge
    """

    width: float
    least: float
    longest: float
    shortest: float
    sag: float
    gap: float
    end: float


@dataclass(frozen=True, slots=True, eq=False)
class Tab:
    """begin, end : of the foot, mm along the edge; outline : (n, 2) clockwise as the piece lies, the foot first, then
    the two free corners from its end to its beginning"""

    begin: float
    end: float
    outline: Floats

    @property
    def area(self) -> float:
        return float(shapely.Polygon(self.outline).area)

    @property
    def free(self) -> Floats:
        """(4, 2) the sides that are cut, from the foot's beginning."""
        return self.outline[[0, -1, -2, -3]]


def tabs(edge: Floats, piece: shapely.Geometry, others: shapely.Geometry, sizes: TabSizes) -> tuple[Tab, ...]:
    """Tabs along an edge, each as large as fits; where even the least does not, there is none.

    edge   : (n, 2) part of the outline of `piece`, which lies to its left
    others : what no tab may touch either
    """
    made: list[Tab] = []
    for run in sorted(_runs(edge, sizes), key=lambda run: -round(run[1] - run[0], 6)):  # the same on a mirror image
        shapes = [shapely.Polygon(tab.outline) for tab in made]
        tab = _largest(edge, run, piece, shapely.union_all([others, *shapes]), sizes)
        made += [tab] if tab else []
    return tuple(sorted(made, key=lambda tab: tab.begin))


def part(line: Floats, begin: float, end: float) -> Floats:
    """(n, 2) the points of a polyline between two arc lengths."""
    along = arc_length(line)
    inner = line[(along > begin + TOUCH) & (along < end - TOUCH)]
    return np.vstack([at_arc_length(line, begin), inner, at_arc_length(line, end)])


def _runs(edge: Floats, sizes: TabSizes) -> Iterator[tuple[float, float]]:
    """The edge from corner to corner, in as few equal runs as are nearly straight and no longer than a tab may be, in
    arc lengths."""
    along, step = arc_length(edge), np.diff(edge, axis=0) @ np.array([1, 1j])
    turns = np.abs(np.angle(step[1:] * step[:-1].conj()))
    for first, last in pairwise([0, *(1 + np.flatnonzero(turns > CORNER)).tolist(), len(edge) - 1]):
        size = along[last] - along[first]
        most = max(1, int(size / (sizes.shortest + 2 * sizes.end)))
        for count in range(min(most, int(np.ceil(size / sizes.longest))), most + 1):
            runs = list(pairwise(np.linspace(along[first], along[last], count + 1).tolist()))
            if count == most or all(_sag(part(edge, *run)) <= sizes.sag for run in runs):
                yield from (run for run in runs if _sag(part(edge, *run)) <= sizes.sag)
                break


def _sag(line: Floats) -> float:
    """Greatest distance of a line from the chord between its ends."""
    chord, off = line[-1] - line[0], line - line[0]
    return float(np.abs(off[:, 0] * chord[1] - off[:, 1] * chord[0]).max() / max(np.hypot(*chord), TOUCH))


def _largest(
    edge: Floats, run: tuple[float, float], piece: shapely.Geometry, others: shapely.Geometry, sizes: TabSizes
) -> Tab | None:
    """The tab of the largest area that fits on a run of the edge."""
    feet, tops = _tried(edge, run, sizes)
    around = shapely.union_all([piece, others])
    shapely.prepare(around)
    for some in (slice(0, FIRST), slice(FIRST, None)):
        ways = tops[some]
        free = ~shapely.dwithin(around, shapely.linestrings(ways), sizes.gap)
        for (begin, end), top in zip(feet[some][free].tolist(), ways[free], strict=True):
            outline = np.vstack([part(edge, begin, end), top[2:0:-1]])
            shape = shapely.Polygon(outline)
            if shape.is_valid and shape.intersection(around).area < TOUCH:
                return Tab(begin, end, outline)
    return None


def _tried(edge: Floats, run: tuple[float, float], sizes: TabSizes) -> tuple[Floats, Floats]:
    """Feet (n, 2) in arc lengths of all tabs that are tried on a run, the largest first, and of each the line (n, 4, 2)
    that keeps its distance: the free side with the upper half of both ends."""
    begin, size = run[0] + sizes.end, run[1] - run[0] - 2 * sizes.end
    b, e, w, v, r, q = (
        axis.ravel()
        for axis in np.meshgrid(
            *2 * [SHARES * max(size, 0.0)], *2 * [np.linspace(sizes.least, sizes.width, WIDTHS)], *2 * [SLANTS],
            indexing="ij",
        )
    )  # fmt: skip
    kept = (e - b >= sizes.shortest) & (e - b - r * w - q * v >= sizes.least / 2)
    b, e, w, v, r, q = (axis[kept] for axis in (b, e, w, v, r, q))
    order = np.argsort(-(w + v) * (2 * (e - b) - r * w - q * v), kind="stable")
    b, e, w, v, r, q = (axis[order] for axis in (b, e, w, v, r, q))
    feet = np.column_stack([begin + b, begin + e])
    low, high = at_arc_length(edge, feet[:, 0]), at_arc_length(edge, feet[:, 1])
    ahead = (high - low) / np.maximum(np.linalg.norm(high - low, axis=1, keepdims=True), TOUCH)
    out = np.column_stack([ahead[:, 1], -ahead[:, 0]])
    start = low + (r * w)[:, None] * ahead + w[:, None] * out
    stop = high - (q * v)[:, None] * ahead + v[:, None] * out
    return feet, np.stack([(low + start) / 2, start, stop, (high + stop) / 2], axis=1)
