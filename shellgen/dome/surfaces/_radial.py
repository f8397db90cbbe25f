"""A dome seen from the middle of its rim: in every direction it stands at one distance.

    x, y, z = r(s) (a p, b q, c w)

with s = (p, q, w) on the unit hemisphere and r a smooth function even in q. The rim w = 0 lies in z = 0, both halves
are mirror images, and as long as r > 0 the surface cannot meet itself. An ellipsoid has r = 1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.dome.surfaces import _dome
from shellgen.dome.surfaces._dome import Dome, Jet, blank
from shellgen.errors import GeometryError
from shellgen.geom import hemisphere_basis, patches
from shellgen.geom.hemisphere_basis import Fitter, Series

OVERHANG = np.radians(15.0)
"""How far the wall may lean in over the rim. Chosen: a steep scan smoothed leans a few degrees either way; more would
pinch the wearer, and the edging would have to turn under."""

FIRST = 1e-7
"""Strength of smoothing used to find outliers (chosen: follows all that a dome may have, and no single cell)."""


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Radial:
    """The embedding above. half : (3,) a, b, c in mm; distance : r, see `geom.hemisphere_basis`."""

    distance: Series
    half: Floats

    def __call__(self, p: Floats, q: Floats, w: Floats, /, *, order: int = 2) -> Jet:
        value, first, second = self.distance.sums(p, q, w)
        jet = blank(len(p))
        for i, (s, size) in enumerate(zip((p, q, w), self.half, strict=True)):
            jet.value[:, i] = size * (value * s)
            if order > 0:
                jet.first[..., i] = size * (first * s)
                jet.first[i, :, i] += size * value
            if order > 1:
                jet.second[..., i] = size * (second * s)
                jet.second[i, :, :, i] += size * first
                jet.second[:, i, :, i] += size * first
        return jet


def check(dome: Dome) -> float:
    """How far the wall leans in over the rim, radians. GeometryError if it folds, leans in beyond OVERHANG, or bends
    more tightly than foam.
    """
    uv = patches.polar_grid(np.linspace(0, 1, 41)[1:], 96)
    points, normal, tangent = dome.points(uv), dome.normals(uv), dome.tangents(uv)
    element = np.cross(tangent[..., 0], tangent[..., 1])
    s = _dome.sphere(uv)
    if ((points * s).sum(axis=1) <= 0).any() or ((element * normal).sum(axis=1) <= 0).any():
        raise GeometryError("the scan folds over itself seen from the middle of the cut: cut it higher")
    lean = float(np.arcsin(np.clip(-normal[:, 2].min(), 0, 1)))
    if lean > OVERHANG:
        raise GeometryError(
            f"the scan's wall leans in by {np.degrees(lean):.0f} degrees over the cut, allowed are "
            f"{np.degrees(OVERHANG):.0f}: cut it higher, where it is widest"
        )
    return lean


def tightest(dome: Dome) -> float:
    """Least radius over which the outer face bends outward, mm."""
    uv = patches.polar_grid(np.linspace(0, 1, 41)[1:], 96)
    return float(1 / max(patches.curvatures(dome, uv).max(), 1e-9))


def prepared(s: Floats, distance: Floats, weights: Floats, *, degree: int) -> Fitter:
    """The fit of r = `distance` at s, at any strength of smoothing. Samples far off count less, then nothing."""
    basis = hemisphere_basis.basis(degree)
    table, bending = basis.design(s), basis.bending()
    trust = hemisphere_basis.trusted(table, bending, distance, weights, strength=FIRST)
    return hemisphere_basis.fitter(basis, table, bending, distance, weights * trust)
