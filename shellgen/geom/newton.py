"""Projected Newton method on the symmetric Dirichlet energy of many flat triangles at once, without folds."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from shellgen.core.arrays import Bools, Complexes, Floats
from shellgen.geom.hessian import Hessian
from shellgen.geom.mates import differences
from shellgen.geom.sheets import LEVEL, SHEAR, SHEAR_TURN, SIZE, TURN, Sheets, frames

ARMIJO, CUT_BACK, LEAST_STEP = 1e-4, 0.8, 1e-6
"""Backtracking line search: share of the predicted decrease that must be reached, factor, and least step. Customary
values (Nocedal & Wright, Numerical Optimization, 2nd ed. 2006, section 3.1)."""

ROUNDING = 1e-12
"""Energies closer than this count as equal. Chosen: a few thousand roundings of the 4 of a rigid motion."""


def dirichlet(size: Floats, shear: Floats) -> tuple[Floats, Floats]:
    """Gradient (5, m) and Hessian (5, 5, m) of the symmetric Dirichlet energy in each triangle's frame.

    size, shear : (m,) |a| and |b|, see `distortion`

    The energy is g(|a| + |b|) + g(|a| - |b|) with g convex, so the only part of its Hessian that can be negative is
    the rotation of a. It is clamped at zero, which gives the nearest positive semidefinite matrix in closed form.

    References: Smith, de Goes & Kim, Analytic Eigensystems for Isotropic Distortion Energies, ACM TOG 38(1), 2019.
    """
    large, small = size + shear, size - shear
    slope_large, slope_small = 2 * large - 2 * large**-3, 2 * small - 2 * small**-3
    bend_large, bend_small = 2 + 6 * large**-4, 2 + 6 * small**-4
    gradient, hessian = np.zeros((5, len(size))), np.zeros((5, 5, len(size)))
    gradient[SIZE], gradient[SHEAR] = slope_large + slope_small, slope_large - slope_small
    hessian[SIZE, SIZE] = hessian[SHEAR, SHEAR] = bend_large + bend_small
    hessian[SIZE, SHEAR] = hessian[SHEAR, SIZE] = bend_large - bend_small
    hessian[TURN, TURN] = np.maximum(gradient[SIZE] / size, 0)
    hessian[SHEAR_TURN, SHEAR_TURN] = 4 + 4 * (large**2 + large * small + small**2) / (large * small) ** 3
    return gradient, hessian


def element_matrices(basis: Floats, hessian: Floats) -> Floats:
    """(8, 8, m) second derivatives by the unknowns, from (5, 5, m) in the frames `basis` (5, 8, m); their upper
    triangle, with zeros below it.

    The rotations are coupled neither to the rest nor to each other (see `frames`).
    """
    bent = np.empty_like(basis)
    bent[: LEVEL + 1] = np.einsum("klm,lim->kim", hessian[: LEVEL + 1, : LEVEL + 1], basis[: LEVEL + 1])
    for turn in (TURN, SHEAR_TURN):
        bent[turn] = hessian[turn, turn] * basis[turn]
    elements = np.zeros((8, *basis.shape[1:]))
    for row in range(7):  # the last unknown is unused
        np.einsum("km,kjm->jm", basis[:, row], bent[:, row:7], out=elements[row, row:7])
    return elements


def longest_steps(accepted: Callable[[Floats], Bools], start: Floats) -> Floats:
    """(count,) step lengths, cut back piece by piece from `start` until `accepted` (steps -> (count,) bool) holds.

    A piece for which no step is accepted does not move.
    """
    steps = start
    while not (fine := accepted(steps) | (steps == 0)).all():
        steps = np.where(fine, steps, CUT_BACK * steps)
        steps = np.where(steps < LEAST_STEP, 0.0, steps)
    return steps


def relax(matrix: Hessian, flat: Complexes, *, tolerance: float = 1.0, most: int = 60) -> Complexes:
    """(n,) complex, mm: fold-free flat pieces `flat` with lower symmetric Dirichlet energy and closed mates.

    Stops after the first step whose predicted decrease is below `tolerance` times the energy above that of a rigid
    motion.
    """
    pieces, tied = matrix.pieces, matrix.at is not None
    for _ in range(most):
        turning, shearing, size, shear = pieces.radii(flat)
        gradient, hessian = dirichlet(size, shear)
        basis = frames(pieces, turning, shearing)
        slope = pieces.share * np.einsum("km,kjm->jm", gradient, basis)
        pull, gap = matrix.mate_state(flat)
        elements = element_matrices(basis, pieces.share * hessian)
        solve, penalty = matrix.factor(elements, np.ones(pieces.count), pull)
        descent = -matrix.scatter(slope) - matrix.scatter_mates(pull, penalty * gap)
        step = solve(descent)
        predicted = pieces.total(-(slope * matrix.gather(step)).sum(axis=0))
        if tied:
            predicted = np.full(pieces.count, descent @ step)
        above = _energy(pieces, flat, penalty)
        flat = _descend(pieces, flat, matrix.split(step)[0], predicted, penalty)
        if (predicted <= tolerance * above + ROUNDING).all():
            break
    return flat


def _descend(pieces: Sheets, flat: Complexes, move: Complexes, predicted: Floats, penalty: float) -> Complexes:
    """Moves along `move` as far as the energy decreases enough, piece by piece unless mates couple them."""
    before = _energy(pieces, flat, penalty)

    def accepted(steps: Floats) -> Bools:
        after = _energy(pieces, flat + steps[pieces.vertex_piece] * move, penalty)
        return after <= before - ARMIJO * steps * predicted + ROUNDING

    return flat + longest_steps(accepted, np.ones(pieces.count))[pieces.vertex_piece] * move


def _energy(pieces: Sheets, flat: Complexes, penalty: float) -> Floats:
    """(count,) mean symmetric Dirichlet energy of each piece above that of a rigid motion, infinite if it folds.

    With mates: for every piece the sum over all pieces and the penalties of the mates.
    """
    _, _, size, shear = pieces.radii(flat)
    large, small = size + shear, np.where(size > shear, size - shear, np.inf)
    value = np.where(size > shear, large**2 + small**2 + large**-2 + small**-2 - 4, np.inf)
    energy = pieces.total(pieces.share * value)
    if pieces.mates is None:
        return energy
    gap = differences(pieces.mates, flat)
    return np.full(pieces.count, energy.sum() + 0.5 * penalty * gap @ gap)
