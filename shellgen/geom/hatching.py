"""Hatching of an area by parallel lines."""

from __future__ import annotations

import numpy as np
import shapely

from shellgen.core.arrays import Floats


def hatched(area: shapely.Geometry, step: float) -> Floats:
    """(n, 2, 2) the segments of the lines y - x = 0, step, 2 step ... inside the polygons of an area, each from left to
    right, sorted by line and along each line.

    References: even-odd rule at scan lines (Foley et al., Computer Graphics, Principles and Practice, 1990, section
    3.6): a line enters and leaves alternately; an edge includes its lower end and excludes its upper end.
    """
    parts = shapely.get_parts(area)
    rings = shapely.get_rings(parts[shapely.get_type_id(parts) == shapely.GeometryType.POLYGON])
    points, ring = shapely.get_coordinates(rings, return_index=True)
    edge = np.flatnonzero(ring[1:] == ring[:-1])
    start, end = points[edge], points[edge + 1]
    from_, to = (start[:, 1] - start[:, 0]) / step, (end[:, 1] - end[:, 0]) / step
    first, last = np.ceil(np.minimum(from_, to)).astype(int), np.ceil(np.maximum(from_, to)).astype(int)
    count = last - first
    own = np.repeat(np.arange(len(edge)), count)
    line = np.arange(len(own)) - np.repeat(np.cumsum(count) - count - first, count)
    x = start[own, 0] + (line - from_[own]) / (to - from_)[own] * (end - start)[own, 0]
    order = np.lexsort((x, line))
    return np.stack([x, x + line * step], axis=1)[order].reshape(-1, 2, 2)
