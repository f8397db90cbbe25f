"""Sparse factorisation of symmetric positive definite matrices that share one sparsity pattern."""

from __future__ import annotations

from collections.abc import Callable

import qdldl
from scipy import sparse
from scipy.sparse.linalg import splu

from shellgen.core.arrays import Floats, Int32s, Numbers

MANY = 20_000
"""Number of coupled unknowns above which SuperLU's dense blocks are worth their overhead. Chosen: measured on caps,
where both take equally long; at a fifth of it QDLDL takes 0.6 of the time, on many small pieces 0.2."""


Solve = Callable[[Floats], Floats]
"""Right-hand side (n,) to solution (n,)."""


def solver(matrix: sparse.csc_array) -> Solve:
    """Factors a symmetric positive definite matrix whose rows are in a good order of elimination.

    References: Li, An Overview of SuperLU, ACM TOMS 31(3), 2005.
    """
    factors = splu(matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    solve: Solve = factors.solve
    return solve


class Factoring:
    """The pattern in compressed columns of the upper triangle. From `MANY` coupled unknowns on, the caller must
    provide a good elimination order; below that, QDLDL finds one.

    coupled : number of unknowns coupled to each other

    References: Stellato et al., OSQP, Math. Prog. Comp. 12, 2020 (QDLDL); Li, SuperLU, ACM TOMS 31(3), 2005.
    """

    def __init__(self, indices: Int32s, indptr: Int32s, *, coupled: int) -> None:
        self.indices, self.indptr, self.many = indices, indptr, coupled >= MANY
        self._solver: qdldl.Solver | None = None

    def factor(self, data: Numbers) -> Solve:
        """Factors the matrix with these entries. The solver returned is valid until the next one is factored."""
        size = len(self.indptr) - 1
        # QDLDL accepts only the older class of sparse matrices
        upper = sparse.csc_matrix((data, self.indices, self.indptr), shape=(size, size))
        if self.many:
            matrix = sparse.csc_array(upper + sparse.triu(upper, 1).T)
            return solver(matrix)
        if self._solver is None:
            self._solver = qdldl.Solver(upper, upper=True)
        else:
            self._solver.update(upper, upper=True)
        solve: Solve = self._solver.solve
        return solve
