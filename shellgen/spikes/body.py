"""The side of a spike: a section swept along a plane spine, from under its base to its tip.

The spike's own frame has its origin on the shell, z along the axis and x along the turning line, to which curved
spikes bend. Sections stand square to the spine. Below the base the side runs on as it began, so that it reaches a
shell that falls away.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from shellgen.core import registry
from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError
from shellgen.model import SpikeShape

PROFILES = "shellgen.spikes.profiles"


def straight(s: Floats) -> tuple[Floats, Floats, Floats]:
    """The spine of an upright spike: x, z and the angle from z, at the distances `s` along it."""
    return np.zeros_like(s), s, np.zeros_like(s)


def smooth_round(s: Floats) -> Floats:
    """No ridges anywhere."""
    return np.zeros_like(s)


@dataclass(frozen=True, slots=True, eq=False)
class SpikeBody:
    """One profile with figures. What is called follows from the figures alone, so it counts for no content of its own.

    length : along the spine from the base to the tip
    radius : mm at the distances s <= length along the spine (s < 0 below the base), before ovalling
    spine  : as `straight`
    depth  : of the ridges' valleys over the radius, at s
    rows   : (k,) where sections are set, ascending from 0 to `length`, close enough for the profile's own curves
    tip    : smallest radius of curvature at the tip, before ovalling
    joints : distances at which one curve of the side ends and the next begins
    """

    shape: SpikeShape
    length: float
    radius: Callable[[Floats], Floats] = field(compare=False)
    rows: Floats
    tip: float
    joints: tuple[float, ...] = ()
    spine: Callable[[Floats], tuple[Floats, Floats, Floats]] = field(default=straight, compare=False)
    depth: Callable[[Floats], Floats] = field(default=smooth_round, compare=False)

    @property
    def oval(self) -> float:
        """Width across the turning line over the length along it."""
        return self.shape.width / self.shape.diameter

    def points(self, s: Floats, angle: Floats) -> Floats:
        """(..., 3) points of the side at distances s and angles about the spine, which broadcast together."""
        s, angle = np.broadcast_arrays(np.asarray(s, float), np.asarray(angle, float))
        reach = self.radius(s) * (1 - self.depth(s) * np.abs(np.sin(0.5 * self.shape.ridges * angle)))
        along, across = reach * np.cos(angle), self.oval * reach * np.sin(angle)
        turn = self.shape.twist * s / self.length
        along, across = (
            along * np.cos(turn) - across * np.sin(turn),
            along * np.sin(turn) + across * np.cos(turn),
        )
        x, z, heading = self.spine(s)
        return np.stack([x + along * np.cos(heading), across, z - along * np.sin(heading)], axis=-1)

    def section_area(self, s: Floats) -> Floats:
        """(n,) mm2 of the sections at s.

        References: integral of (1 - d |sin(n a / 2)|)^2 / 2 over the turn is pi - 4 d + pi d^2 / 2 for every n.
        """
        d = self.depth(s)
        return self.oval * self.radius(s) ** 2 * (np.pi - 4 * d + 0.5 * np.pi * d * d)

    def volume(self) -> float:
        """mm3 above a flat base: the sections' areas summed along the spine.

        The section's centre of area lies on the spine, so that the bend keeps the volume.
        References: Goodman and Goodman, "Generalizations of the theorems of Pappus", Amer. Math. Monthly 76, 1969.
        """
        node, weight = np.polynomial.legendre.leggauss(24)
        low, high = self.rows[:-1, None], self.rows[1:, None]
        s = 0.5 * (low + high) + 0.5 * (high - low) * node
        return float((0.5 * (high - low) * weight * self.section_area(s)).sum())


@lru_cache(maxsize=256)
def make(shape: SpikeShape) -> SpikeBody:
    """The body of the shape's profile. GeometryError for figures that the profile cannot have."""
    if not (shape.height > 0 and shape.diameter > 0 and shape.width > 0):
        raise GeometryError(
            f"a {shape.profile} needs a height and a base, not {shape.height:g} on {shape.diameter:g} mm"
        )
    body: SpikeBody = registry.load(PROFILES, shape.profile).body(shape)
    return body
