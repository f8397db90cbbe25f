"""A few rounds of the as-rigid-as-possible map: a cheap good start for flattening."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from shellgen.geom.factoring import Factoring
from shellgen.geom.sheets import Sheets

DAMPING = 1e-9
"""Share added to the diagonal, because a free piece may drift. Chosen: far below the stiffness, far above rounding."""

HOLD = 1e12
"""Stiffness, over the largest there is, that keeps held vertices on their line. Chosen: moves of a picometre."""


def rigid_rounds(pieces: Sheets, flat: NDArray, order: NDArray, *, rounds: int = 2) -> NDArray:
    """(n,) complex, mm: each round turns every triangle as `flat` has it and fits the vertices to the turned ones.

    order : (n,) int, place of each vertex in a good order of elimination

    May fold triangles; the caller looks. Chosen: after 2 rounds the rest of flattening takes hardly fewer steps.

    References: Liu, Zhang, Xu, Gotsman & Gortler, A Local/Global Approach to Mesh Parameterization, CGF 27(5), 2008.
    """
    slopes, areas = pieces.rest.slopes, pieces.rest.areas
    place, count = order[pieces.faces], len(flat)
    stiff = 2 * areas[:, None, None] * (slopes[:, :, None] * slopes[:, None, :].conj()).real
    at = (np.repeat(place, 3, axis=1).ravel(), np.tile(place, (1, 3)).ravel())
    matrix = sparse.triu(sparse.coo_array((stiff.ravel(), at), shape=(count, count)).tocsc(), format="csc")
    diagonal = matrix.diagonal()
    coupled = int(np.bincount(pieces.vertex_piece).max())
    across = up = _factor(matrix + sparse.diags_array(DAMPING * diagonal), coupled)
    if pieces.held.any():
        hold = np.where(pieces.held, HOLD * diagonal.max(), 0.0)[np.argsort(order)]
        up = _factor(matrix + sparse.diags_array(DAMPING * diagonal + hold), coupled)
    for _ in range(rounds):
        turning, _, size, _ = pieces.radii(flat)
        pull = (areas * turning / size)[:, None] * slopes
        x, y = (np.bincount(place.ravel(), part.ravel(), minlength=count) for part in (pull.real, pull.imag))
        flat = (across(x) + 1j * up(y))[order]
        flat[pieces.held] = flat[pieces.held].real
    return flat


def _factor(matrix: sparse.csc_array, coupled: int) -> Callable[[NDArray], NDArray]:
    matrix = sparse.csc_array(matrix)
    return Factoring(matrix.indices, matrix.indptr, coupled=coupled).factor(matrix.data)
