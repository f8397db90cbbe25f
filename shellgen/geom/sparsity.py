"""Where the stiffness of each triangle goes in one sparse matrix of vertices with three unknowns each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from shellgen.geom.dissection import nested_dissection


@dataclass(frozen=True, slots=True, eq=False)
class Sparsity:
    """The pattern of the matrix of the free vertices, found once for all steps of a search.

    order   : (k,) free vertices in the order of elimination; the matrix has 3 k rows
    target  : (m * 81,) entry of the compressed matrix that each of a triangle's is added to; those of held vertices
              go to one past the last
    plate   : (entries,) what a quadratic energy, the same for every axis, adds
    indptr, indices : of the compressed matrix, rows and columns alike
    """

    order: NDArray
    target: NDArray
    plate: NDArray
    indptr: NDArray
    indices: NDArray

    def matrix(self, hessian: NDArray, rigidity: float) -> sparse.csc_array:
        """(3 k, 3 k) sum of the triangles' matrices (m, 3, 3, 3, 3) and `rigidity` times the plate's."""
        entries, size = len(self.indices), len(self.indptr) - 1
        summed = np.bincount(self.target, hessian.ravel(), minlength=entries + 1)[:entries]
        return sparse.csc_array((summed + rigidity * self.plate, self.indices, self.indptr), shape=(size, size))


def sparsity(faces: NDArray, plate: sparse.csr_array, held: NDArray, places: NDArray) -> Sparsity:
    """faces : (m, 3); plate : (n, n); held : (n,) bool, vertices without unknowns; places : (n, d) any layout of the
    vertices without folds, on which the order of elimination is found."""
    n = len(held)
    bent = plate.tocoo()
    corner = np.repeat(faces, 3, axis=1).ravel(), np.tile(faces, (1, 3)).ravel()
    row, column = np.concatenate([corner[0], bent.row]), np.concatenate([corner[1], bent.col])
    value = np.concatenate([np.zeros(len(corner[0])), bent.data])
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
    stiffness = np.bincount(entry, value[both], minlength=len(code))
    place, indptr, indices = _expanded(code // n, code % n, len(order))
    stiff = np.zeros(len(indices))
    stiff[place[:, range(3), range(3)]] = stiffness[:, None]
    place = np.concatenate([place, np.full((1, 3, 3), len(indices))])
    target = place[slot[: len(corner[0])].reshape(-1, 3, 3)].transpose(0, 1, 3, 2, 4)
    return Sparsity(order, target.ravel(), stiff, indptr, indices)


def _expanded(row: NDArray, column: NDArray, count: int) -> tuple[NDArray, NDArray, NDArray]:
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
