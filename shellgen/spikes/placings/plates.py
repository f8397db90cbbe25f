"""On each plate, in its middle or in a row; `plates: drawn` for the circles of a drawing.

Of two groups that name the same plate the later one serves it.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from shellgen.core.arrays import Floats
from shellgen.model import Plate, ShellMesh, Surface
from shellgen.spikes.groups import Group
from shellgen.spikes.placings._ground import AskedPlace, PlaceGround, border, foot

ON_LINES = False
ROWS, CIRCLES = 1, 3
"""Their places in the order of the spikes of one plate."""


def expected(group: Group, plates: float, area: float) -> float:
    """At most: a plate with a number is one plate, any other word may mean all of them."""
    named = sum(1 if word[-1:].isdigit() else plates for word in group.plates)
    return min(named, plates) * group.in_row


def places(on: PlaceGround, group: Group) -> Iterator[AskedPlace]:
    """The rows of the plates, then the circles."""
    for p in sorted(on.plates):
        for uv in _row(on.surface, on.mesh, on.layout.plates[p], on.centres[p], group.in_row):
            yield AskedPlace(uv, p, order=ROWS)
    if on.circles:
        yield from _circles(on)


def _circles(on: PlaceGround) -> Iterator[AskedPlace]:
    """The circles of a drawing, each on the plate that it lies on."""
    cells = shapely.polygons([shapely.linearrings(border(on.layout, cell)) for cell in range(len(on.layout.cells))])
    tree = shapely.STRtree(cells)
    for spot in on.layout.spots:
        if spot.kind in on.circles:
            plate = on.layout.cell_plate[int(tree.nearest(shapely.Point(spot.uv)))]
            yield AskedPlace(spot.uv, plate, spot.size, CIRCLES)


def axes(surface: Surface, plate: Plate, centre: Floats) -> tuple[Floats, Floats]:
    """Origin (3,), and directions (3, 2) in the plane that touches the shell: ahead, and away from the midline."""
    tangent, normal = surface.tangents(centre[None])[0], surface.normals(centre[None])[0]
    ahead = tangent[:, 0] / np.linalg.norm(tangent[:, 0])
    outward = np.cross(normal, ahead) * (-1 if plate.side == "R" else 1)
    return surface.points(centre[None])[0], np.column_stack([ahead, outward])


def _row(surface: Surface, mesh: ShellMesh, plate: Plate, centre: Floats, count: int) -> Floats:
    """(count, 2) uv, evenly along the plate's longer way through its centre of area, the foremost last."""
    if count == 1:
        return centre[None]
    vertices = np.unique(mesh.faces[np.isin(mesh.face_cell, plate.cells)])
    here, ways = axes(surface, plate, centre)
    flat = (mesh.points[vertices] - here) @ ways
    if plate.side == "C":  # its longer way is along the midline or square to it
        way = np.array([1.0, 0.0]) if np.ptp(flat[:, 0]) >= np.ptp(flat[:, 1]) else np.array([0.0, 1.0])
    else:
        way = np.linalg.eigh(np.cov(flat.T))[1][:, -1]
        way = way if way[0] > 0 else -way
    along = flat @ way
    aside = np.abs(flat @ [-way[1], way[0]])
    near = aside <= max(0.25 * np.ptp(along), np.sort(aside)[:4].max())  # a coarse mesh may have no vertex nearby
    low, high = along[near].min(), along[near].max()
    reach = low + (high - low) * (np.arange(count) + 0.5) / count
    reach = reach - reach.mean() if plate.side == "C" and way[1] else reach
    return foot(surface, here + reach[:, None] * (ways @ way), np.broadcast_to(centre, (count, 2)))
