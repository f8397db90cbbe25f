"""Polylines and smooth curves in the plane or in space. A closed polyline does not repeat its first point."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline


def _closed_up(points: NDArray, closed: bool) -> NDArray:
    return np.concatenate([points, points[:1]]) if closed else points


def arc_length(points: NDArray, *, closed: bool = False) -> NDArray:
    """Length from the first point to each: (n,), or (n + 1,) when closed, the last being the whole way round."""
    step = np.linalg.norm(np.diff(_closed_up(points, closed), axis=0), axis=1)
    return np.concatenate([[0.0], np.cumsum(step)])


def length(points: NDArray, *, closed: bool = False) -> float:
    """Length of the polyline."""
    return float(arc_length(points, closed=closed)[-1])


def at_arc_length(points: NDArray, s: ArrayLike, *, closed: bool = False) -> NDArray:
    """(..., d) points at arc lengths `s`; beyond the ends clamped, or taken round when closed."""
    along = arc_length(points, closed=closed)
    where = np.mod(s, along[-1]) if closed else np.asarray(s, float)
    whole = _closed_up(points, closed)
    return np.stack([np.interp(where, along, whole[:, axis]) for axis in range(points.shape[1])], axis=-1)


def resample(points: NDArray, count: int, *, closed: bool = False) -> NDArray:
    """(count, d) points evenly spaced along the polyline; an open one keeps its two ends exactly."""
    even = at_arc_length(
        points, np.linspace(0, length(points, closed=closed), count, endpoint=not closed), closed=closed
    )
    if not closed:
        even[0], even[-1] = points[0], points[-1]
    return even


def spline(points: NDArray, *, closed: bool = False) -> CubicSpline:
    """C2 cubic spline through the points, its parameter the chord length from the first (natural ends when open)."""
    along = arc_length(points, closed=closed)
    return CubicSpline(along, _closed_up(points, closed), bc_type="periodic" if closed else "natural")


def smooth(points: NDArray, count: int, *, closed: bool = False) -> NDArray:
    """(count, d) points on the spline through `points`, evenly spaced along it (to the square of the spacing)."""
    curve = spline(points, closed=closed)
    fine = curve(np.linspace(0, curve.x[-1], max(8 * count, 16 * len(points)) + 1))
    fine[0] = points[0]
    fine[-1] = points[0] if closed else points[-1]
    even = resample(fine, count + 1 if closed else count)
    return even[:-1] if closed else even


def curvature(points: NDArray, *, closed: bool = False) -> NDArray:
    """(n,) curvature, 1/mm, of the circle through each point and its neighbours; ends of an open curve take their
    neighbour's. Signed in the plane (positive turns left), positive in space.

    References: circumradius R = abc / 4A (Menger curvature).
    """
    whole = np.concatenate([points[-1:], points, points[:1]]) if closed else points
    before, here, after = whole[:-2], whole[1:-1], whole[2:]
    first, second = here - before, after - here
    if points.shape[1] == 2:
        cross = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    else:
        cross = np.linalg.norm(np.cross(first, second), axis=1)
    sides = np.linalg.norm(first, axis=1) * np.linalg.norm(second, axis=1) * np.linalg.norm(after - before, axis=1)
    inner = 2 * cross / sides
    return inner if closed else np.concatenate([inner[:1], inner, inner[-1:]])


def turning(points: NDArray, *, closed: bool = False) -> NDArray:
    """(n,) plane exterior angle at each point, positive to the left; 0 at the ends of an open curve."""
    whole = np.concatenate([points[-1:], points, points[:1]]) if closed else points
    step = np.diff(whole, axis=0)
    first, second = step[:-1], step[1:]
    angle = np.arctan2(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0], (first * second).sum(axis=1))
    return angle if closed else np.concatenate([[0.0], angle, [0.0]])


def polygon_area(points: NDArray) -> float:
    """Area of a closed plane polygon, positive if counter-clockwise (shoelace)."""
    x, y = (points - points[0]).T
    return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


def polygon_centroid(points: NDArray) -> NDArray:
    """(2,) centre of area of a closed plane polygon."""
    x, y = (points - points[0]).T
    cross = x * np.roll(y, -1) - y * np.roll(x, -1)
    return points[0] + np.array([((x + np.roll(x, -1)) * cross).sum(), ((y + np.roll(y, -1)) * cross).sum()]) / (
        3 * cross.sum()
    )


def winding(points: NDArray, queries: NDArray) -> NDArray:
    """(k,) int: how often a closed plane polygon goes counter-clockwise round each query; 0 outside."""
    away = points[None] - queries[:, None]
    onward = np.roll(away, -1, axis=1)
    cross = away[..., 0] * onward[..., 1] - away[..., 1] * onward[..., 0]
    angle = np.arctan2(cross, (away * onward).sum(axis=2))
    return np.rint(angle.sum(axis=1) / (2 * np.pi)).astype(int)


def normals(points: NDArray, *, closed: bool = False) -> NDArray:
    """(n, 2) unit normals to the left of a plane polyline, halfway between those of the two steps that meet
    (zero where the line turns straight back)."""
    whole = np.concatenate([points[-1:], points, points[:1]]) if closed else points
    step = np.diff(whole, axis=0)
    step = step / np.linalg.norm(step, axis=1, keepdims=True)
    mean = step[:-1] + step[1:] if closed else np.concatenate([step[:1], step[:-1] + step[1:], step[-1:]])
    size = np.linalg.norm(mean, axis=1, keepdims=True)
    mean = mean / np.where(size > 0, size, 1.0)
    return np.column_stack([-mean[:, 1], mean[:, 0]])


def offset(points: NDArray, distance: float, *, closed: bool = False) -> NDArray:
    """(n, 2) each point of a smooth plane curve moved `distance` to its left: exact for circles and lines, no
    mitring of corners and no care for overlaps (shapely's buffer does those).
    """
    return points + distance * normals(points, closed=closed)
