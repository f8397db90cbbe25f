"""Pieces that are flattened together, and the frame of each triangle in which isotropic energies are nearly diagonal.

References: Smith, de Goes & Kim, Analytic Eigensystems for Isotropic Distortion Energies, ACM TOG 38(1), 2019.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Bools, Complexes, Floats, Ints
from shellgen.geom.distortion import Rest, rest, wirtinger
from shellgen.geom.mates import Mates
from shellgen.geom.vectors import sums


@dataclass(frozen=True, slots=True, eq=False)
class Sheets:
    """Any number of pieces as one set of triangles.

    points, faces : (n, 3) mm and (m, 3) int; no vertex is shared between pieces
    piece   : (m,) int, piece of each triangle; `vertex_piece` (n,) of each vertex; `count` of them
    share   : (m,) area of each triangle over that of its piece
    held    : (n,) bool, vertices that slide along the line y = 0
    mates   : parts of the outlines that must have equal lengths, if any
    """

    points: Floats
    faces: Ints
    piece: Ints
    vertex_piece: Ints
    count: int
    rest: Rest
    share: Floats
    held: Bools
    mates: Mates | None

    def total(self, values: Floats) -> Floats:
        """(count,) sum over each piece's triangles."""
        return sums(self.piece, values, self.count)

    def largest(self, values: Floats) -> Floats:
        """(count,) maximum over each piece's triangles."""
        most = np.full(self.count, -np.inf)
        np.maximum.at(most, self.piece, values)
        return most

    def radii(self, flat: Complexes) -> tuple[Complexes, Complexes, Floats, Floats]:
        """Both halves of each triangle's map and their sizes: (a, b, |a|, |b|); flat : (n,) complex."""
        turning, shearing = wirtinger(self.rest.slopes, self.faces, flat)
        return turning, shearing, np.abs(turning), np.abs(shearing)


def sheets(
    points: Floats,
    faces: Ints,
    piece: Ints | None = None,
    *,
    held: Bools | None = None,
    mates: Mates | None = None,
) -> Sheets:
    """Gathers pieces; `piece` (m,) numbers each triangle's piece from 0 (default: all are one piece)."""
    owner = np.zeros(len(faces), dtype=np.int64) if piece is None else np.asarray(piece)
    measured = rest(points, faces)
    area = np.bincount(owner, measured.areas)
    vertex_piece = np.zeros(len(points), dtype=np.int64)
    vertex_piece[faces] = owner[:, None]
    fixed = np.zeros(len(points), dtype=bool) if held is None else held
    return Sheets(points, faces, owner, vertex_piece, len(area), measured, measured.areas / area[owner], fixed, mates)


SIZE, SHEAR, LEVEL, TURN, SHEAR_TURN = range(5)
"""Rows of a frame: |a|, |b|, the piece's level, the turn of a and that of b, each turn times its radius."""


def frames(pieces: Sheets, turning: Complexes, shearing: Complexes) -> Floats:
    """(5, 8, m) derivatives of a triangle's SIZE, SHEAR, LEVEL, TURN and SHEAR_TURN by its unknowns: x and y of its
    three corners, the level of its piece, and an unused one.

    An energy of the singular values |a| + |b| and |a| - |b| has a Hessian in this frame with one 2 x 2 block and two
    single entries, whatever the energy. Triangles are the last axis, here and in all arrays computed from this: sums
    over the few unknowns then run along all triangles at once.
    """
    slopes = pieces.rest.slopes.T
    basis = np.zeros((5, 8, slopes.shape[1]))
    for row, turn, half, weights in (
        (SIZE, TURN, turning, slopes.conj()),
        (SHEAR, SHEAR_TURN, shearing, slopes),
    ):
        size = np.abs(half)
        unit = np.divide(half, size, out=np.ones_like(half), where=size > 0)
        factor = unit.conj() * weights
        basis[row, 0:6:2], basis[row, 1:6:2] = factor.real, -factor.imag
        basis[turn, 0:6:2], basis[turn, 1:6:2] = factor.imag, factor.real
    basis[LEVEL, 6] = 1.0
    if pieces.held.any():
        basis[:, 1:6:2] *= ~pieces.held[pieces.faces].T
    return basis
