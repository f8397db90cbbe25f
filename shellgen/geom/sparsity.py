"""Assembly: the sparsity pattern of a stiffness matrix of vertices with three unknowns each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from shellgen.core.arrays import Bools, Floats, Int32s, Ints
from shellgen.geom.dissection import nested_dissection


@dataclass(frozen=True, slots=True, eq=False)
class Sparsity:
    """The pattern of the matrix of the free vertices, computed once for all steps of a search.

    order   : (k,) free vertices in the order of elimination; the matrix has 3 k rows
    free    : (k, 3) whether each may move along each axis
    target  : (m * 81,) entry of the compressed matrix to which each entry of a triangle is added; those of fixed
              vertices go one past the last
    plate   : (entries,) entries of the quadratic energy
    idle    : entries that are 1, for axes along which a vertex may not move
    indptr, indices : of the compressed matrix, rows and columns alike
    """

    order: Ints
    free: Bools
    target: Ints
    plate: Floats
    idle: Ints
    indptr: Int32s
    indices: Int32s

    def matrix(self, hessian: Floats, rigidity: float) -> sparse.csc_array:
        """(3 k, 3 k) sum of the triangles' matrices (m, 3, 3, 3, 3) and `rigidity` times the plate's."""
        entries, size = len(self.indices), len(self.indptr) - 1
        membrane = np.bincount(self.target, hessian.ravel(), minlength=entries + 1)[:entries]
        summed = membrane + rigidity * self.plate
        summed[self.idle] = 1.0
        return sparse.csc_array((summed, self.indices, self.indptr), shape=(size, size))


def sparsity(faces: Ints, plates: Sequence[sparse.csr_array], held: Bools, places: Floats, middle: Bools) -> Sparsity:
    """faces : (m, 3); held : (n,) bool, vertices without unknowns; middle : (n,) bool, those that stay in a plane y = 0

    plates : three (n, n) of one pattern, by axis
    places : (n, d) a layout of the vertices on which the order of elimination is found
    """
    n = len(held)
    bent = plates[0].tocoo()
    corner = np.repeat(faces, 3, axis=1).ravel(), np.tile(faces, (1, 3)).ravel()
    row, column = np.concatenate([corner[0], bent.row]), np.concatenate([corner[1], bent.col])
    rank = np.full(n, -1)
    free = np.flatnonzero(~held)
    rank[free] = np.arange(len(free))
    both = (rank[row] >= 0) & (rank[column] >= 0)
    links = np.column_stack([rank[row[both]], rank[column[both]]])
    order = free[nested_dissection(places[free], links[links[:, 0] < links[:, 1]])]
    rank[order] = np.arange(len(order))
    code, entry = np.unique(rank[row[both]] * n + rank[column[both]], return_inverse=True)
    slot = np.full(len(row), len(code))
    slot[both] = entry
    place, indptr, indices = _expanded(code // n, code % n, len(order))
    stiff = np.zeros(len(indices))
    first = len(corner[0])
    for axis, plate in enumerate(plates):
        stiff[place[slot[first:][both[first:]], axis, axis]] = plate.data[both[first:]]
    moving = np.ones((len(order), 3), bool)
    moving[:, 1] = ~middle[order]
    moves = moving[code // n][:, :, None] & moving[code % n][:, None, :]
    stiff[place[~moves]] = 0.0
    idle = place[code // n == code % n][:, range(3), range(3)][~moving]
    place = np.concatenate([np.where(moves, place, len(indices)), np.full((1, 3, 3), len(indices))])
    target = place[slot[:first].reshape(-1, 3, 3)].transpose(0, 1, 3, 2, 4)
    return Sparsity(order, moving, target.ravel(), stiff, idle, indptr, indices)


def _expanded(row: Ints, column: Ints, count: int) -> tuple[Ints, Int32s, Int32s]:
    """Blocks sorted by row and column as single entries, compressed: where each block's go, `indptr`, `indices`."""
    wide = np.bincount(row, minlength=count)
    first = np.concatenate([[0], np.cumsum(wide)])[row]
    axis = np.arange(3)
    start = 9 * first + 3 * (np.arange(len(row)) - first)
    place = start[:, None, None] + 3 * wide[row][:, None, None] * axis[:, None] + axis
    indices = np.empty(9 * len(row), np.int32)
    indices[place] = 3 * column[:, None, None] + axis
    indptr = np.concatenate([[0], np.cumsum(np.repeat(3 * wide, 3))]).astype(np.int32)
    return place, indptr, indices
