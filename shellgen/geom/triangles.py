"""Measures on triangle meshes: `points` (n, 2 or 3) float, `faces` (m, 3) int, counter-clockwise seen from outside."""

from __future__ import annotations

import numpy as np
from scipy import sparse
from scipy.spatial import cKDTree

from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.geom import halfedges, vectors

INSIDE = 1e-12
"""How far below zero a barycentric coordinate may round and still count as inside. Chosen: a thousand roundings."""


def _corner_vectors(points: Floats, faces: Ints) -> tuple[Floats, Floats]:
    corner = points[faces]
    return corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]


def _cross(first: Floats, second: Floats) -> Floats:
    """(m, 3) cross product; in the plane the same with only its z part filled."""
    if first.shape[1] == 3:
        return vectors.cross(first, second)
    turn = np.zeros((len(first), 3))
    turn[:, 2] = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    return turn


def areas(points: Floats, faces: Ints) -> Floats:
    """(m,) areas; in the plane signed, negative for a clockwise face."""
    cross = _cross(*_corner_vectors(points, faces))
    return 0.5 * (np.linalg.norm(cross, axis=1) if points.shape[1] == 3 else cross[:, 2])


def face_normals(points: Floats, faces: Ints) -> Floats:
    """(m, 3) unit normals; zero for a face without area."""
    cross = _cross(*_corner_vectors(points, faces))
    size = np.linalg.norm(cross, axis=1, keepdims=True)
    return np.asarray(np.divide(cross, size, out=np.zeros_like(cross), where=size > 0))


def corner_angles(points: Floats, faces: Ints) -> Floats:
    """(m, 3) inner angles at the corners, in the order of `faces`; by atan2, accurate for slivers too."""
    twice_area = np.linalg.norm(_cross(*_corner_vectors(points, faces)), axis=1)
    corner = points[faces]
    ahead, behind = np.roll(corner, -1, axis=1) - corner, np.roll(corner, 1, axis=1) - corner
    return np.asarray(np.arctan2(twice_area[:, None], (ahead * behind).sum(axis=2)))


def edges(faces: Ints) -> Ints:
    """(k, 2) each edge once, smaller vertex first, sorted."""
    return halfedges.edge_uses(faces)[0]


def edge_uses(faces: Ints) -> tuple[Ints, Ints]:
    """(k, 2) edges as `edges` gives them, and (k,) how many faces use each."""
    pairs, count, _ = halfedges.edge_uses(faces)
    return pairs, count


def boundary_edges(faces: Ints) -> Ints:
    """(k, 2) directed edges used by one face only, running with that face."""
    return np.column_stack(halfedges.ends(faces))[halfedges.boundary(faces)]


def boundary_loops(faces: Ints) -> tuple[Ints, ...]:
    """Ordered vertices of each boundary loop, the faces on its left, each starting at its smallest vertex.

    ValueError if two loops share a vertex.
    """
    start, end = boundary_edges(faces).T
    if len(np.unique(start)) != len(start):
        raise ValueError("the boundary passes twice through one vertex")
    following = dict(zip(start.tolist(), end.tolist(), strict=True))
    loops = []
    while following:
        first = min(following)
        loop = [first]
        while (step := following.pop(loop[-1])) != first:
            loop.append(step)
        loops.append(np.array(loop))
    return tuple(loops)


def angle_deficits(points: Floats, faces: Ints) -> Floats:
    """(n,) radians: 2 pi less the angles around an inner vertex (its curvature), pi less them on the boundary
    (its turning). A vertex of no face gets 0.

    References: Polthier & Schmies, Straightest Geodesics on Polyhedral Surfaces, 1998 (discrete Gauss-Bonnet).
    """
    total = np.bincount(faces.ravel(), corner_angles(points, faces).ravel(), minlength=len(points))
    full = np.full(len(points), 2 * np.pi)
    full[boundary_edges(faces).ravel()] = np.pi
    used = np.bincount(faces.ravel(), minlength=len(points)) > 0
    return np.where(used, full - total, 0.0)


