"""A pointed arch turned about its axis: upright at the base, full in the middle, with a rounded tip."""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError
from shellgen.model import SpikeShape
from shellgen.spikes.body import SpikeBody
from shellgen.spikes.profiles._taper import ball, check_tip, over

USES = ("tip_radius",)


def arch(shape: SpikeShape) -> float:
    """Radius of the arch: the circle that leaves the base upright and touches the ball of the tip.

    References: centres at (R - A, 0) and (0, h - t), A - t apart: A = (R^2 + (h - t)^2 - t^2) / 2 (R - t).
    """
    check_tip(shape)
    radius, tip, centre = shape.diameter / 2, shape.tip_radius, shape.height - shape.tip_radius
    if shape.height < radius or tip >= radius:
        raise GeometryError(
            "an ogive is at least half as high as it is wide and has a tip narrower than its base, not "
            f"{shape.height:g} mm high, {shape.diameter:g} mm wide, tip radius {tip:g} mm"
        )
    return (radius**2 + centre**2 - tip**2) / (2 * (radius - tip))


def body(shape: SpikeShape) -> SpikeBody:
    """Arc and cap of a ball that it touches."""
    radius, tip, centre = shape.diameter / 2, shape.tip_radius, shape.height - shape.tip_radius
    bow = arch(shape)
    end = min(centre * bow / (bow - tip), bow)  # as high as it is half wide, they are equal but for rounding

    def side(s: Floats) -> Floats:
        arc = np.sqrt(np.clip(bow**2 - np.clip(s, 0.0, None) ** 2, 0.0, None)) - (bow - radius)
        return np.where(s < end, arc, ball(s, centre, tip))

    rows = np.concatenate([bow * np.sin(np.linspace(0, np.arcsin(end / bow), 22)[:-1]), over(centre, tip, end)])
    return SpikeBody(shape, shape.height, side, rows, tip, (end,))
