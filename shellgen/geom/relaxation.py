"""Static equilibrium of a thin elastic sheet: least membrane and bending energy, some vertices fixed.

A sheet that must rise out of the plane buckles and gets stuck in dents. It is therefore inflated first, and the
pressure is reduced in steps (continuation); each step is a Newton search that ends when no vertex moves any more.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.geom.bending import plate_matrix
from shellgen.geom.factoring import Solve, solver
from shellgen.geom.membrane import Membrane, membrane
from shellgen.geom.sparsity import Sparsity, sparsity
from shellgen.geom.vectors import cross

Plates = tuple[sparse.csr_array, sparse.csr_array, sparse.csr_array]

ARMIJO = 1e-4
"""Armijo constant: share of the decrease predicted by the slope to be reached (Nocedal & Wright 2006, ch. 3)."""
ROUNDING = 1e-16
"""Share of the sum of an energy's terms, in absolute value, that may be lost to rounding (IEEE 754, half a unit)."""
LEAST_SHARE = 1e-9
"""Share of a step below which the search gives up. Chosen."""
SOLVED = 0.1
"""Residual, relative, to which a Newton step is solved. Chosen: a closer solve saved no step."""
MOST_INNER = 30
"""Conjugate gradient steps allowed per Newton step before the matrix is factored again. Chosen by timing."""
STALE = 15
"""Conjugate gradient steps above which the next step factors again. Chosen by timing."""
MOST_STEPS = 200
"""Newton steps per stage; sheets without defects need 4 to 12. Chosen: such a long search does not converge."""
LONGEST = 0.1
"""Longest move of a vertex in one step, as a share of the sheet's extent. Chosen: a rough start stays stable."""


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """One step of the continuation.

    rigidity  : bending over membrane stiffness, mm2; t^2 / 12 (1 - poisson^2) for a plate of thickness t
    pressure  : over Young's modulus times thickness, per mm, outward
    precision : the search ends when no vertex moves farther than this, mm
    """

    rigidity: float
    pressure: float
    precision: float


@dataclass(frozen=True, slots=True, eq=False)
class Relaxed:
    """points : (n, 3) mm; steps, factored : number of Newton steps and of factorisations; converged : whether the last
    stage ended"""

    points: Floats
    steps: int
    factored: int
    converged: bool


def volume(points: Floats, faces: Ints) -> float:
    """mm3 between the sheet and the origin; with a fixed boundary only its change matters."""
    first, second, third = np.moveaxis(points[faces], 1, 0)
    return float((first * cross(second, third)).sum() / 6)


@dataclass(frozen=True, slots=True, eq=False)
class ElasticSheet:
    """A sheet ready to be relaxed: its two stiffnesses, and the pattern of the matrix of its free vertices.

    plates : stiffness in bending, by axis
    pull   : (n, 3) force of its natural curvature, per unit of rigidity; zero for a flat sheet
    """

    membrane: Membrane
    plates: Plates
    matrix: Sparsity
    pull: Floats

    def energy(self, points: Floats, stage: Stage) -> float:
        """mm2, per unit of Young's modulus times thickness."""
        bent = stage.rigidity * float((points * (0.5 * _bent(self.plates, points) - self.pull)).sum())
        return self.membrane.energy(points) + bent - stage.pressure * volume(points, self.membrane.faces)

    def rounding(self, points: Floats, rigidity: float) -> float:
        """Energies that differ by less than this, mm2, count as equal."""
        size = np.abs(points)
        bent = rigidity * float((size * _bent(tuple(map(abs, self.plates)), size)).sum())
        return ROUNDING * (bent + float(self.membrane.area.sum()))

    def slope(self, points: Floats, stage: Stage, force: Floats) -> Floats:
        """(n, 3) gradient of the energy; force : (m, 3, 3) the membrane's part by corner and axis."""
        faces = self.membrane.faces
        corner = points[faces]
        pressure_force = cross(np.roll(corner, -1, axis=1), np.roll(corner, -2, axis=1)) * (stage.pressure / 6)
        entry = 3 * faces[:, :, None] + np.arange(3)
        summed = np.bincount(entry.ravel(), (force - pressure_force).ravel(), minlength=points.size).reshape(-1, 3)
        return summed + stage.rigidity * (_bent(self.plates, points) - self.pull)


def _bent(plates: Plates, points: Floats) -> Floats:
    return np.stack([plate @ along for plate, along in zip(plates, points.T, strict=True)], axis=1)


