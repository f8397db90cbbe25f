"""Polylines in the plane or in space. A closed polyline does not repeat its first point."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from shellgen.core.arrays import Floats


def _closed_up(points: Floats, closed: bool) -> Floats:
    return np.concatenate([points, points[:1]]) if closed else points


def arc_length(points: Floats, *, closed: bool = False) -> Floats:
    """Length from the first point to each: (n,), or (n + 1,) when closed, the last being the perimeter."""
    step = np.linalg.norm(np.diff(_closed_up(points, closed), axis=0), axis=1)
    return np.concatenate([[0.0], np.cumsum(step)])


def length(points: Floats, *, closed: bool = False) -> float:
    """Length of the polyline."""
    return float(arc_length(points, closed=closed)[-1])


def at_arc_length(points: Floats, s: ArrayLike, *, closed: bool = False) -> Floats:
    """(..., d) points at arc lengths `s`; clamped beyond the ends, or periodic when closed."""
    along = arc_length(points, closed=closed)
    where = np.mod(s, along[-1]) if closed else np.asarray(s, float)
    whole = _closed_up(points, closed)
    return np.stack([np.interp(where, along, whole[:, axis]) for axis in range(points.shape[1])], axis=-1)


def resample(points: Floats, count: int) -> Floats:
    """(count, d) points evenly spaced along the open polyline; both ends stay exact."""
    even = at_arc_length(points, np.linspace(0, length(points), count))
    even[0], even[-1] = points[0], points[-1]
    return even


def polygon_area(points: Floats) -> float:
    """Area of a closed plane polygon, positive if counter-clockwise.

    References: shoelace formula (Bronshtein et al., Handbook of Mathematics, 3.1.1).
    """
    x, y = (points - points[0]).T
    return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def normals(points: Floats) -> Floats:
    """(n, 2) unit normals to the left of a closed plane polyline, halfway between those of the two steps that meet
    (zero where the line reverses)."""
    step = np.diff(np.concatenate([points[-1:], points, points[:1]]), axis=0)
    step = step / np.linalg.norm(step, axis=1, keepdims=True)
    mean = step[:-1] + step[1:]
    size = np.linalg.norm(mean, axis=1, keepdims=True)
    mean = mean / np.where(size > 0, size, 1.0)
    return np.column_stack([-mean[:, 1], mean[:, 0]])
