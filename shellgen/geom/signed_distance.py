"""Signed distance of points from a surface of triangles, exact up to rounding."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from shellgen.core.arrays import Floats, Ints
from shellgen.geom.halfedges import edge_uses
from shellgen.geom.triangles import corner_angles, face_normals
from shellgen.geom.vectors import cross, sums

FACE, EDGE, VERTEX = 0, 1, 4
"""Where on a triangle its closest point lies: inside, on edge k (EDGE + k), or at corner k (VERTEX + k)."""


def signed_distances(points: Floats, faces: Ints, queries: Floats) -> Floats:
    """(q,) mm from each query to the closest point of the surface, negative on its inner side.

    points : (n, 3); faces : (m, 3), with the same orientation, counter-clockwise seen from outside; queries : (q, 3)

    The sign is that of the pseudonormal at the closest point: the normal of a face, the sum of both at an edge, the sum
    weighted by angle at a vertex. A single face's normal gives the wrong sign near an acute ridge. A triangle is
    left out of the search only if the sphere around it is farther away than the closest vertex.

    References: Baerentzen & Aanaes, Signed Distance Computation Using the Angle Weighted Pseudonormal, IEEE TVCG 11(3),
    2005.
    """
    query, face = _candidates(points, faces, queries)
    closest, place = _closest_points(points[faces[face]], queries[query])
    away = queries[query] - closest
    distance = np.sqrt(_dot(away, away))
    first = np.flatnonzero(np.diff(query, prepend=-1))
    least = np.minimum.reduceat(distance, first).repeat(np.diff(first, append=len(query)))
    best = np.flatnonzero(distance == least)
    best = best[np.diff(query[best], prepend=-1) > 0]
    normal = _pseudonormals(points, faces)[face[best], place[best]]
    return np.where(_dot(away[best], normal) < 0, -distance[best], distance[best])


def _candidates(points: Floats, faces: Ints, queries: Floats) -> tuple[Ints, Ints]:
    """(query, face) pairs among which each query's closest face is, query by query."""
    corner = points[faces]
    middle = corner.mean(axis=1)
    radius = np.linalg.norm(corner - middle[:, None], axis=2).max()
    nearest, _ = cKDTree(points[np.unique(faces)]).query(queries)
    near = cKDTree(middle).query_ball_point(queries, (nearest + radius) * (1 + 1e-12))
    return np.repeat(np.arange(len(queries)), [len(one) for one in near]), np.concatenate(near).astype(np.int64)


def _pseudonormals(points: Floats, faces: Ints) -> Floats:
    """(m, 7, 3) of any length: of each face, of its edges, the first from its first to its second corner, and of its
    corners."""
    normal = face_normals(points, faces)
    pairs, _, edge = edge_uses(faces)
    of_edge = _sums(edge, np.repeat(normal, 3, axis=0), len(pairs))
    weighted = corner_angles(points, faces)[:, :, None] * normal[:, None]
    of_vertex = _sums(faces.ravel(), weighted.reshape(-1, 3), len(points))
    return np.concatenate([normal[:, None], of_edge[edge].reshape(-1, 3, 3), of_vertex[faces]], axis=1)


def _sums(owner: Ints, vectors: Floats, count: int) -> Floats:
    """(count, 3) sum of each owner's vectors (k, 3)."""
    return np.stack([sums(owner, column, count) for column in vectors.T], axis=1)


def _closest_points(corner: Floats, query: Floats) -> tuple[Floats, Ints]:
    """(k, 3) the point of triangle `corner` (k, 3, 3) closest to `query` (k, 3), and (k,) where on it that lies.

    References: Ericson, Real-Time Collision Detection, 2005, section 5.1.5.
    """
    first, second = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    normal = cross(first, second)
    square = np.maximum(_dot(normal, normal), np.finfo(float).tiny)
    away = query - corner[:, 0]
    b, c = _dot(cross(away, second), normal) / square, _dot(cross(first, away), normal) / square
    inside = (b >= 0) & (c >= 0) & (b + c <= 1) & (square > np.finfo(float).tiny)
    foot = corner[:, 0] + b[:, None] * first + c[:, None] * second
    along = np.roll(corner, -1, axis=1) - corner
    length = np.maximum(_dot(along, along), np.finfo(float).tiny)
    share = np.clip(_dot(query[:, None] - corner, along) / length, 0, 1)
    on_edge = corner + share[:, :, None] * along
    off = query[:, None] - on_edge
    row, best = np.arange(len(corner)), np.sqrt(_dot(off, off)).argmin(axis=1)
    at = share[row, best]
    place = np.where(at <= 0, VERTEX + best, np.where(at >= 1, VERTEX + (best + 1) % 3, EDGE + best))
    return np.where(inside[:, None], foot, on_edge[row, best]), np.where(inside, FACE, place)


def _dot(one: Floats, other: Floats) -> Floats:
    """Scalar products along the last axis, of three; faster than a sum along so short an axis."""
    return one[..., 0] * other[..., 0] + one[..., 1] * other[..., 1] + one[..., 2] * other[..., 2]
