"""Straight walks over a smooth patch."""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.geom.patches import SurfacePatch


def closest_uv(patch: SurfacePatch, points: Floats, uv: Floats, *, rounds: int = 6) -> Floats:
    """(n, 2) uv of the surface points closest to `points` (n, 3), from a guess `uv`; kept within the disc.

    References: Gauss-Newton on |S(uv) - p|^2.
    """
    for _ in range(rounds):
        tangent = patch.tangents(uv)
        away = points - patch.points(uv)
        normal = np.einsum("nik,nil->nkl", tangent, tangent)
        uv = uv + np.linalg.solve(normal, np.einsum("nik,ni->nk", tangent, away)[..., None])[..., 0]
        uv = uv / np.maximum(np.linalg.norm(uv, axis=1, keepdims=True), 1)
    return uv


def unit(vectors: Floats) -> Floats:
    return np.asarray(vectors / np.linalg.norm(vectors, axis=-1, keepdims=True))


def walk(patch: SurfacePatch, uv: Floats, direction: Floats, distance: Floats, *, steps: int = 24) -> Floats:
    """(n, 2) uv reached from each `uv` by going straight on along the face for `distance` (n,) mm.

    direction : (n, 3) at the start; need not be unit or tangent

    References: Polthier & Schmies, Straightest Geodesics on Polyhedral Surfaces, 1998: carry the direction along by
    projecting it into the next tangent plane.
    """
    here = patch.points(uv)
    for _ in range(steps):
        normal = patch.normals(uv)
        direction = unit(direction - normal * (direction * normal).sum(axis=1, keepdims=True))
        uv = closest_uv(patch, here + direction * (distance / steps)[:, None], uv, rounds=2)
        there = patch.points(uv)
        direction, here = there - here, there
    return uv


def inward(patch: SurfacePatch, uv: Floats) -> Floats:
    """(n, 3) unit tangent square to the circle of the disc through each point, towards the crown."""
    tangent = patch.tangents(uv)
    along = unit(tangent[:, :, 1] * uv[:, :1] - tangent[:, :, 0] * uv[:, 1:])
    return np.cross(patch.normals(uv), along)