def sheet(
    rest: Floats, faces: Ints, held: Bools, places: Floats,
    *, poisson: float, curved: Floats | None = None, middle: Bools | None = None,
) -> ElasticSheet:  # fmt: skip
    """The sheet with the rest shapes `rest` (m, 3, 2) of its triangles, flat at rest.

    held   : (n,) bool, fixed vertices; places : (n, d) a layout for the elimination order, the less folded the better
    curved : (n, 3) positions with the natural curvature, if not flat; `s * positions` for a share s of it. It acts as
             fixed forces, which do not rotate with the sheet: accurate for a few degrees
    middle : (n,) bool, vertices in the plane y = 0, beyond which the sheet continues as its mirror image

    Raises GeometryError if a triangle of `rest` has no area.
    """
    plate = across = plate_matrix(rest, faces, poisson=poisson, middle=middle)
    if middle is not None:
        across = plate_matrix(rest, faces, poisson=poisson, middle=middle, across=True)
    plates = plate, across, plate
    pull = np.zeros((len(held), 3)) if curved is None else _bent(plates, curved)
    pattern = sparsity(faces, plates, held, places, np.zeros(len(held), bool) if middle is None else middle)
    return ElasticSheet(membrane(rest, faces, poisson=poisson), plates, pattern, pull)


def relax(sheet: ElasticSheet, start: Floats, stages: Iterable[Stage]) -> Relaxed:
    """Equilibrium from `start` (n, 3) through the stages, one after the other.

    Each Newton step is solved by conjugate gradients on the true Hessian. Their preconditioner is the factored
    convex part of the Hessian of an earlier step, kept while it is effective: a factorisation costs thirty solves.

    References: Nocedal & Wright, Numerical Optimization, 2nd ed. 2006, alg. 7.1 (line search Newton-CG).
    """
    search = _Descent(sheet, np.array(start, dtype=float))
    converged = all([search.stage(stage) for stage in stages])
    return Relaxed(search.points, search.steps, search.factored, converged)


class _Descent:
    """The state of one search: positions, and the factors in use."""

    def __init__(self, sheet: ElasticSheet, points: Floats) -> None:
        self.sheet, self.points = sheet, points
        self.solve: Solve | None = None
        self.steps = self.factored = 0
        self.longest = LONGEST * float(np.ptp(points, axis=0).max())

    def stage(self, stage: Stage) -> bool:
        for _ in range(MOST_STEPS):
            self.steps += 1
            slope, step = self._direction(stage)
            reach = float(np.abs(step).max())
            share = self._advance(stage, step, float((slope * step).sum()), min(1.0, self.longest / reach))
            if share < 1:
                self.solve = None
            if share == 0 or (share == 1 and reach < stage.precision):
                return share == 1
        return False

    def _direction(self, stage: Stage) -> tuple[Floats, Floats]:
        """(k, 3) slope and Newton step of the free vertices."""
        force, hessian = self.sheet.membrane.derivatives(self.points, convex=False)
        at = self.sheet.matrix
        slope = self.sheet.slope(self.points, stage, force)[at.order] * at.free
        matrix = at.matrix(hessian, stage.rigidity).T  # symmetric: products are faster by rows than by columns
        while True:
            fresh = self.solve is None
            solve = self.solve or self._factor(stage)
            step, inner, negative = _conjugate_gradients(matrix, -slope.ravel(), solve)
            if fresh or not (negative or inner >= MOST_INNER):
                self.solve = None if inner > STALE else solve
                return slope, step.reshape(-1, 3)
            self.solve = None

    def _factor(self, stage: Stage) -> Solve:
        _, hessian = self.sheet.membrane.derivatives(self.points, convex=True)
        matrix = self.sheet.matrix.matrix(hessian, stage.rigidity)
        self.factored += 1
        return solver(matrix)

    def _advance(self, stage: Stage, step: Floats, slope: float, share: float) -> float:
        """Moves by the largest share of the step that decreases the energy enough, and returns it; 0 if none does."""
        before = self.sheet.energy(self.points, stage) + self.sheet.rounding(self.points, stage.rigidity)
        while share > LEAST_SHARE:
            moved = self.points.copy()
            moved[self.sheet.matrix.order] += share * step
            if self.sheet.energy(moved, stage) <= before + ARMIJO * share * slope:
                self.points = moved
                return share
            share /= 2
        return 0.0


def _conjugate_gradients(matrix: sparse.csr_array, right: Floats, solve: Solve) -> tuple[Floats, int, bool]:
    """Preconditioned by `solve`: the solution, the number of steps, and whether it stopped at a direction of negative
    curvature.

    References: Steihaug, The Conjugate Gradient Method and Trust Regions, SIAM J. Numer. Anal. 20(3), 1983.
    """
    found, left = np.zeros_like(right), right.copy()
    ahead = guide = solve(left)
    size = first = float(left @ guide)
    for inner in range(1, MOST_INNER + 1):
        pull = matrix @ ahead
        stiffness = float(ahead @ pull)
        if stiffness <= 0:
            return (found if inner > 1 else ahead), inner, True
        share = size / stiffness
        found = found + share * ahead
        left = left - share * pull
        guide = solve(left)
        before, size = size, float(left @ guide)
        if size <= SOLVED**2 * first:
            break
        ahead = guide + size / before * ahead
    return found, inner, False
