"""Distortion of triangles between the curved surface and the plane.

Points of the plane are written as complex numbers x + iy. The linear map of a triangle is then
w -> a w + b conj(w): `a` turns and scales, `b` shears, and the singular values are |a| + |b| and |a| - |b|.
They are flat length over curved length; the stretch of the foam is the inverse.

References
----------
Lipman, Bounded Distortion Mapping Spaces for Triangular Meshes, ACM TOG 31(4), 2012 (the similarity and
anti-similarity parts of the map, its Wirtinger derivatives).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Complexes, Floats, Ints
from shellgen.errors import GeometryError

SLIVER = 1e-9
"""Least height over longest side of a triangle whose map is still usable. Chosen: far above rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class Rest:
    """The curved triangles: the reference configuration.

    areas  : (m,) mm2
    slopes : (m, 3) complex, half the gradient of each corner's hat function in the triangle's own plane, 1/mm
    """

    areas: Floats
    slopes: Complexes


def rest(points: Floats, faces: Ints) -> Rest:
    """Measures curved triangles. points : (n, 2 or 3) mm; faces : (m, 3). GeometryError if one has no area."""
    corner = points[faces]
    first, second = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    base = np.sqrt((first * first).sum(axis=1))
    longest = np.maximum(base, np.sqrt((second * second).sum(axis=1)))
    along = (first * second).sum(axis=1) / np.where(base > 0, base, 1)
    across = second - first * (along / np.where(base > 0, base, 1))[:, None]
    height = np.sqrt((across * across).sum(axis=1))
    bad = np.flatnonzero(~((base > SLIVER * longest) & (height > SLIVER * longest)))
    if len(bad):
        raise GeometryError(
            f"triangle {bad[0]} has no area ({base[bad[0]]:.3g} x {height[bad[0]]:.3g} mm); remesh there"
        )
    own = np.stack([np.zeros_like(base), base, along + 1j * height], axis=1)
    opposite = own[:, [2, 0, 1]] - own[:, [1, 2, 0]]
    return Rest(0.5 * base * height, 0.5j * opposite / (base * height)[:, None])


def wirtinger(slopes: Complexes, faces: Ints, flat: Complexes) -> tuple[Complexes, Complexes]:
    """(m,), (m,) complex: the Wirtinger derivatives of each map: a, rotation and scale; b, shear. flat : (n,)."""
    corner = flat[faces]
    return np.einsum("mk,mk->m", corner, slopes.conj()), np.einsum("mk,mk->m", corner, slopes)


def singular_values(points: Floats, faces: Ints, flat: Floats) -> Floats:
    """(m, 2) smallest and largest flat length over curved length; the smallest is negative where the flat folds.

    points : (n, 3) mm, curved; flat : (n, 2) mm
    """
    turning, shearing = wirtinger(rest(points, faces).slopes, faces, flat[:, 0] + 1j * flat[:, 1])
    size, shear = np.abs(turning), np.abs(shearing)
    return np.stack([size - shear, size + shear], axis=1)


def stretches(points: Floats, faces: Ints, flat: Floats) -> Floats:
    """(m, 2) smallest and largest curved length over flat length: below 1 the foam is compressed in forming.

    Raises GeometryError if the flat piece folds over.
    """
    values = singular_values(points, faces, flat)
    if (values[:, 0] <= 0).any():
        raise GeometryError(f"the flat piece has triangles that are folded over: {int((values[:, 0] <= 0).sum())}")
    return 1 / values[:, ::-1]
