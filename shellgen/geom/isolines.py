"""A mesh cut along the isolines of a value that is linear in each triangle."""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats, Ints


def cut_at(vertices: Floats, faces: Ints, values: Floats, level: float) -> tuple[Floats, Ints, Floats]:
    """The mesh with the isoline of `values` as edges: vertices (n + k, d), faces, and the values there.

    vertices : (n, d), any columns that are linear along edges; values : (n,)

    No triangle is left with values on both sides of the level.

    References: the table of cases of Lorensen & Cline, Marching Cubes, SIGGRAPH 1987, on triangles.
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


def cut_into_bands(
    vertices: Floats, faces: Ints, values: Floats, levels: tuple[float, ...]
) -> tuple[Floats, Ints, Ints]:
    """The mesh cut along every isoline: vertices, faces, and the number of levels below each face."""
    for level in levels:
        vertices, faces, values = cut_at(vertices, faces, values, level)
    return vertices, faces, (values[faces].mean(axis=1)[:, None] >= np.array(levels)).sum(axis=1)
