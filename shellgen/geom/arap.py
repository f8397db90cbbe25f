"""As-rigid-as-possible parameterisation: a few rounds give flattening a good start at little cost."""

from __future__ import annotations

import numpy as np
from scipy import sparse

from shellgen.core.arrays import Complexes, Floats, Ints
from shellgen.geom.factoring import Factoring, Solve
from shellgen.geom.sheets import Sheets
from shellgen.geom.vectors import sums

DAMPING = 1e-9
"""Share added to the diagonal, because nothing holds a free piece. Chosen: far below the stiffness, above rounding."""

HOLD = 1e12
"""Stiffness, relative to the largest in the matrix, that keeps held vertices on their line. Chosen: they move by
picometres."""


def rigid_rounds(pieces: Sheets, flat: Complexes, order: Ints, *, rounds: int = 4) -> Complexes:
    """(n,) complex, mm: each round takes the rotation of every triangle from `flat` (local step) and fits the
    vertices to the rotated triangles (global step).

    order : (n,) int, position of each vertex in a good order of elimination

    Triangles may fold; the caller must check. Rounds chosen: more than 4 save hardly any later steps of flattening.

    References: Liu, Zhang, Xu, Gotsman & Gortler, A Local/Global Approach to Mesh Parameterization, CGF 27(5), 2008.
    """
    slopes, areas = pieces.rest.slopes, pieces.rest.areas
    place, count = order[pieces.faces], len(flat)
    own = sums(place.ravel(), (2 * areas[:, None] * np.abs(slopes) ** 2).ravel(), count)
    tail, head, previous = np.roll(place, 1, axis=1), place, np.roll(slopes, 1, axis=1)
    between = 2 * areas[:, None] * (slopes * previous.conj()).real
    upper = np.minimum(tail, head).ravel(), np.maximum(tail, head).ravel()

    def factor(diagonal: Floats) -> Solve:
        at = tuple(np.append(part, np.arange(count)) for part in upper)
        matrix = sparse.coo_array((np.append(between, diagonal), at), shape=(count, count)).tocsc()
        coupled = int(np.bincount(pieces.vertex_piece).max())
        return Factoring(matrix.indices, matrix.indptr, coupled=coupled).factor(matrix.data)

    across = up = factor((1 + DAMPING) * own)
    if pieces.held.any():
        up = factor((1 + DAMPING) * own + np.where(pieces.held, HOLD * own.max(), 0.0)[np.argsort(order)])
    for _ in range(rounds):
        turning, _, size, _ = pieces.radii(flat)
        pull = (areas * turning / size)[:, None] * slopes
        x, y = (sums(place.ravel(), part.ravel(), count) for part in (pull.real, pull.imag))
        flat = (across(x) + 1j * up(y))[order]
        flat[pieces.held] = flat[pieces.held].real
    return flat
