"""In-plane elasticity of a thin sheet of triangles, each with a flat rest shape (constant-strain triangles).

Energies are in units of Young's modulus times thickness, so they are in mm2.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats, Ints
from shellgen.errors import GeometryError


def lay_flat(corners: Floats) -> Floats:
    """(m, 3, 2) each triangle on its own in the plane, counter-clockwise, first corner at the origin.

    corners : (m, 3, 2 or 3)
    """
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    length = np.linalg.norm(first, axis=1)
    along = (first * second).sum(axis=1) / length
    across = np.sqrt(np.maximum((second * second).sum(axis=1) - along**2, 0))
    flat = np.zeros((len(corners), 3, 2))
    flat[:, 1, 0], flat[:, 2, 0], flat[:, 2, 1] = length, along, across
    return flat


def plane_stress(poisson: float) -> Floats:
    """(3, 3) stiffness on (e11, e22, 2 e12) of a sheet in plane stress, with unit Young's modulus.

    References: Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959, ch. 2.
    """
    return np.array([[1, poisson, 0], [poisson, 1, 0], [0, 0, (1 - poisson) / 2]]) / (1 - poisson**2)


@dataclass(frozen=True, slots=True, eq=False)
class Membrane:
    """Triangles that resist stretch by the St. Venant-Kirchhoff law.

    faces  : (m, 3) int
    slopes : (m, 3, 2) gradient of each corner's hat function on the flat triangle, per mm
    area   : (m,) flat, mm2
    law    : (3, 3) plane stress

    References: Bonet & Wood, Nonlinear Continuum Mechanics for Finite Element Analysis, 2nd ed. 2008, ch. 6.
    """

    faces: Ints
    slopes: Floats
    area: Floats
    law: Floats

    def deformation(self, points: Floats) -> Floats:
        """(m, 3, 2) deformation gradients."""
        return np.swapaxes(points[self.faces], 1, 2) @ self.slopes

    def _strain(self, gradient: Floats) -> Floats:
        first, second = gradient[:, :, 0], gradient[:, :, 1]
        return np.stack(
            [
                ((first * first).sum(axis=1) - 1) / 2,
                ((second * second).sum(axis=1) - 1) / 2,
                (first * second).sum(axis=1),
            ],
            axis=1,
        )

    def energy(self, points: Floats) -> float:
        """mm2, per unit of Young's modulus times thickness."""
        strain = self._strain(self.deformation(points))
        return float(0.5 * self.area @ ((strain @ self.law) * strain).sum(axis=1))

    def derivatives(self, points: Floats, *, convex: bool) -> tuple[Floats, Floats]:
        """(m, 3, 3) gradient by corner and axis, and (m, 3, 3, 3, 3) Hessian by corner, axis, corner, axis.

        convex : keep only the tensile part of the stress stiffness, so that the Hessian is positive semidefinite

        References: Teran et al., Robust Quasistatic Finite Elements and Flesh Simulation, SCA 2005, on
        projecting element by element; the split into material and stress part gives it in closed form here.
        """
        gradient = self.deformation(points)
        stress = (self._strain(gradient) @ self.law) * self.area[:, None]
        tensor = stress[:, [0, 2, 2, 1]].reshape(-1, 2, 2)
        force = np.swapaxes(gradient @ (tensor @ np.swapaxes(self.slopes, 1, 2)), 1, 2)
        one, two = self.slopes[:, :, 0, None], self.slopes[:, :, 1, None]
        first, second = gradient[:, None, :, 0], gradient[:, None, :, 1]
        moved = np.stack([one * first, two * second, one * second + two * first], axis=1).reshape(-1, 3, 9)
        material = np.swapaxes(moved, 1, 2) @ ((self.law @ moved) * self.area[:, None, None])
        hessian = material.reshape(-1, 3, 3, 3, 3)
        kept = _tension(tensor) if convex else tensor
        stiffening = self.slopes @ kept @ np.swapaxes(self.slopes, 1, 2)
        for axis in range(3):
            hessian[:, :, axis, :, axis] += stiffening
        return force, hessian


def membrane(rest: Floats, faces: Ints, *, poisson: float) -> Membrane:
    """The sheet with the rest shapes `rest` (m, 3, 2) of its triangles, mm.

    Raises GeometryError if one of them is clockwise or has no area.
    """
    first, second = rest[:, 1] - rest[:, 0], rest[:, 2] - rest[:, 0]
    twice = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
    if not (twice > 0).all():
        raise GeometryError(f"flat triangles that are clockwise or have no area: {int((~(twice > 0)).sum())}")
    one = np.stack([second[:, 1], -second[:, 0]], axis=1) / twice[:, None]
    two = np.stack([-first[:, 1], first[:, 0]], axis=1) / twice[:, None]
    return Membrane(faces, np.stack([-one - two, one, two], axis=1), twice / 2, plane_stress(poisson))


def _tension(tensor: Floats) -> Floats:
    """The positive semidefinite part of symmetric (m, 2, 2) matrices."""
    mean = (tensor[:, 0, 0] + tensor[:, 1, 1]) / 2
    half = np.hypot((tensor[:, 0, 0] - tensor[:, 1, 1]) / 2, tensor[:, 0, 1])
    high, low = np.maximum(mean + half, 0), np.maximum(mean - half, 0)
    # f(T) = slope * (T - mean) + (f(high) + f(low)) / 2 for a 2 x 2 matrix with eigenvalues mean +- half
    slope = np.divide(high - low, 2 * half, out=np.zeros_like(half), where=half > 0)
    whole, same = np.eye(2), (high + low) / 2
    return np.asarray(slope[:, None, None] * (tensor - mean[:, None, None] * whole) + same[:, None, None] * whole)
