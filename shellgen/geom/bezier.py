"""Polylines as few cubic Bezier curves."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from scipy.interpolate import CubicSpline

from shellgen.core.arrays import Floats
from shellgen.geom.curves import arc_length

CORNER = np.radians(20.0)
"""Turn from one step to the next above which a polyline has a corner, where curves end. Chosen."""


def through(points: Floats, *, within: float) -> Floats:
    """(k, 4, d) control points of curves that follow a polyline (n, d) and leave its points by `within` at most.

    They join smoothly except at its corners.

    References: cubic spline by arc length, each piece in Bernstein form (Farin, Curves and Surfaces for CAGD, 2002,
    section 9.1, from memory).
    """
    step = np.diff(points, axis=0)
    step = step[np.linalg.norm(step, axis=1) > 0]
    points = np.concatenate([points[:1], points[:1] + np.cumsum(step, axis=0)])
    unit = step / np.linalg.norm(step, axis=1, keepdims=True)
    turn = np.arccos(np.clip((unit[1:] * unit[:-1]).sum(axis=1), -1, 1))
    stops = [0, *(1 + np.flatnonzero(turn > CORNER)).tolist(), len(points) - 1]
    parts = [_smooth(points[a : b + 1], within) for a, b in pairwise(stops)]
    return np.concatenate(parts)


def _smooth(points: Floats, within: float) -> Floats:
    along = arc_length(points)
    for count in range(2, len(points) + 1):
        knots = np.linspace(0, along[-1], count)
        knots = along[np.unique(np.abs(along[:, None] - knots).argmin(axis=0))]
        if len(knots) < 2:
            break
        at = np.searchsorted(along, knots)
        if len(points) == 2:
            return _straight(points)
        spline = CubicSpline(knots, points[at], bc_type="natural" if len(knots) < 4 else "not-a-knot")
        if np.linalg.norm(spline(along) - points, axis=1).max() <= within:
            pull = spline(knots, 1) * 1.0
            third = np.diff(knots)[:, None] / 3
            a, b = points[at[:-1]], points[at[1:]]
            return np.stack([a, a + third * pull[:-1], b - third * pull[1:], b], axis=1)
    return _straight(points)


def _straight(points: Floats) -> Floats:
    a, b = points[:-1], points[1:]
    return np.stack([a, a + (b - a) / 3, b - (b - a) / 3, b], axis=1)
