"""Flattening with the least possible largest stretch: an interior-point method on bounds of the singular values.

Each piece has a level t. Its triangles must keep flat length over curved length between exp(-t) and exp(c t), where c
says how much compression counts as bad as stretch. A sum of powers of the levels is minimised: pieces without
mates reach their least t; of pieces tied by mates, those with the highest levels improve most.

With r = |a| and q = |b| (see `distortion`) the bounds are the cones u >= q, with u = exp(c t) - r and u = r - exp(-t),
written smoothly as h = u - q^2 / u >= 0. The first is convex; the second is made so by taking the turn of a as fixed
within a step, so every Newton matrix is a sum of squares.

References
----------
Levi & Zorin, Strict Minimizers for Geometric Optimization, ACM TOG 33(6), 2014 (largest distortion as the aim).
Lipman, Bounded Distortion Mapping Spaces for Triangular Meshes, ACM TOG 31(4), 2012 (the cones).
Nocedal & Wright, Numerical Optimization, 2nd ed., 2006, ch. 19 (primal-dual interior-point steps).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Bools, Complexes, Floats
from shellgen.errors import GeometryError
from shellgen.geom.hessian import Hessian
from shellgen.geom.mates import differences
from shellgen.geom.newton import dirichlet, element_matrices, longest_steps, relax
from shellgen.geom.sheets import LEVEL, SHEAR, SHEAR_TURN, SIZE, TURN, Sheets, frames

POWER, TIED_POWER = 2, 6
"""Power of the levels in that sum. Pieces without mates have the same result with any. With mates 6 was measured to
cost the worst piece of a shell 2 to 4 percent, 2 costs it 4 to 17, and 12 saves another 2 for three times the steps."""

MOST, LAST = 60, 240
"""Newton steps: after the first number the search ends as soon as mates are closed; after the second they are closed
whatever the largest stretch is. Chosen: far above the usual 4 to 8; a few test shells of many pieces take over 60."""

FLOOR = 0.05
"""Least level of pieces with mates over the greatest. Chosen: without one, a nearly flat piece may hardly move,
and its mates do not close."""

REGULARISATION = 0.01
"""Weight of the mean symmetric Dirichlet energy relative to the square of the level. Chosen: it determines the
triangles that the largest stretch leaves free, and raises that stretch by only a few thousandths."""

CLOSED, FAR_OPEN = 1e-3, 1e-2
"""Mm by which mates may differ: where the solver may stop, and where it has failed. Chosen: a hundredth of a
millimetre is a fifth of the tolerance of the pattern."""

MARGIN, KEEP = 0.98, 0.001
"""Largest share of the distance to a bound that a step may cover by its linear prediction, and least share of that
distance that must really be left. Customary values of interior-point methods."""

LAST_BARRIER = 0.5
"""The barrier is not lowered below this share of what `gap` asks for, so that the last steps are whole. Chosen."""

SPREAD = 10.0
"""Most by which a multiplier times its slack may differ from the target, either way. Chosen: 4 to 30 do equally well;
without a bound, a step that is cut short can leave pieces stuck."""

ROOM, ROUNDING = 1.1, 1e-6
"""First levels relative to the largest log stretch of the start, and what is added so that a flat piece has a level.
Chosen."""

CENTRING = 0.2
"""Factor by which each step lowers the barrier. Measured: a predictor that computes it takes as many steps, each 10 %
slower; with 0.1 and less, tied pieces may fail to converge."""


@dataclass(frozen=True, slots=True, eq=False)
class Optimum:
    """Pieces at their least levels.

    flat   : (n,) complex, mm
    levels : (pieces,) log of the largest stretch
    gap    : (pieces,) how far, as a share, a level may lie above the least one (by duality, turns taken as fixed)
    steps  : Newton steps taken
    """

    flat: Complexes
    levels: Floats
    gap: Floats
    steps: int


@dataclass(frozen=True, slots=True, eq=False)
class _Aim:
    """The sum of t^power / power, in units of `scale`^(power - 2), and the accuracy to which it is minimised."""

    compression: float
    gap: float
    power: int
    scale: float

    def derivative(self, levels: Floats) -> Floats:
        return levels * (levels / self.scale) ** (self.power - 2)

    def second_derivative(self, levels: Floats) -> Floats:
        return (self.power - 1) * (levels / self.scale) ** (self.power - 2)


@dataclass(frozen=True, slots=True, eq=False)
class _Cones:
    """Both bounds of every triangle, by the first index: u (2, m), h (2, m), and the gradients (2, 3, m) of u and of h
    by |a|, |b| and the level."""

    distance: Floats
    slack: Floats
    distance_gradient: Floats
    slack_gradient: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Iterate:
    """An iterate inside all cones. multipliers : (2, m) of the bounds; mate_multipliers : (k,) of the mates."""

    flat: Complexes
    levels: Floats
    cones: _Cones
    multipliers: Floats
    mate_multipliers: Floats


def largest_log_stretch(pieces: Sheets, flat: Complexes, compression: float) -> Floats:
    """(pieces,) least level that bounds each piece; flat : (n,) complex; `compression` is c above."""
    _, _, size, shear = pieces.radii(flat)
    return pieces.largest(np.maximum(np.log(size + shear) / compression, -np.log(size - shear)))


def minimise(matrix: Hessian, flat: Complexes, *, compression: float = 1.0, gap: float = 0.02) -> Optimum:
    """Lowers the levels of fold-free pieces, (n,) complex mm, until each is within `gap` of its least.

    Raises GeometryError if the mates cannot be made equal.
    """
    pieces = matrix.pieces
    levels = _floored(pieces, largest_log_stretch(pieces, flat, compression) + ROUNDING)
    aim = _Aim(compression, gap, POWER if pieces.mates is None else TIED_POWER, float(levels.max()))
    at = _begin(pieces, flat, ROOM * levels, aim)
    for steps in range(1, LAST + 1):
        at = _advance(matrix, at, aim)
        excess = pieces.total((at.multipliers * at.cones.slack).sum(axis=0)) / (at.levels * aim.derivative(at.levels))
        least = (excess <= gap) | ((at.levels < 1.01 * FLOOR * at.levels.max()) & (pieces.mates is not None))
        if mate_gap(pieces, at.flat) <= CLOSED and (least.all() or steps >= MOST):
            break
    flat = at.flat if mate_gap(pieces, at.flat) <= FAR_OPEN else relax(matrix, at.flat)
    if (left := mate_gap(pieces, flat)) > FAR_OPEN:
        raise GeometryError(f"the two sides of a seam still differ by {left:.2f} mm when laid flat")
    return Optimum(flat, largest_log_stretch(pieces, flat, compression), excess, steps)


def mate_gap(pieces: Sheets, flat: Complexes) -> float:
    """Mm by which mates differ at most."""
    return 0.0 if pieces.mates is None else float(np.abs(differences(pieces.mates, flat)).max(initial=0.0))


def _floored(pieces: Sheets, levels: Floats) -> Floats:
    return levels if pieces.mates is None else np.maximum(levels, FLOOR * levels.max())


def _begin(pieces: Sheets, flat: Complexes, levels: Floats, aim: _Aim) -> _Iterate:
    """All bounds with the same barrier, in balance with the derivative of the levels."""
    cones = _cones(pieces, flat, levels, aim.compression)
    pull = pieces.total((pieces.share * cones.slack_gradient[:, LEVEL] / cones.slack).sum(axis=0))
    barrier = aim.derivative(levels) / pull
    mate_multipliers = np.zeros(0 if pieces.mates is None else pieces.mates.weights.shape[0])
    return _Iterate(flat, levels, cones, barrier[pieces.piece] * pieces.share / cones.slack, mate_multipliers)


def _advance(matrix: Hessian, at: _Iterate, aim: _Aim) -> _Iterate:
    """One step towards a lower barrier."""
    pieces = matrix.pieces
    barrier = pieces.total((at.multipliers * at.cones.slack).sum(axis=0)) / 2
    least = LAST_BARRIER * aim.gap * at.levels * aim.derivative(at.levels) / 2
    target = np.maximum(CENTRING * barrier, least)[pieces.piece] * pieces.share
    move = _move(matrix, at, aim, target)
    steps = _primal_steps(pieces, at, move, aim)
    flat, levels = at.flat + steps[pieces.vertex_piece] * move.flat, _floored(pieces, at.levels + steps * move.levels)
    cones = _cones(pieces, flat, levels, aim.compression)
    multipliers = at.multipliers + _longest(pieces, at.multipliers, move.multipliers)[pieces.piece] * move.multipliers
    centre = target / cones.slack
    multipliers = np.clip(multipliers, centre / SPREAD, SPREAD * centre)
    return _Iterate(flat, levels, cones, multipliers, at.mate_multipliers + steps.min() * move.mate_multipliers)


def _cones(pieces: Sheets, flat: Complexes, levels: Floats, compression: float) -> _Cones:
    _, _, size, shear = pieces.radii(flat)
    level = levels[pieces.piece]
    upper, lower = np.exp(compression * level), np.exp(-level)
    distance = np.stack([upper - size, size - lower])
    distance_gradient = np.zeros((2, 3, len(size)))
    distance_gradient[0, SIZE], distance_gradient[1, SIZE] = -1.0, 1.0
    distance_gradient[0, LEVEL], distance_gradient[1, LEVEL] = compression * upper, lower
    with np.errstate(divide="ignore", invalid="ignore"):  # a step that goes too far is rejected by its result
        tilt = shear / distance
        slack = np.where(distance > 0, distance - tilt * shear, -np.inf)
        slack_gradient = (1 + tilt**2)[:, None] * distance_gradient
    slack_gradient[:, SHEAR] = -2 * tilt
    return _Cones(distance, slack, distance_gradient, slack_gradient)


@dataclass(frozen=True, slots=True, eq=False)
class _Move:
    """A Newton direction, and the growth of the slacks that it predicts."""

    flat: Complexes
    levels: Floats
    multipliers: Floats
    mate_multipliers: Floats
    slack: Floats


def _move(matrix: Hessian, at: _Iterate, aim: _Aim, target: Floats) -> _Move:
    """The Newton direction towards multiplier x slack = `target` (m,) in every cone, and closed mates.

    The multipliers are eliminated: multiplier = (target - multiplier x predicted growth of the slack) / slack.
    """
    pieces, cones = matrix.pieces, at.cones
    turning, shearing, size, shear = pieces.radii(at.flat)
    basis = frames(pieces, turning, shearing)
    weight = REGULARISATION * (aim.derivative(at.levels) / at.levels)[pieces.piece] * pieces.share
    gradient, hessian = dirichlet(size, shear)
    gradient *= weight
    hessian *= weight
    hessian[:3, :3] += _cone_curvature(at, shear)
    radial = gradient[SIZE] - (at.multipliers * cones.slack_gradient[:, SIZE]).sum(axis=0)
    hessian[TURN, TURN] = np.maximum(radial / size, 0)
    hessian[SHEAR_TURN, SHEAR_TURN] += (2 * at.multipliers / cones.distance).sum(axis=0)
    pull, gap = matrix.mate_state(at.flat)
    solve, penalty = matrix.factor(element_matrices(basis, hessian), aim.second_derivative(at.levels), pull)

    gradient[:3] -= np.einsum("km,kim->im", target / cones.slack, cones.slack_gradient)
    descent = -matrix.scatter(np.einsum("km,kjm->jm", gradient, basis))
    descent -= matrix.scatter_mates(pull, at.mate_multipliers + penalty * gap)
    descent[2 * len(pieces.points) :: 2] -= aim.derivative(at.levels)
    step = solve(descent)
    flat, levels = matrix.split(step)
    growth = np.einsum("kim,im->km", cones.slack_gradient, np.einsum("kjm,jm->km", basis[:3], matrix.gather(step)))
    multipliers = (target - at.multipliers * growth) / cones.slack - at.multipliers
    return _Move(flat, levels, multipliers, penalty * (gap + matrix.along_mates(pull, flat)), growth)


def _cone_curvature(at: _Iterate, shear: Floats) -> Floats:
    """(3, 3, m) second derivatives of the bounds by |a|, |b| and the level: of each the barrier's square and that of
    the curved q^2 / u, which is 2 / u times the square of (dq - q / u du)."""
    cones = at.cones
    curved = -(shear / cones.distance)[:, None] * cones.distance_gradient
    curved[:, SHEAR] = 1.0
    squares = np.concatenate(
        [
            np.sqrt(2 * at.multipliers / cones.distance)[:, None] * curved,
            np.sqrt(at.multipliers / cones.slack)[:, None] * cones.slack_gradient,
        ]
    )
    curvature: Floats = np.einsum("kim,kjm->ijm", squares, squares)
    return curvature


def _longest(pieces: Sheets, values: Floats, growth: Floats) -> Floats:
    """(pieces,) steps up to 1 that keep positive `values` (2, m) positive if they grow as predicted."""
    decline = pieces.largest((-growth / values).max(axis=0))
    return np.minimum(1.0, MARGIN / np.maximum(decline, MARGIN))


def _primal_steps(pieces: Sheets, at: _Iterate, move: _Move, aim: _Aim) -> Floats:
    """(pieces,) steps that really stay inside every cone."""

    def inside(steps: Floats) -> Bools:
        flat = at.flat + steps[pieces.vertex_piece] * move.flat
        after = _cones(pieces, flat, at.levels + steps * move.levels, aim.compression).slack
        return pieces.largest((KEEP * at.cones.slack - after).max(axis=0)) <= 0

    return longest_steps(inside, _longest(pieces, at.cones.slack, move.slack))
