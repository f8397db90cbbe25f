"""Subdivision of triangles at the midpoints of their edges, of all or of some.

References: Botsch et al., Polygon Mesh Processing, 2010, section 7 (1-to-4 split); Bank, Sherman & Weiser, Refinement
Algorithms and Data Structures for Regular Local Mesh Refinement, 1983 (partial splits that leave no gap).
"""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Bools, Ints


def subdivided(faces: Ints, count: int) -> tuple[Ints, Ints]:
    """(4 m, 3) faces with every edge halved, and (k, 2) ends of the halved edges, whose midpoints are the new vertices,
    numbered from `count`. The four triangles of a face are consecutive."""
    pairs = np.sort(np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).reshape(-1, 2), axis=1)
    ends, middle = np.unique(pairs[:, 0] * np.int64(count) + pairs[:, 1], return_inverse=True)
    a, b, c = faces.T
    ab, bc, ca = count + middle.reshape(-1, 3).T
    fine = np.stack([a, ab, ca, ab, b, bc, ca, bc, c, ab, bc, ca], axis=1).reshape(-1, 3)
    return fine, np.stack(np.divmod(ends, count), axis=1)


def parents(faces: Ints) -> Ints:
    """The faces from which `subdivided` made these."""
    return faces.reshape(-1, 4, 3)[:, [0, 1, 2], [0, 1, 2]]


def subdivided_where(faces: Ints, ends: Ints, count: int, wanted: Bools) -> Ints:
    """The faces of a mesh, subdivided only at the wanted edges, without gaps.

    faces  : (m, 3); some may have been split already
    ends   : (k, 2) of all edges, as `subdivided` returns them; count : number of vertices, the first midpoint's number
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
