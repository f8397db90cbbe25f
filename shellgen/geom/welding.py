"""Welds flat pieces edge to edge, each seam by arc length, as glue and marks do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import splu

from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.geom.curves import arc_length
from shellgen.geom.membrane import lay_flat
from shellgen.geom.triangles import boundary_edges, cotangent_laplacian

Chains = Sequence[tuple[Ints, Ints]]


@dataclass(frozen=True, slots=True, eq=False)
class Welded:
    """One sheet from many.

    vertex : (k,) welded vertex of each vertex of the pieces, numbered from 0
    rest   : (m, 3, 2) each triangle as cut, counter-clockwise even if the piece was given face down
    length : (s, 2) length of both flat sides of each seam, mm
    """

    vertex: Ints
    rest: Floats
    length: Floats


def weld(flat: Floats, faces: Ints, seams: Chains) -> Welded:
    """Joins the two sides of every seam, start to start and end to end.

    flat  : (k, 2) vertices of all pieces, mm; no vertex is shared between pieces
    faces : (m, 3)
    seams : two chains of vertices each, of equal number

    Where the vertices of two mates divide them differently, both are divided again at the mean of their fractions of
    arc length; the outline does not change, and the triangles inside follow smoothly.
    """
    moved = flat.copy()
    fixed = np.zeros(len(flat), bool)
    fixed[boundary_edges(faces).ravel()] = True
    length = np.zeros((len(seams), 2))
    for index, pair in enumerate(seams):
        along = [arc_length(flat[chain]) for chain in pair]
        length[index] = along[0][-1], along[1][-1]
        share = (along[0] / along[0][-1] + along[1] / along[1][-1]) / 2
        for chain, own in zip(pair, along, strict=True):
            for axis in range(2):
                moved[chain, axis] = np.interp(share * own[-1], own, flat[chain, axis])
    placed = flat + _harmonic(flat, faces, moved - flat, fixed)
    ends = np.concatenate([np.column_stack(pair) for pair in seams]) if seams else np.zeros((0, 2), int)
    joined = sparse.coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(len(flat),) * 2)
    vertex = connected_components(joined, directed=False)[1]
    return Welded(vertex, lay_flat(placed[faces]), length)


def _harmonic(flat: Floats, faces: Ints, shift: Floats, fixed: Bools) -> Floats:
    """(k, 2) the harmonic field that equals `shift` where `fixed`; no vertex moves farther than those.

    References: Pinkall & Polthier, Computing Discrete Minimal Surfaces and Their Conjugates, 1993 (the Laplacian).
    """
    if not shift.any():
        return shift
    stiff = cotangent_laplacian(flat, faces)
    free = ~fixed
    field = shift.copy()
    field[free] = splu(stiff[free][:, free].tocsc()).solve(-(stiff[free][:, fixed] @ shift[fixed]))
    return field