def inner_vertices(faces: Ints, count: int) -> Bools:
    """(count,) bool: vertices used by a face and not on the boundary."""
    inner = np.bincount(faces.ravel(), minlength=count) > 0
    inner[boundary_edges(faces).ravel()] = False
    return inner


def total_curvature(points: Floats, faces: Ints, normals: Floats) -> float:
    """Integral of the Gauss curvature, radians, of the surface that a mesh samples, whose normals (n, 3) are given, up
    to its boundary: 2 pi times Euler's number less the turning of the boundary in the tangent planes, exact to the
    square of the edge length.

    References: Gauss-Bonnet, do Carmo, Differential Geometry of Curves and Surfaces, 1976, section 4-5.
    """
    turning = sum(geodesic_turning(points[loop], normals[loop]).sum() for loop in boundary_loops(faces))
    return float(2 * np.pi * euler_characteristic(faces) - turning)


def geodesic_turning(points: Floats, normals: Floats) -> Floats:
    """(n,) turning to the left at each vertex of a closed polyline, seen along the normal of the surface there.

    References: geodesic curvature (do Carmo, Differential Geometry of Curves and Surfaces, 1976, section 4-4).
    """
    ahead = np.roll(points, -1, axis=0) - points
    behind = np.roll(ahead, 1, axis=0)
    sine = (normals * vectors.cross(behind, ahead)).sum(axis=1)
    cosine = (behind * ahead).sum(axis=1) - (behind * normals).sum(axis=1) * (ahead * normals).sum(axis=1)
    return np.asarray(np.arctan2(sine, cosine))


def signed_volume(points: Floats, faces: Ints) -> float:
    """mm3 enclosed by a closed mesh, positive if its faces look outward (divergence theorem)."""
    first, second, third = np.moveaxis(points[faces] - points.mean(axis=0), 1, 0)
    return float((first * vectors.cross(second, third)).sum() / 6)


def euler_characteristic(faces: Ints) -> int:
    """Vertices - edges + faces, counting only vertices in use: 1 for a disc, 2 for a sphere."""
    return len(np.unique(faces)) - len(edges(faces)) + len(faces)


def cotangent_laplacian(points: Floats, faces: Ints) -> sparse.csr_array:
    """(n, n) positive semidefinite stiffness matrix: x' L x is twice the Dirichlet energy of x.

    References: Pinkall & Polthier, Computing Discrete Minimal Surfaces and Their Conjugates, 1993.
    """
    weight = 0.5 / np.tan(corner_angles(points, faces))
    first, second = np.roll(faces, -1, axis=1).ravel(), np.roll(faces, -2, axis=1).ravel()
    shape = (len(points), len(points))
    half = sparse.coo_array((weight.ravel(), (first, second)), shape=shape).tocsr()
    joined = half + half.T
    return sparse.csr_array(sparse.diags_array(np.asarray(joined.sum(axis=1)).ravel()) - joined)


def barycentric(corner: Floats, queries: Floats) -> Floats:
    """(k, 3) coordinates of `queries` (k, 2) in the plane triangles `corner` (k, 3, 2)."""
    first, second = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    away = queries - corner[:, 0]
    area = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    b = (away[:, 0] * second[:, 1] - away[:, 1] * second[:, 0]) / area
    c = (first[:, 0] * away[:, 1] - first[:, 1] * away[:, 0]) / area
    return np.column_stack([1 - b - c, b, c])


