"""Half of a sheet symmetric about the plane y = 0: half the unknowns, the same solution (symmetry reduction).

References: Bathe, Finite Element Procedures, 2nd ed. 2014, section 4.2 (symmetry conditions on a half model).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.geom.halfedges import ends, find

SYMMETRY_TOLERANCE = 1e-6
"""Difference in length between an edge and its mirror image, mm, that counts as rounding. Chosen: far below what a
knife can cut."""

REFLECTION = np.array([1.0, -1.0, 1.0])


@dataclass(frozen=True, slots=True, eq=False)
class HalfSheet:
    """faces : (m, 3) in the numbering of the half; middle : (k,) bool, vertices in the plane; rim : (r,) vertices

    vertices, triangles : (k,), (m,) of the whole sheet; image, away : (n,) for each vertex of the whole sheet the
    vertex of the half, and whether it is the mirror image of that one
    """

    faces: Ints
    middle: Bools
    rim: Ints
    vertices: Ints
    triangles: Ints
    image: Ints
    away: Bools

    def rest(self, whole: Floats) -> Floats:
        """(m, 3, 2) rest shapes, from those of the whole sheet."""
        return whole[self.triangles]

    def restrict(self, points: Floats) -> Floats:
        """(k, 3) positions from those (n, 3) of the whole sheet."""
        taken = points[self.vertices]
        taken[self.middle, 1] = 0.0
        return taken

    def prolong(self, points: Floats) -> Floats:
        """(n, 3) positions of the whole sheet from those (k, 3) of the half."""
        return points[self.image] * np.where(self.away[:, None], REFLECTION, 1.0)


def half_sheet(faces: Ints, mirror: Ints, rim: Ints) -> HalfSheet | None:
    """The half on one side of the plane; None if the plane does not divide the sheet in two.

    faces : (m, 3); mirror : (n,) the mirror image of each vertex, itself if in the plane; rim : (r,) vertices
    """
    middle = mirror == np.arange(len(mirror))
    ends = np.stack([faces, np.roll(faces, -1, axis=1)]).reshape(2, -1)
    ends = ends[:, ~middle[ends].any(axis=0)]
    graph = sparse.coo_array((np.ones(ends.shape[1]), tuple(ends)), shape=(len(mirror), len(mirror)))
    side = connected_components(graph, directed=False)[1]
    away = (side == side[np.flatnonzero(~middle)[-1]]) & ~middle
    corner = away[faces]
    triangles = np.flatnonzero(~corner.any(axis=1))
    crossed = corner.any(axis=1) & (~corner & ~middle[faces]).any(axis=1)
    if crossed.any() or (away[mirror] != ~away)[~middle].any() or middle[faces].all(axis=1).any():
        return None
    vertices = np.flatnonzero(~away)
    number = np.cumsum(~away) - 1
    image = number[np.where(away, mirror, np.arange(len(mirror)))]
    return HalfSheet(
        number[faces[triangles]], middle[vertices], number[rim[~away[rim]]], vertices, triangles, image, away
    )


def is_symmetric(faces: Ints, rest: Floats, mirror: Ints) -> bool:
    """Whether the rest shape (m, 3, 2) of every triangle mirrors that of its mirror image."""
    start, end = ends(faces)
    image = find((start, end), (mirror[end], mirror[start]))
    length = np.linalg.norm(np.roll(rest, -1, axis=1) - rest, axis=2).ravel()
    return bool((image >= 0).all() and np.abs(length - length[image]).max() < SYMMETRY_TOLERANCE)
