"""Meshes made finer or coarser, and cut along the level lines of a value that is linear in each triangle."""

from __future__ import annotations

import numpy as np

from shellgen.geom.arrays import Bools, Ints


def subdivided(faces: Ints, count: int) -> tuple[Ints, Ints]:
    """(4 m, 3) faces with every edge halved, and (k, 2) ends of the halved edges, whose middles are the new vertices:
    `count` and on. The four triangles of a face stand together."""
    pairs = np.sort(np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).reshape(-1, 2), axis=1)
    ends, middle = np.unique(pairs[:, 0] * np.int64(count) + pairs[:, 1], return_inverse=True)
    a, b, c = faces.T
    ab, bc, ca = count + middle.reshape(-1, 3).T
    fine = np.stack([a, ab, ca, ab, b, bc, ca, bc, c, ab, bc, ca], axis=1).reshape(-1, 3)
    return fine, np.stack(np.divmod(ends, count), axis=1)


def parents(faces: Ints) -> Ints:
    """The faces that `subdivided` made these of."""
    return faces.reshape(-1, 4, 3)[:, [0, 1, 2], [0, 1, 2]]


def subdivided_where(faces: Ints, ends: Ints, count: int, wanted: Bools) -> Ints:
    """The faces with those halves only of what `subdivided` made of a mesh that are wanted, and without gaps.

    faces  : (m, 3) of that mesh; some may have been split already
    ends   : (k, 2) of all halved edges, as `subdivided` gave them; count : of its vertices, so that the middles follow
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
