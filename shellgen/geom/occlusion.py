"""Ambient occlusion: the share of the sky that a point of a surface sees past other surfaces (its sky view factor)."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.geom.scan_conversion import Facets, read, samples

PADDING = 2
"""Pixels around the picture of the occluders. Chosen: a point just outside them meets none."""
LIFT = 1.0
"""Pixels by which a point is lifted off its surface, so that the raster of that surface does not hide it. Chosen."""
STEPS = 2**30
"""Number of depths that are distinguished along a direction. Chosen."""


def openness(
    points: Floats, normals: Floats, corners: Floats, *, axes: int = 96, pixel: float = 3.0, reach: float = np.inf
) -> Floats:
    """(n,) share of the cosine-weighted hemisphere that is free: (1/pi) times the integral of V cos over directions;
    an open plane has 1.

    points, normals : (n, 3) mm and unit
    corners         : (m, 3, 3) mm, occluding triangles, two-sided
    axes            : lines of sight, used both ways: twice as many directions, evenly spread
    pixel           : mm, raster on which the triangles are projected along an axis
    reach           : mm, beyond which nothing occludes

    The error decreases with more directions and smaller pixels. Deterministic.

    References: the definition of Zhukov, Iones & Kronin, An Ambient Light Illumination Model, 1998; shared directions
    with a depth raster each as in the hemicube of Cohen & Greenberg, 1985, here with all depths.
    """
    free, total = np.zeros(len(points)), np.zeros(len(points))
    if not len(corners):
        return np.ones(len(points))
    lifted = points + LIFT * pixel * normals
    occluders = corners.transpose(2, 1, 0).reshape(3, -1)  # coordinates first: numpy is slow along short axes
    for axis, frame in _axes(axes):
        cosine = normals @ axis
        weight = np.abs(cosine)
        total += weight
        free += np.where(_hidden(lifted, cosine > 0, occluders, frame, pixel, reach), 0.0, weight)
    return free / total


def slot(width: float, depth: float) -> float:
    """View factor to the sky from the middle of the floor of a long groove with vertical sides: w / sqrt(w2 + 4 d2).

    References: Howell, A Catalog of Radiation Heat Transfer Configuration Factors, B-5 (long strip to an opening).
    """
    return float(width / np.hypot(width, 2 * depth))


def fibonacci_axes(count: int) -> Floats:
    """(count, 3) unit axes, evenly spread over a hemisphere.

    References: spherical Fibonacci lattice (Swinbank & Purser, Fibonacci grids, Q. J. R. Meteorol. Soc. 132, 2006).
    """
    k = np.arange(count) + 0.5
    up = k / count
    turn = np.pi * (1 + np.sqrt(5)) * k
    flat = np.sqrt(1 - up * up)
    return np.stack([flat * np.cos(turn), flat * np.sin(turn), up], axis=1)


@lru_cache(maxsize=8)
def _axes(count: int) -> tuple[tuple[Floats, Floats], ...]:
    """`count` axes and their frames."""
    return tuple((axis, _frame(axis)) for axis in fibonacci_axes(count))


def _frame(axis: Floats) -> Floats:
    """(3, 3) rows: across, along, axis."""
    least = np.eye(3)[np.argmin(np.abs(axis))]
    across = np.cross(least, axis)
    across /= np.linalg.norm(across)
    return np.array([across, np.cross(axis, across), axis])


def _hidden(points: Floats, ahead: Bools, occluders: Floats, frame: Floats, pixel: float, reach: float) -> Bools:
    """(n,) whether a triangle is within `reach`: along the axis for points `ahead`, against it for the others."""
    seen = frame @ occluders
    low, high = seen.min(axis=1), seen.max(axis=1)
    low[:2] = np.floor(low[:2] / pixel) * pixel  # the same raster for any content
    width, height = np.ceil((high[:2] - low[:2]) / pixel).astype(int) + 2 * PADDING
    scale = STEPS / max(float(high[2] - low[2]), pixel)
    x, y = ((seen[k] - low[k]) / pixel + PADDING for k in (0, 1))
    key = np.sort(_keys(x, y, (seen[2] - low[2]) * scale, (int(height), int(width))))
    if not len(key):  # every triangle is seen edge on or lies between pixel centres
        return np.zeros(len(points), bool)
    own = frame @ points.T
    column, row = (np.floor((own[k] - low[k]) / pixel).astype(np.int64) + PADDING for k in (0, 1))
    inside = (column >= 0) & (column < width) & (row >= 0) & (row < height)
    level = np.clip((own[2] - low[2]) * scale, -STEPS / 2, 2 * STEPS).astype(np.int64)
    stretch = int(min(reach * scale, 2 * STEPS))
    base = (row * width + column) * (4 * STEPS)
    place = np.searchsorted(key, base + level) - ~ahead
    there = key.take(place, mode="clip") - base
    first = np.where(ahead, level, np.maximum(level - stretch, -STEPS // 2))
    last = np.where(ahead, np.minimum(level + stretch, 2 * STEPS), level - 1)
    return np.asarray(inside & (place >= 0) & (place < len(key)) & (there >= first) & (there <= last))


def _keys(x: Floats, y: Floats, level: Floats, shape: tuple[int, int]) -> Ints:
    """(k,) every pixel that a triangle covers, times 4 STEPS, plus the triangle's level there.

    x, y, level : (3 m,) columns, rows and levels of all first corners, then all second, then all third
    """
    facets = Facets(x, y, np.arange(len(x)).reshape(3, -1).T)
    pixel, owner = samples(facets, shape)
    row, column = np.divmod(pixel, shape[1])
    corner = [level.take(k) for k in facets.corners]
    nearest, farthest = np.minimum(np.minimum(*corner[:2]), corner[2]), np.maximum(np.maximum(*corner[:2]), corner[2])
    at = read(facets.plane(level), owner, column + 0.5, row + 0.5)
    return pixel * (4 * STEPS) + np.clip(at, nearest.take(owner), farthest.take(owner)).astype(np.int64)
