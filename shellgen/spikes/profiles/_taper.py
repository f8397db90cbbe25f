"""A straight taper that ends in a ball, shared by the profiles that have one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError
from shellgen.model import SpikeShape

SAG = 0.01
"""mm by which facets may fall short of a ball: a tenth of the thinnest printed layer."""


@dataclass(frozen=True, slots=True, eq=False)
class Taper:
    """radius : at the base; half_angle : of the cone; ball : radius of the tip; centre : the ball's, along the spine"""

    radius: float
    half_angle: float
    ball: float
    centre: float

    @property
    def end(self) -> float:
        """Where cone and ball touch."""
        return float(self.centre + self.ball * np.sin(self.half_angle))

    @property
    def length(self) -> float:
        return self.centre + self.ball

    def __call__(self, s: Floats) -> Floats:
        """Radius at the distances `s` along the spine."""
        return np.where(s < self.end, self.radius - s * np.tan(self.half_angle), ball(s, self.centre, self.ball))

    def rows(self, count: int) -> Floats:
        """Sections: `count` even steps up the cone, then even angles over the ball."""
        return np.concatenate([np.linspace(0, self.end, count, endpoint=False), over(self.centre, self.ball, self.end)])


def ball(s: Floats, centre: float, radius: float) -> Floats:
    """Radius of a ball's sections; 0 beyond it."""
    return np.sqrt(np.clip(radius**2 - (s - centre) ** 2, 0.0, None))


def over(centre: float, radius: float, start: float) -> Floats:
    """Sections from `start` over a ball to its top, at even angles."""
    low = np.arcsin(np.clip((start - centre) / radius, -1, 1))
    count = 2 + int((np.pi / 2 - low) / (2 * np.arccos(max(0.0, 1 - SAG / radius))))
    rows = centre + radius * np.sin(np.linspace(low, np.pi / 2, count))
    rows[0], rows[-1] = start, centre + radius
    return rows


def check_tip(shape: SpikeShape) -> None:
    """GeometryError unless a ball of the tip's radius fits in the spike."""
    if not 0 < shape.tip_radius <= shape.diameter / 2 or shape.tip_radius >= shape.height:
        raise GeometryError(
            f"a tip of radius {shape.tip_radius:.4g} mm does not fit a spike ({shape.profile}) "
            f"{shape.diameter:.4g} mm across and "
            f"{shape.height:.4g} mm high: it must be at most {min(shape.diameter / 2, shape.height):.4g} mm"
        )


def taper(shape: SpikeShape) -> Taper:
    """The straight cone of the shape's base, height and tip.

    References: the flank touches the ball of radius t about (0, h - t): R cos a - (h - t) sin a = t.
    """
    check_tip(shape)
    radius, centre = shape.diameter / 2, shape.height - shape.tip_radius
    half = np.arccos(shape.tip_radius / np.hypot(radius, centre)) - np.arctan2(centre, radius)
    return Taper(radius, float(half), shape.tip_radius, centre)
