"""The path of a cutter that takes away a line of some width, so that the part comes out true."""

from __future__ import annotations

import numpy as np
import shapely

from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError

MITRE = 4.0
"""Corners sharper than 29 degrees are cut blunt: the path stays within this many half kerfs of them (chosen)."""


def compensated(outline: Floats, kerf: float) -> tuple[Floats, ...]:
    """Closed paths (n, 2) half a kerf outside an outline; holes first, the outer path, counter-clockwise, last.

    outline : (n, 2) mm, simple, not closed
    Without a kerf the outline itself. A slit narrower than the kerf closes up. GeometryError for a negative kerf or an
    outline that crosses itself.
    """
    if kerf < 0:
        raise GeometryError(f"A kerf of {kerf:g} mm is not possible. Use 0 mm or more.")
    polygon = shapely.Polygon(outline)
    if not polygon.is_valid:
        raise GeometryError(f"the outline cannot be cut: {shapely.is_valid_reason(polygon)}")
    if kerf > 0:
        polygon = polygon.buffer(kerf / 2, join_style="mitre", mitre_limit=MITRE)
    polygon = shapely.orient_polygons(polygon)
    return tuple(np.array(ring.coords)[:-1] for ring in (*polygon.interiors, polygon.exterior))
