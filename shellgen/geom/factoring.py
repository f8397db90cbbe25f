"""Factors symmetric positive definite matrices of one pattern, again and again."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import qdldl
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import splu

MANY = 20_000
"""Coupled unknowns from which SuperLU's dense blocks are worth their overhead. Chosen: measured on round caps, where
both take as long; at a fifth of it QDLDL takes 0.6 of the time, on many small pieces 0.2."""


class Factoring:
    """The pattern in compressed columns, both triangles of it, in a good order of elimination.

    coupled : how many unknowns hang together

    References: Stellato et al., OSQP, Math. Prog. Comp. 12, 2020 (QDLDL); Li, SuperLU, ACM TOMS 31(3), 2005.
    """

    def __init__(self, indices: NDArray, indptr: NDArray, *, coupled: int) -> None:
        self.indices, self.indptr, self.many = indices, indptr, coupled >= MANY
        column = np.repeat(np.arange(len(indptr) - 1), np.diff(indptr))
        self._upper = np.flatnonzero(indices <= column)
        self._upper_indices = indices[self._upper]
        self._upper_indptr = np.searchsorted(column[self._upper], np.arange(len(indptr))).astype(np.int32)
        self._solver: qdldl.Solver | None = None

    def factor(self, data: NDArray) -> Callable[[NDArray], NDArray]:
        """Solves with the matrix of these entries, until the next one is factored."""
        size = len(self.indptr) - 1
        if self.many:
            matrix = sparse.csc_array((data, self.indices, self.indptr), shape=(size, size))
            return splu(matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, options={"SymmetricMode": True}).solve
        # QDLDL takes the older kind of sparse matrix only
        upper = sparse.csc_matrix((data[self._upper], self._upper_indices, self._upper_indptr), shape=(size, size))
        if self._solver is None:
            self._solver = qdldl.Solver(upper, upper=True)
        else:
            self._solver.update(upper, upper=True)
        return self._solver.solve
