"""Normals that are smooth on curved faces and break at edges."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shellgen.core.arrays import Floats, Ints

SHARP = np.radians(40.0)
"""Faces that meet at a larger angle have an edge between them (chosen: 12 facets are round, 45 deg is not)."""


def creased(vertices: Floats, faces: Ints) -> tuple[Floats, Ints, Floats]:
    """(n, 3) vertices, (m, 3) faces and (n, 3) unit normals of the same mesh; a vertex on an edge has a copy for
    each of its sides.

    References: normals weighted by area, H. Gouraud, Continuous Shading of Curved Surfaces (1971).
    """
    a, b, c = (vertices.take(corner, axis=0) for corner in faces.T)
    area = np.ascontiguousarray(np.cross(b - a, c - a).T)
    unit = area / np.maximum(np.sqrt((area**2).sum(axis=0)), 1e-300)
    of = faces.ravel()
    corner = np.argsort(of, kind="stable")  # corners of one vertex are consecutive
    count = np.bincount(of, minlength=len(vertices))
    first, size = (np.cumsum(count) - count).take(of), count.take(of)
    one = np.repeat(np.arange(faces.size), size)
    other = corner.take(np.repeat(first - np.cumsum(size) + size, size) + np.arange(len(one))) // 3
    near = np.flatnonzero(sum(u.take(one // 3) * u.take(other) for u in unit) > np.cos(SHARP))
    one, other = one.take(near), other.take(near)
    normal = np.stack([np.bincount(one, side.take(other), minlength=faces.size) for side in area])
    normal = normal / np.maximum(np.sqrt((normal**2).sum(axis=0)), 1e-300)
    key = of.astype(np.int64)
    for side in np.round(normal * 500).astype(np.int64):
        key = key << 10 | side + 512
    _, kept, number = np.unique(key, return_index=True, return_inverse=True)
    return vertices.take(of.take(kept), axis=0), number.reshape(faces.shape), normal.take(kept, axis=1).T


def creased_each(meshes: Sequence[tuple[Floats, Ints]]) -> list[tuple[Floats, Ints, Floats]]:
    """The result of `creased` for each of several meshes; many small ones take less time at once."""
    if not meshes:
        return []
    starts = np.cumsum([0, *(len(vertices) for vertices, _ in meshes)])
    every = np.concatenate([faces + start for (_, faces), start in zip(meshes, starts[:-1], strict=True)])
    points, faces, normals = creased(np.concatenate([vertices for vertices, _ in meshes]), every)
    out = []
    for mine in np.split(faces, np.cumsum([len(faces) for _, faces in meshes])[:-1]):
        first, last = mine.min(), mine.max() + 1  # new vertices are in the order of the old ones
        out.append((points[first:last], mine - first, normals[first:last]))
    return out
