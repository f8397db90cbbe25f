"""A straight cone with a rounded tip."""

from __future__ import annotations

from shellgen.model import SpikeShape
from shellgen.spikes.body import SpikeBody
from shellgen.spikes.profiles._taper import taper

USES = ("tip_radius",)


def body(shape: SpikeShape) -> SpikeBody:
    """Frustum and cap of a ball that it touches."""
    side = taper(shape)
    return SpikeBody(shape, side.length, side, side.rows(14), shape.tip_radius, (side.end,))
