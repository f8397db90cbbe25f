"""How far points lie from a surface of triangles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from shellgen.geom.triangles import face_normals
from shellgen.geom.vectors import cross


def signed_distances(points: NDArray, faces: NDArray, queries: NDArray) -> NDArray:
    """(q,) mm from each query to the nearest point of the surface, negative where that is on its inner side.

    points : (n, 3); faces : (m, 3), counter-clockwise seen from outside; queries : (q, 3)

    Exact: a triangle is left out only if the sphere round it lies farther off than the nearest vertex.
    """
    corner = points[faces]
    middle = corner.mean(axis=1)
    reach = np.linalg.norm(corner - middle[:, None], axis=2).max(axis=1)
    nearest, _ = cKDTree(points[np.unique(faces)]).query(queries)
    near = cKDTree(middle).query_ball_point(queries, nearest + reach.max())
    owner = np.repeat(np.arange(len(queries)), [len(found) for found in near])
    face = np.concatenate([np.asarray(found, int) for found in near])
    foot = _feet(corner[face], queries[owner])
    away = queries[owner] - foot
    size = np.linalg.norm(away, axis=1)
    order = np.lexsort((face, size, owner))
    best = order[np.unique(owner[order], return_index=True)[1]]
    side = (away[best] * face_normals(points, faces)[face[best]]).sum(axis=1)
    return np.where(side < 0, -size[best], size[best])


def _feet(corner: NDArray, query: NDArray) -> NDArray:
    """(k, 3) the point of triangle `corner` (k, 3, 3) nearest to `query` (k, 3)."""
    first, second = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    normal = cross(first, second)
    twice = (normal * normal).sum(axis=1)
    away = query - corner[:, 0]
    b = (cross(away, second) * normal).sum(axis=1) / twice
    c = (cross(first, away) * normal).sum(axis=1) / twice
    inside = (b >= 0) & (c >= 0) & (b + c <= 1)
    foot = corner[:, 0] + b[:, None] * first + c[:, None] * second
    start, along = corner, np.roll(corner, -1, axis=1) - corner
    share = ((query[:, None] - start) * along).sum(axis=2) / (along * along).sum(axis=2)
    on_side = start + np.clip(share, 0, 1)[:, :, None] * along
    best = np.linalg.norm(query[:, None] - on_side, axis=2).argmin(axis=1)
    return np.where(inside[:, None], foot, on_side[np.arange(len(corner)), best])
