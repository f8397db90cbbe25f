"""Measures on a smooth patch: an image of the unit disc in space, given by its points, normals and tangents."""

from __future__ import annotations

from functools import lru_cache
from typing import Protocol

import numpy as np
from scipy.spatial import cKDTree

from shellgen.core.arrays import Floats
from shellgen.geom.vectors import cross


class SurfacePatch(Protocol):
    """uv (n, 2) in the closed unit disc; offset along the normal."""

    def __hash__(self) -> int: ...

    def points(self, uv: Floats, *, offset: float = 0.0) -> Floats: ...  # (n, 3)

    def normals(self, uv: Floats) -> Floats: ...  # (n, 3) unit

    def tangents(self, uv: Floats, *, offset: float = 0.0) -> Floats: ...  # (n, 3, 2)


def polar_grid(radii: Floats, spokes: int) -> Floats:
    """(len(radii) * spokes, 2) uv on circles about the centre, ring by ring."""
    angle = 2 * np.pi * np.arange(spokes) / spokes
    return np.stack([np.outer(radii, np.cos(angle)), np.outer(radii, np.sin(angle))], axis=-1).reshape(-1, 2)


def integrate(values: Floats, radii: Floats, weights: Floats) -> float:
    """Integral over the unit disc of `values` on `polar_grid(radii, spokes)`, weights those of the radii on [0, 1]."""
    rings = values.reshape(len(radii), -1).mean(axis=1)
    return float(2 * np.pi * (rings * radii * weights).sum())


def gauss_radii(rings: int) -> tuple[Floats, Floats]:
    """Gauss-Legendre radii and weights on [0, 1]."""
    x, weight = np.polynomial.legendre.leggauss(rings)
    return (x + 1) / 2, weight / 2


def area(patch: SurfacePatch, *, offset: float = 0.0, rings: int = 96, spokes: int = 256) -> float:
    """Area by Gauss-Legendre quadrature along the radius and the trapezoid rule around: error falls faster than any
    power of the number of samples for a smooth patch.
    """
    radii, weights = gauss_radii(rings)
    tangent = patch.tangents(polar_grid(radii, spokes), offset=offset)
    element = np.linalg.norm(cross(tangent[..., 0], tangent[..., 1]), axis=1)
    return integrate(element, radii, weights)


def _around(tangent: Floats, uv: Floats) -> Floats:
    """(n, 3) derivative by the angle about the centre."""
    return tangent[..., 1] * uv[:, :1] - tangent[..., 0] * uv[:, 1:]


def fundamental_forms(patch: SurfacePatch, uv: Floats) -> tuple[Floats, Floats]:
    """First and second fundamental form, (n, 2, 2) each; the second is positive where the patch bulges outward."""
    tangent = patch.tangents(uv)
    turn = patch.tangents(uv, offset=1.0) - tangent  # derivative of the normal, exact since offsets are linear
    second = np.einsum("nij,nik->njk", tangent, turn)
    return np.einsum("nij,nik->njk", tangent, tangent), (second + np.swapaxes(second, 1, 2)) / 2


def curvatures(patch: SurfacePatch, uv: Floats) -> Floats:
    """(n, 2) principal curvatures, 1/mm, least first, positive where the patch bulges outward.

    References: do Carmo, Differential Geometry of Curves and Surfaces, 1976, section 3-3 (k^2 - 2 H k + K = 0).
    """
    first, second = fundamental_forms(patch, uv)
    size = np.linalg.det(first)
    gauss = np.linalg.det(second) / size
    mean = (
        second[:, 0, 0] * first[:, 1, 1] - 2 * second[:, 0, 1] * first[:, 0, 1] + second[:, 1, 1] * first[:, 0, 0]
    ) / (2 * size)
    root = np.sqrt(np.maximum(mean * mean - gauss, 0))
    return np.column_stack([mean - root, mean + root])


def project(patch: SurfacePatch, points: Floats, *, rounds: int = 40) -> tuple[Floats, Floats]:
    """Closest-point projection onto the patch.

    points : (k, 3). Returns uv (k, 2), and (k,) distance, negative on the inner side. Newton's method from the closest
    point of a grid; a point beyond the rim is projected to the rim.
    """
    grid, tree = _grid(patch)
    _, near = tree.query(points)
    uv = grid[near]
    away = points - patch.points(uv)
    moving = np.arange(len(points))
    for _ in range(rounds):
        trial = _into_disc(uv[moving] + _newton_step(patch, uv[moving], away[moving]))
        left = points[moving] - patch.points(trial)
        for _ in range(8):  # shorter steps where the distance grew
            worse = np.linalg.norm(left, axis=1) > np.linalg.norm(away[moving], axis=1) * (1 + 1e-15)
            if not worse.any():
                break
            trial[worse] = (trial[worse] + uv[moving[worse]]) / 2
            left[worse] = points[moving[worse]] - patch.points(trial[worse])
        still = np.abs(trial - uv[moving]).max(axis=1) < 1e-14
        better = np.linalg.norm(left, axis=1) <= np.linalg.norm(away[moving], axis=1) * (1 + 1e-15)
        uv[moving[better]], away[moving[better]] = trial[better], left[better]
        moving = moving[better & ~still]
        if not len(moving):
            break
    side = (away * patch.normals(uv)).sum(axis=1)
    return uv, np.copysign(np.linalg.norm(away, axis=1), side)


@lru_cache(maxsize=4)
def _grid(patch: SurfacePatch) -> tuple[Floats, cKDTree]:
    grid = polar_grid(np.linspace(0, 1, 33), 96)
    return grid, cKDTree(patch.points(grid))


def _into_disc(uv: Floats) -> Floats:
    return uv / np.maximum(np.hypot(uv[:, 0], uv[:, 1]), 1)[:, None]


def _newton_step(patch: SurfacePatch, uv: Floats, away: Floats) -> Floats:
    """(n, 2) Newton step towards the point where `away` is normal to the patch; on the rim, along it, unless the step
    leads inward."""
    tangent = patch.tangents(uv)
    turn = patch.tangents(uv, offset=1.0) - tangent
    height = (away * patch.normals(uv)).sum(axis=1)
    slope = np.einsum("nij,ni->nj", tangent, away)
    metric = np.einsum("nij,nik->njk", tangent, tangent)
    bent = metric + height[:, None, None] * np.einsum("nij,nik->njk", tangent, turn)
    sound = np.linalg.det(bent) > 0.05 * np.linalg.det(metric)
    sound &= np.trace(bent, axis1=1, axis2=2) > 0
    step = np.linalg.solve(np.where(sound[:, None, None], bent, metric), slope[..., None])[..., 0]
    rim = (np.hypot(uv[:, 0], uv[:, 1]) > 1 - 1e-12) & ((step * uv).sum(axis=1) > 0)
    if rim.any():
        step[rim] = _rim_step(tangent[rim], uv[rim], away[rim])
    return step


def _rim_step(tangent: Floats, uv: Floats, away: Floats) -> Floats:
    along = _around(tangent, uv)
    angle = (along * away).sum(axis=1) / (along * along).sum(axis=1)
    turned = np.column_stack(
        [uv[:, 0] * np.cos(angle) - uv[:, 1] * np.sin(angle), uv[:, 0] * np.sin(angle) + uv[:, 1] * np.cos(angle)]
    )
    return turned - uv
