"""Meshes made finer or coarser, and cut along the level lines of a value that is linear in each triangle."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def halved(faces: NDArray, count: int) -> tuple[NDArray, NDArray]:
    """(4 m, 3) faces with every edge halved, and (k, 2) ends of the halved edges, whose middles are the new vertices:
    `count` and on. The four triangles of a face stand together."""
    pairs = np.sort(np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).reshape(-1, 2), axis=1)
    ends, middle = np.unique(pairs[:, 0] * np.int64(count) + pairs[:, 1], return_inverse=True)
    a, b, c = faces.T
    ab, bc, ca = count + middle.reshape(-1, 3).T
    fine = np.stack([a, ab, ca, ab, b, bc, ca, bc, c, ab, bc, ca], axis=1).reshape(-1, 3)
    return fine, np.stack(np.divmod(ends, count), axis=1)


def parents(faces: NDArray) -> NDArray:
    """The faces that `halved` made these of."""
    return faces.reshape(-1, 4, 3)[:, [0, 1, 2], [0, 1, 2]]


def halved_where(faces: NDArray, ends: NDArray, count: int, wanted: NDArray) -> NDArray:
    """The faces with those halves only of what `halved` made of a mesh that are wanted, and without gaps.

    faces  : (m, 3) of that mesh; some may have been split already
    ends   : (k, 2) of all halved edges, as `halved` gave them; count : of its vertices, so that the middles follow
    wanted : (k,) bool, edges to be halved; a face with one or two of them becomes two or three
    """
    start, stop = ends[wanted].T
    key, middle = start * np.int64(count) + stop, count + np.flatnonzero(wanted)
    pairs = np.stack([faces, np.roll(faces, -1, axis=1)], axis=2)
    asked = pairs.min(axis=2) * np.int64(count) + pairs.max(axis=2)
    place = np.minimum(np.searchsorted(key, asked.ravel()), len(key) - 1).reshape(-1, 3)
    found = key[place] == asked if len(key) else np.zeros(faces.shape, bool)
    middle = middle[place] if len(key) else place
    number = found.sum(axis=1)
    # one halved edge goes first, two go first and second
    turn = np.where(number == 1, found.argmax(axis=1), np.where(number == 2, (~found).argmax(axis=1) + 1, 0))
    order = (turn[:, None] + np.arange(3)) % 3
    a, b, c = np.take_along_axis(faces, order, axis=1).T
    ab, bc, ca = np.take_along_axis(middle, order, axis=1).T
    made = {
        1: (a, ab, c, ab, b, c),
        2: (ab, b, bc, a, ab, bc, a, bc, c),
        3: (a, ab, ca, ab, b, bc, ca, bc, c, ab, bc, ca),
    }
    rows = [np.stack([v[number == n] for v in made[n]], axis=1).reshape(-1, 3) for n in made]
    return np.concatenate([faces[number == 0], *rows])


def cut(vertices: NDArray, faces: NDArray, values: NDArray, level: float) -> tuple[NDArray, NDArray, NDArray]:
    """The mesh with the level line of `values` as edges: vertices (n + k, d), faces, and the values there.

    vertices : (n, d), any columns that are linear along edges; values : (n,)

    No triangle is left with values on both sides of the level. References: marching triangles.
    """
    above = values >= level
    split = np.flatnonzero(above[faces].any(axis=1) & ~above[faces].all(axis=1))
    if not len(split):
        return vertices, faces, values
    crossed = faces[split]
    flags = above[crossed]
    lone = np.where(flags.sum(axis=1) == 1, flags.argmax(axis=1), (~flags).argmax(axis=1))
    a, b, c = (np.take_along_axis(crossed, ((lone + k) % 3)[:, None], axis=1)[:, 0] for k in (0, 1, 2))
    pairs = np.sort(np.stack([np.concatenate([a, a]), np.concatenate([b, c])], axis=1), axis=1)
    key, place = np.unique(pairs[:, 0] * np.int64(len(vertices)) + pairs[:, 1], return_inverse=True)
    low, high = np.divmod(key, len(vertices))
    share = (level - values[low]) / (values[high] - values[low])
    added = vertices[low] + share[:, None] * (vertices[high] - vertices[low])
    ab, ac = (len(vertices) + place.ravel()).reshape(2, -1)
    made = np.stack([a, ab, ac, ab, b, c, ab, c, ac], axis=1).reshape(-1, 3)
    kept = np.delete(faces, split, axis=0)
    return np.vstack([vertices, added]), np.vstack([kept, made]), np.append(values, np.full(len(low), level))


def banded(
    vertices: NDArray, faces: NDArray, values: NDArray, levels: tuple[float, ...]
) -> tuple[NDArray, NDArray, NDArray]:
    """The mesh cut along every level line: vertices, faces, and for each face how many levels it lies above."""
    for level in levels:
        vertices, faces, values = cut(vertices, faces, values, level)
    return vertices, faces, (values[faces].mean(axis=1)[:, None] >= np.array(levels)).sum(axis=1)


def clustered(vertices: NDArray, faces: NDArray, cell: float) -> tuple[NDArray, NDArray]:
    """A coarser mesh: all vertices in one cube of side `cell` become their mean; triangles that vanish are dropped.

    References: vertex clustering, Rossignac & Borrel, Multi-resolution 3D approximations, 1993.
    """
    cube = np.floor((vertices - vertices.min(axis=0)) / cell).astype(np.int64)
    size = cube.max(axis=0) + 1
    _, owner = np.unique((cube[:, 0] * size[1] + cube[:, 1]) * size[2] + cube[:, 2], return_inverse=True)
    owner = owner.ravel()
    count = np.bincount(owner)
    merged = np.stack([np.bincount(owner, column) for column in vertices.T], axis=1) / count[:, None]
    corner = owner[faces]
    corner = corner[(corner != np.roll(corner, 1, axis=1)).all(axis=1)]
    first = corner.argmin(axis=1)[:, None]
    turned = np.take_along_axis(corner, (first + np.arange(3)) % 3, axis=1)
    return merged, np.unique(turned, axis=0)
