"""Scattered, with a distance between them, until no more fits; the same seed gives the same places.

The distance is measured along the shell. They keep clear of plate lines by their clearance: below 0 they may stand over
the lines by as much. They keep the same distance to the spikes of groups before theirs.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from shellgen.core.arrays import Floats
from shellgen.fields import params as field
from shellgen.geom.poisson_discs import scatter
from shellgen.spikes.groups import Group
from shellgen.spikes.netlines import PLATE, RIM, SEAM, net_points
from shellgen.spikes.placings._ground import PITCH, AskedPlace, PlaceGround, carried, mirrored
from shellgen.spikes.sizing import largest

ON_LINES = False
WIDER = 1.03
"""A base on a curved shell over its diameter, at most (measured on the demos: 1.00 to 1.02)."""
DENSITY = 0.9
"""Points over dome / distance squared: 0.70 of the densest packing's 1.155 is usual for points without order, and half
as many again along the midline where the dome is narrow (measured: 0.67 to 0.86)."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    apart: float | None = field.length(
        None, 8, 500, "Least distance from one to another along the shell. If left out: 1.5 times base and ring."
    )
    seed: int = field.count(1, 1, 9999, "Any number; another one scatters them in another way.")


def graded(params: Params, scale: float) -> Params:
    """The same on a dome of another size."""
    return params if params.apart is None else replace(params, apart=scale * params.apart)


def expected(group: Group, plates: float, area: float) -> float:
    """At most, over the whole dome."""
    own: Params = group.place.own
    return DENSITY * area / (own.apart or PITCH * group.base_diameter) ** 2


def places(on: PlaceGround, group: Group) -> Iterator[AskedPlace]:
    """Places in the left half and on the midline, with their mirror images."""
    own: Params = group.place.own
    lines, rim = (cKDTree(net_points(on.surface, on.layout, kinds)) for kinds in ((PLATE, SEAM), (RIM,)))
    base = WIDER * max(group.base_diameter, group.base_width or 0.0) / 2 / np.cos(group.lean)

    def room(uv: Floats) -> Floats:
        points, radius = on.surface.points(uv), base * largest(group, uv)
        needed = radius + on.ring + group.clearance
        to_line = lines.query(points)[0]
        inside = np.where(carried(on, uv), to_line - needed, -to_line - np.maximum(needed, 0))
        return np.asarray(np.minimum(inside, rim.query(points)[0] - np.maximum(needed, radius)))

    found = scatter(on.surface, own.apart or on.pitch(group), room, taken=on.taken, rng=np.random.default_rng(own.seed))
    yield from mirrored(on, found[np.lexsort((found[:, 1], -found[:, 0]))])