def locate(uv: Floats, faces: Ints, queries: Floats, *, reach: float | None = None) -> tuple[Ints, Floats]:
    """The face of a plane mesh that contains each query.

    uv : (n, 2); queries : (k, 2); reach : how far outside a query may be and still get the closest face
    (default: a quarter of the longest boundary edge, far more than the sagitta of an arc).
    Returns (k,) face or -1, and (k, 3) barycentric coordinates: of the nearest point of the mesh for queries
    outside, meaningless for -1.
    """
    face = np.full(len(queries), -1)
    weight = np.zeros((len(queries), 3))
    query, candidate = _candidates(uv, faces, queries)
    if len(query):
        found = barycentric(uv[faces[candidate]], queries[query])
        depth = found.min(axis=1)
        first = np.flatnonzero(np.diff(query, prepend=-1))  # candidates are sorted by query
        deepest = np.repeat(np.maximum.reduceat(depth, first), np.diff(first, append=len(query)))
        best = np.flatnonzero((depth == deepest) & (depth >= -INSIDE))
        best = best[np.diff(query[best], prepend=-1) > 0]
        face[query[best]], weight[query[best]] = candidate[best], found[best]
    outside = np.flatnonzero(face < 0)
    if len(outside):
        _snap_to_boundary(uv, faces, queries, outside, reach, face, weight)
    return face, weight


def _ragged(count: Ints) -> tuple[Ints, Ints]:
    """For counts (2, 0, 3): owners (0, 0, 2, 2, 2) and ranks (0, 1, 0, 1, 2)."""
    owner = np.repeat(np.arange(len(count)), count)
    return owner, np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)


def _candidates(uv: Floats, faces: Ints, queries: Floats) -> tuple[Ints, Ints]:
    """(query, face) pairs that share a bucket of a square grid with about one bucket per face."""
    low, high = uv.min(axis=0), uv.max(axis=0)
    step = max(float(np.sqrt(np.prod(high - low) / len(faces))), float((high - low).max()) * 1e-6)
    wide = ((high - low) / step).astype(int) + 1
    corner = uv[faces]
    first = np.clip(((corner.min(axis=1) - low) / step - 1e-9).astype(int), 0, wide - 1)
    last = np.clip(((corner.max(axis=1) - low) / step + 1e-9).astype(int), 0, wide - 1)
    span = last - first + 1
    owner, rank = _ragged(span[:, 0] * span[:, 1])
    bucket = (first[owner, 0] + rank // span[owner, 1]) * wide[1] + first[owner, 1] + rank % span[owner, 1]
    order = np.argsort(bucket, kind="stable")
    owner, bucket = owner[order], bucket[order]
    place = np.floor((queries - low) / step).astype(int)
    inside = np.flatnonzero(((queries >= low) & (queries <= high)).all(axis=1))
    place = np.minimum(place[inside], wide - 1)
    wanted = place[:, 0] * wide[1] + place[:, 1]
    start, stop = np.searchsorted(bucket, wanted, side="left"), np.searchsorted(bucket, wanted, side="right")
    index, rank = _ragged(stop - start)
    return inside[index], owner[start[index] + rank]


def _snap_to_boundary(
    uv: Floats, faces: Ints, queries: Floats, outside: Ints, reach: float | None, face: Ints, weight: Floats
) -> None:
    """Fills `face` and `weight` of the queries `outside` from the nearest boundary edge within `reach`."""
    corner, owner = np.nonzero(halfedges.boundary(faces).reshape(-1, 3).T)
    start, end = uv[faces[owner, corner]], uv[faces[owner, (corner + 1) % 3]]
    size = np.linalg.norm(end - start, axis=1)
    limit = float(size.max()) / 4 if reach is None else reach
    _, near = cKDTree((start + end) / 2).query(queries[outside], k=min(8, len(owner)))
    near = near.reshape(len(outside), -1)
    along = ((queries[outside, None] - start[near]) * (end - start)[near]).sum(axis=2) / size[near] ** 2
    along = np.clip(along, 0, 1)
    foot = start[near] + along[..., None] * (end - start)[near]
    distance = np.linalg.norm(foot - queries[outside, None], axis=2)
    row, best = np.arange(len(outside)), distance.argmin(axis=1)
    close = distance[row, best] <= limit
    edge, share = near[row, best][close], along[row, best][close]
    hit = outside[close]
    face[hit] = owner[edge]
    weight[hit] = 0.0
    weight[hit, corner[edge]] = 1 - share
    weight[hit, (corner[edge] + 1) % 3] = share
