"""A Tutte embedding over a curve in space: a first guess at the shape of a sheet with a given rim and area."""

from __future__ import annotations

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from shellgen.core.arrays import Floats, Ints
from shellgen.geom.triangles import corner_angles

LEAST_PULL = 0.1
"""Least weight of an edge; between two right isosceles triangles that share a leg it is 1. Chosen: positive, so that
nothing folds."""


def tutte_embedding(rest: Floats, faces: Ints, rim: Ints, curve: Floats, *, rise: float) -> Floats:
    """(n, 3) points: the sheet over the curve of the rim, raised to a smooth bump.

    rest  : (m, 3, 2) the triangles as cut, mm; faces : (m, 3), with the rim counter-clockwise
    rim   : (r,) its vertices in order; curve : (r, 3) their places, mm
    rise  : height of the bump, mm; 0 for a taut sheet

    Every inner vertex is a convex combination of its neighbours, so nothing folds over a convex rim; the weights are
    the cotangents of the sheet's triangles, where those are positive.

    References: Tutte, How to Draw a Graph, Proc. London Math. Soc. 13, 1963; Floater, Parametrization and Smooth
    Approximation of Surface Triangulations, CAGD 14, 1997.
    """
    count = int(faces.max()) + 1
    pull = 0.5 / np.tan(corner_angles(rest.reshape(-1, 2), np.arange(3 * len(faces)).reshape(-1, 3)))
    ends = np.roll(faces, -1, axis=1).ravel(), np.roll(faces, -2, axis=1).ravel()
    half = sparse.coo_array((pull.ravel(), ends), shape=(count, count)).tocsr()
    near = half + half.T
    near.data = np.maximum(near.data, LEAST_PULL)
    laplacian = (sparse.diags_array(np.asarray(near.sum(axis=1)).ravel()) - near).tocsr()
    inner = np.ones(count, bool)
    inner[rim] = False
    factors = splu(laplacian[inner][:, inner].tocsc())
    points = np.zeros((count, 3))
    points[rim] = curve
    points[inner] = factors.solve(-(laplacian[inner][:, rim] @ curve))
    first, second = rest[:, 1] - rest[:, 0], rest[:, 2] - rest[:, 0]
    area = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    bump = factors.solve(np.bincount(faces.ravel(), np.repeat(area, 3), minlength=count)[inner])
    points[inner] += rise * (bump / bump.max())[:, None] * _outward(curve)
    return points


def spherical_cap(area: float, curve: Floats) -> tuple[float, float]:
    """Height and radius, mm, of the spherical cap of this area over a flat round rim as large as the closed `curve`.

    References: area of a spherical cap, pi (a^2 + h^2) (Bronshtein et al., Handbook of Mathematics, 3.3.4).
    """
    plan = float(np.linalg.norm(_area_vector(curve)))
    rise = float(np.sqrt(max(area - plan, 0.01 * plan) / np.pi))
    return rise, (plan / np.pi + rise**2) / (2 * rise)


def _area_vector(curve: Floats) -> Floats:
    middle = curve - curve.mean(axis=0)
    return np.asarray(np.cross(middle, np.roll(middle, -1, axis=0)).sum(axis=0) / 2)


def _outward(curve: Floats) -> Floats:
    vector = _area_vector(curve)
    return vector / np.linalg.norm(vector)
