"""Geodesics on a smooth patch, which a taut tape follows, and the development of lines on it into the plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_banded
from scipy.optimize import NoConvergence, newton_krylov

from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError
from shellgen.geom.patches import SurfacePatch
from shellgen.geom.vectors import cross

STEPS = 24
"""Number of segments of a geodesic (even): its length on a shell is then accurate to 0.001 mm."""
ROUNDS = 80


@dataclass(frozen=True, slots=True, eq=False)
class Geodesics:
    """length : (k,) mm; heading : (k, 3) unit, initial direction of each; uv : (k, steps + 1, 2)"""

    length: Floats
    heading: Floats
    uv: Floats

    def __post_init__(self) -> None:
        for array in (self.length, self.heading, self.uv):
            array.setflags(write=False)


def shortest(
    patch: SurfacePatch, start: Floats, ends: Floats, *, offset: float = 0.0, steps: int = STEPS, close: float = 1e-10
) -> Geodesics:
    """The geodesics from `start` (2,) or (k, 2) to `ends` (k, 2) that are close to straight lines in the domain.

    close : the search ends after a step no larger than this, in the domain; the error of the lengths is its square

    GeometryError if the search does not converge, as beyond half the circumference of a sphere.

    References: geodesics as minima of the energy of a curve (do Carmo, Riemannian Geometry, 1992, chapter 9), by
    Gauss-Newton steps; lengths by Richardson's extrapolation.
    """
    share = np.linspace(0.0, 1.0, steps + 1)[None, :, None]
    uv = np.broadcast_to(start, ends.shape)[:, None] * (1 - share) + ends[:, None] * share
    for _ in range(ROUNDS):
        before = uv.copy()
        uv[:, 1:-1] += _step(patch, uv, offset)
        uv = _within(uv)
        moved = np.abs(uv - before).max(axis=(1, 2), initial=0.0)
        if moved.max(initial=0.0) < close:
            break
    for k in np.flatnonzero(moved >= close):
        uv[k] = _accelerated(patch, uv[k], offset, close)
    points = patch.points(uv.reshape(-1, 2), offset=offset).reshape(*uv.shape[:2], 3)
    fine = np.linalg.norm(np.diff(points, axis=1), axis=2).sum(axis=1)
    rough = np.linalg.norm(np.diff(points[:, ::2], axis=1), axis=2).sum(axis=1)
    tangent = patch.tangents(uv[:, 0], offset=offset)
    heading = np.einsum("kij,kj->ki", tangent, 4 * uv[:, 1] - 3 * uv[:, 0] - uv[:, 2])
    heading /= np.maximum(np.linalg.norm(heading, axis=1, keepdims=True), 1e-300)
    return Geodesics((4 * fine - rough) / 3, heading, uv)


def _within(uv: Floats) -> Floats:
    """The dome ends at its rim."""
    return np.asarray(uv / np.maximum(1.0, np.hypot(uv[..., 0], uv[..., 1]))[..., None])


def _accelerated(patch: SurfacePatch, uv: Floats, offset: float, close: float) -> Floats:
    """(steps + 1, 2) one geodesic whose Gauss-Newton steps shrink too slowly, as on very steep domes.

    References: D. Knoll, D. Keyes, Jacobian-free Newton-Krylov methods, J. Comput. Phys. 193 (2004); the Gauss-Newton
    step is the preconditioned gradient.
    """

    def residual(inner: Floats) -> Floats:
        path = _within(np.vstack([uv[:1], inner.reshape(-1, 2), uv[-1:]]))
        return np.asarray(_step(patch, path[None], offset)[0].ravel())

    try:
        found = newton_krylov(residual, uv[1:-1].ravel(), f_tol=close, maxiter=ROUNDS)
    except NoConvergence as error:
        text = "no shortest path on the dome was found; check whether the dome is more than a hemisphere"
        raise GeometryError(text) from error
    return _within(np.vstack([uv[:1], found.reshape(-1, 2), uv[-1:]]))


def _step(patch: SurfacePatch, uv: Floats, offset: float) -> Floats:
    """(k, steps - 1, 2) one Gauss-Newton step of all geodesics: a single banded system of independent blocks."""
    shape = uv.shape[:2]
    points = patch.points(uv.reshape(-1, 2), offset=offset).reshape(*shape, 3)
    tangent = patch.tangents(uv.reshape(-1, 2), offset=offset).reshape(*shape, 3, 2)
    pull = points[:, :-2] + points[:, 2:] - 2 * points[:, 1:-1]
    inner = tangent[:, 1:-1]
    side = np.einsum("knij,kni->knj", inner, pull).reshape(-1)
    same = 2 * np.einsum("knij,knil->knjl", inner, inner)
    after = -np.einsum("knij,knil->knjl", inner[:, :-1], inner[:, 1:])
    after = np.concatenate([after, np.zeros((len(uv), 1, 2, 2))], axis=1)  # geodesics are independent of each other
    same, after = same.reshape(-1, 2, 2), after.reshape(-1, 2, 2)
    band = np.zeros((7, len(side)))
    for i in range(2):
        for j in range(2):
            band[3 + i - j, j::2] = same[:, i, j]
            band[3 + i - j - 2, 2 + j :: 2] = after[:-1, i, j]
            band[3 + i - j + 2, j:-2:2] = after[:-1, j, i]
    # 1e-12 keeps a geodesic of length zero solvable
    band[3] += 1e-12
    return np.asarray(solve_banded((3, 3), band, side)).reshape(len(uv), -1, 2)


def developed(points: Floats, normals: Floats) -> Floats:
    """(n, 2) a line on a surface developed into the plane: each step keeps its length, each turn its angle in the
    tangent plane. The line starts along x. A narrow paper strip of this shape follows the line without a crease.

    points, normals : (n, 3)

    References: geodesic curvature is preserved by developing the strip of tangent planes (do Carmo, Differential
    Geometry of Curves and Surfaces, 1976, section 4-4).
    """
    step = np.diff(points, axis=0)
    turn = np.array([]) if len(step) < 2 else _turns(step[:-1], step[1:], normals[1:-1])
    heading = np.concatenate([[0.0], np.cumsum(turn)])
    flat = np.linalg.norm(step, axis=1)[:, None] * np.stack([np.cos(heading), np.sin(heading)], axis=1)
    return np.vstack([[0.0, 0.0], np.cumsum(flat, axis=0)])


def _turns(before: Floats, after: Floats, normal: Floats) -> Floats:
    """(n,) signed angle about `normal` from one step to the next, both projected to the tangent plane."""
    first = before - (before * normal).sum(axis=1, keepdims=True) * normal
    second = after - (after * normal).sum(axis=1, keepdims=True) * normal
    return np.asarray(np.arctan2((cross(first, second) * normal).sum(axis=1), (first * second).sum(axis=1)))


def angle_between(along: Floats, other: Floats, normal: Floats) -> float:
    """Counter-clockwise about `normal` from one direction to the other, both projected to the tangent plane."""
    first, second = along - (along @ normal) * normal, other - (other @ normal) * normal
    return float(np.arctan2(cross(first, second) @ normal, first @ second))
