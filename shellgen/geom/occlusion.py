"""How much of the open sky a point of a surface sees past whatever stands round it: ambient occlusion."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

PADDING = 2
"""Pixels round the picture of the occluders (chosen: a point just outside them meets none)."""
LIFT = 1.0
"""Pixels by which a point is held off its own surface, lest the raster of that surface hide it (chosen)."""
STEPS = 2**30
"""Depths that can be told apart along a direction."""


def openness(
    points: NDArray, normals: NDArray, corners: NDArray, *, axes: int = 96, pixel: float = 3.0, reach: float = np.inf
) -> NDArray:
    """(n,) share of the cosine-weighted hemisphere that is free: (1/pi) times the integral of V cos over directions;
    an open plane has 1.

    points, normals : (n, 3) mm and unit
    corners         : (m, 3, 3) mm, triangles that hide; either side counts
    axes            : lines along which is looked, both ways: twice as many directions, evenly spread
    pixel           : mm of the raster on which the triangles are seen along an axis
    reach           : mm beyond which nothing hides

    The error falls as the directions become more and the pixels smaller. Deterministic.

    References: the definition of Zhukov, Iones & Kronin, An Ambient Light Illumination Model, 1998; shared directions
    with a depth raster each as in the hemicube of Cohen & Greenberg, 1985, here all depths kept.
    """
    free, total = np.zeros(len(points)), np.zeros(len(points))
    if not len(corners):
        return np.ones(len(points))
    held = points + LIFT * pixel * normals
    hiding = corners.transpose(2, 1, 0).reshape(3, -1)  # one axis after the other: numpy is slow along short axes
    for axis, frame in _axes(axes):
        cosine = normals @ axis
        weight = np.abs(cosine)
        total += weight
        free += np.where(_hidden(held, cosine > 0, hiding, frame, pixel, reach), 0.0, weight)
    return free / total


def slot(width: float, depth: float) -> float:
    """Openness of the middle of the floor of a long groove with upright sides: w / sqrt(w2 + 4 d2).

    References: Howell, A Catalog of Radiation Heat Transfer Configuration Factors, B-5 (long strip to an opening).
    """
    return float(width / np.hypot(width, 2 * depth))


def spread(count: int) -> NDArray:
    """(count, 3) unit axes evenly over half the sphere.

    References: spherical Fibonacci lattice (Swinbank & Purser, Fibonacci grids, Q. J. R. Meteorol. Soc. 132, 2006).
    """
    k = np.arange(count) + 0.5
    up = k / count
    turn = np.pi * (1 + np.sqrt(5)) * k
    flat = np.sqrt(1 - up * up)
    return np.stack([flat * np.cos(turn), flat * np.sin(turn), up], axis=1)


@lru_cache(maxsize=8)
def _axes(count: int) -> tuple[tuple[NDArray, NDArray], ...]:
    """So many axes and their frames."""
    return tuple((axis, _frame(axis)) for axis in spread(count))


def _frame(axis: NDArray) -> NDArray:
    """(3, 3) rows: across, along, axis."""
    least = np.eye(3)[np.argmin(np.abs(axis))]
    across = np.cross(least, axis)
    across /= np.linalg.norm(across)
    return np.array([across, np.cross(axis, across), axis])


def _hidden(points: NDArray, ahead: NDArray, hiding: NDArray, frame: NDArray, pixel: float, reach: float) -> NDArray:
    """(n,) whether something stands within `reach`; of points `ahead` (n,) bool along the axis, of others against."""
    seen = frame @ hiding
    low, high = seen.min(axis=1), seen.max(axis=1)
    low[:2] = np.floor(low[:2] / pixel) * pixel  # one raster, whatever stands in it
    width, height = np.ceil((high[:2] - low[:2]) / pixel).astype(int) + 2 * PADDING
    scale = STEPS / max(float(high[2] - low[2]), pixel)
    x, y = ((seen[k] - low[k]) / pixel + PADDING for k in (0, 1))
    column, row, depth = samples(*(part.reshape(3, -1) for part in (x, y, seen[2])))
    if not len(column):  # every triangle is seen edge on, or falls between the pixels
        return np.zeros(len(points), bool)
    key = np.sort((row * width + column) * (4 * STEPS) + ((depth - low[2]) * scale).astype(np.int64))
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


def samples(x: NDArray, y: NDArray, z: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """Column and row (k,) of every pixel whose centre a triangle covers, and the triangle's depth (k,) there.

    x, y, z : (3, m) of the corners, x and y in pixels, the centre of pixel (c, r) being (c + 0.5, r + 0.5)
    """
    first, last = (
        np.ceil(choose(choose(y[0], y[1]), y[2]) - 0.5).astype(np.int64) for choose in (np.minimum, np.maximum)
    )
    some = np.flatnonzero(last > first)
    order = _upwards(y, some)
    x, y, z = (part.ravel().take(order) for part in (x, y, z))
    nearest, farthest = np.minimum(np.minimum(z[0], z[1]), z[2]), np.maximum(np.maximum(z[0], z[1]), z[2])
    owner, row = _runs(first.take(some), last.take(some))
    middle = row + 0.5
    one, two, low, mid = (v.take(owner) for v in (x[0], x[1], y[0], y[1]))
    long, lower, upper = (_slope(x, y, *ends).take(owner) for ends in ((0, 2), (0, 1), (1, 2)))
    above = middle - low
    straight, bent = one + above * long, np.where(middle >= mid, two + (middle - mid) * upper, one + above * lower)
    left, right = np.minimum(straight, bent), np.maximum(straight, bent)
    run, column = _runs(np.ceil(left - 0.5).astype(np.int64), np.ceil(right - 0.5).astype(np.int64))
    owner, row = owner.take(run), row.take(run)
    across, up = _slopes(x, y, z)
    base = z[0] + across * (0.5 - x[0]) + up * (0.5 - y[0])
    at = base.take(owner) + across.take(owner) * column + up.take(owner) * row
    return column, row, np.clip(at, nearest.take(owner), farthest.take(owner))


_ORDER = np.array([(0, 1, 2), (0, 2, 1), (0, 1, 2), (2, 0, 1), (1, 0, 2), (0, 1, 2), (1, 2, 0), (2, 1, 0)]).T
"""Corners by height for each outcome of the three comparisons in `_upwards`; two of the eight never come."""


def _upwards(y: NDArray, some: NDArray) -> NDArray:
    """(3, k) where the corners of some of all triangles stand among those (3, m) of all, the lowest first."""
    a, b, c = (row.take(some) for row in y)
    found = 4 * (b < a).astype(np.intp) + 2 * (c < a) + (c < b)
    return y.shape[1] * _ORDER.take(found, axis=1) + some


def _slope(x: NDArray, y: NDArray, start: int, end: int) -> NDArray:
    """(m,) columns per row along an edge of each triangle."""
    rise = y[end] - y[start]
    return (x[end] - x[start]) / np.where(rise > 0, rise, 1.0)


def _runs(first: NDArray, last: NDArray) -> tuple[NDArray, NDArray]:
    """Owner and whole number of every step from `first` up to, not including, `last`."""
    count = np.maximum(last - first, 0)
    owner = np.repeat(np.arange(len(first)), count)
    return owner, np.arange(len(owner)) - (np.cumsum(count) - count - first).take(owner)


def _slopes(x: NDArray, y: NDArray, z: NDArray) -> tuple[NDArray, NDArray]:
    """Depth per column and per row of each triangle; zero for one without area, which has no samples."""
    (x1, x2), (y1, y2), (z1, z2) = ((v[1] - v[0], v[2] - v[0]) for v in (x, y, z))
    area = x1 * y2 - x2 * y1
    area = np.where(np.abs(area) > 1e-12, area, np.inf)
    return (z1 * y2 - z2 * y1) / area, (z2 * x1 - z1 * x2) / area
