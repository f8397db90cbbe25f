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
FIRST = 8
"""Places tried at once before all others: the largest, most often free."""
TOUCH = 1e-6
"""mm2 in which a tab and what it hangs on may overlap: rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class TabSizes:
    """All in mm.

    width, least : of a tab, and the narrowest that still holds
    longest, shortest : of its foot
    sag : by which the foot may differ from a straight line, so that the tab folds flat
    gap : from its free side to anything else, so that a knife can pass
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
    """Where the edge is nearly straight, and no longer than a tab may be, in arc lengths.

    References: D. Douglas and T. Peucker, Algorithms for the reduction of the number of points (1973).
    """
    along = arc_length(edge)
    for first, last in pairwise(_corners(edge, 0, len(edge) - 1, sizes.sag)):
        count = int(np.ceil((along[last] - along[first]) / sizes.longest))
        yield from pairwise(np.linspace(along[first], along[last], count + 1).tolist())


def _corners(edge: Floats, first: int, last: int, sag: float) -> list[int]:
    chord = edge[last] - edge[first]
    off = edge[first : last + 1] - edge[first]
    size = np.hypot(*chord)
    away = np.abs(off[:, 0] * chord[1] - off[:, 1] * chord[0]) / size if size > TOUCH else np.hypot(*off.T)
    far = first + int(away.argmax())
    if away.max() <= sag or far in (first, last):
        return [first, last]
    return [*_corners(edge, first, far, sag), *_corners(edge, far, last, sag)[1:]]


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
