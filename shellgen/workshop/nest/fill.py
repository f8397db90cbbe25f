"""Parts of one thickness over as many sheets as they need, one sheet after another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from shellgen.core.arrays import Floats
from shellgen.workshop.nest import strip
from shellgen.workshop.nest.parts import FlatPart, Params, Placement, effort
from shellgen.workshop.nest.purchase import Stock, cheapest, costs

SMOOTH = 0.25
"""mm by which outlines may be widened to have fewer corners (chosen: it costs 1 % of the area)."""
HAIR = 0.05
"""mm kept beyond the separation asked for, against rounding in the search, which computes in single precision."""
FULL = 0.92
"""Share of a sheet that is tried first (chosen: no layout of plates was seen to fill more)."""
EXPECTED = 0.85
"""Share of the sheets' area, gaps counted in, that is hoped for in choosing sheets (chosen: as measured)."""
MITRE = 1.2  # corners of a widened outline are cut off beyond this share of the widening (chosen)


@dataclass(frozen=True, slots=True, eq=False)
class _WidenedPart:
    """A part with half its clearance: shapes that touch keep the separation.

    shape : (n, 2) outline widened, its grain along x
    """

    part: FlatPart
    shape: Floats
    area: float


@dataclass(slots=True, eq=False)
class _Shelf:
    """Sheets of one kind that are still to be had, and the strip that bodies may lie on: length x height."""

    kind: Stock
    cost: float
    left: int
    length: float
    height: float

    @property
    def area(self) -> float:
        return self.length * self.height


def clearance(params: Params) -> float:
    """mm by which every outline is widened: half of what is to lie between two of them."""
    return (params.separation + params.kerf + HAIR) / 2


def fill(
    parts: Sequence[FlatPart], kinds: Sequence[Stock], params: Params, *, progress: Callable[[str], None]
) -> list[tuple[Stock, tuple[Placement, ...]]]:
    """Sheets with their parts, in the order filled. A part that fits on none, or for which none is left, is on none."""
    bodies = sorted((_body(part, params) for part in parts), key=lambda body: -body.area)
    shelves = [_shelf(kind, cost, params) for kind, cost in zip(kinds, costs(kinds), strict=True)]
    sheets: list[tuple[Stock, tuple[Placement, ...]]] = []
    while True:
        bodies = [b for b in bodies if any(shelf.left and _fits(b, shelf, params) for shelf in shelves)]
        if not bodies:
            return sheets
        shelf = _next(bodies, shelves, params)
        chosen, poses = _filled(bodies, shelf, params, _prefixed(progress, f"sheet {len(sheets) + 1}: "))
        shelf.left -= 1
        corner = params.margin - clearance(params)
        sheets.append(
            (shelf.kind, tuple(_placement(b, p, corner) for b, p in zip(chosen, poses.tolist(), strict=True)))
        )
        on = {id(body) for body in chosen}
        bodies = [body for body in bodies if id(body) not in on]


def _prefixed(progress: Callable[[str], None], words: str) -> Callable[[str], None]:
    return lambda text: progress(words + text)


def _body(part: FlatPart, params: Params) -> _WidenedPart:
    wide = clearance(params) + SMOOTH
    grown = shapely.make_valid(shapely.Polygon(part.outline)).buffer(wide, join_style="mitre", mitre_limit=MITRE)
    smooth = grown.simplify(SMOOTH)
    smooth = smooth if smooth.geom_type == "Polygon" else smooth.convex_hull
    shape = strip.turned(np.array(smooth.exterior.coords)[:-1], -part.grain)
    return _WidenedPart(part, shape, shapely.Polygon(shape).area)


def _shelf(kind: Stock, cost: float, params: Params) -> _Shelf:
    length, height = (side + 2 * clearance(params) for side in kind.room(params.margin))
    return _Shelf(kind, cost, 10**6 if kind.count is None else kind.count, length, height)


def _fits(body: _WidenedPart, shelf: _Shelf, params: Params) -> bool:
    return bool(strip.angles(body.shape, shelf.height, shelf.length, params.rotations)[1])


def _next(bodies: Sequence[_WidenedPart], shelves: Sequence[_Shelf], params: Params) -> _Shelf:
    """The sheet to fill now: the largest of the cheapest set that would hold all, if it takes the largest part."""
    wanted = sum(body.area for body in bodies) / EXPECTED
    taken = cheapest([s.area for s in shelves], [s.cost for s in shelves], [s.left for s in shelves], wanted)
    able = [k for k, shelf in enumerate(shelves) if shelf.left and _fits(bodies[0], shelf, params)]
    best = [k for k in able if taken[k]]
    if best:
        return shelves[max(best, key=lambda k: (shelves[k].area, -k))]
    return shelves[min(able, key=lambda k: (shelves[k].cost, k))]


def _filled(
    bodies: Sequence[_WidenedPart], shelf: _Shelf, params: Params, progress: Callable[[str], None]
) -> tuple[list[_WidenedPart], Floats]:
    """The bodies that were brought onto one sheet, and their poses."""
    tries, work = effort(params)
    fitting = [body for body in bodies if _fits(body, shelf, params)]
    limit = FULL * shelf.area
    while True:
        chosen = _chosen(fitting, limit)
        found = strip.pack(
            [body.shape for body in chosen], shelf.height, longest=shelf.length, rotations=params.rotations,
            tries=tries, work=work, seed=params.seed, enough=0.0 if len(chosen) == len(bodies) else shelf.length,
            progress=lambda length: progress(f"{length:.0f} of {shelf.length:.0f} mm"),
        )  # fmt: skip
        if found.length <= shelf.length or len(chosen) == 1:
            return chosen, found.poses
        area = sum(body.area for body in chosen)
        limit = min(area * shelf.length / found.length, area - chosen[-1].area)


def _chosen(bodies: Sequence[_WidenedPart], limit: float) -> list[_WidenedPart]:
    """The largest first, and smaller ones as long as the sum of the areas stays below the limit; at least one."""
    chosen, area = [bodies[0]], bodies[0].area
    for body in bodies[1:]:
        if area + body.area <= limit:
            chosen.append(body)
            area += body.area
    return chosen


def _placement(body: _WidenedPart, pose: Sequence[float], corner: float) -> Placement:
    x, y, angle = pose
    return Placement(body.part, angle - body.part.grain, (x + corner, y + corner))
