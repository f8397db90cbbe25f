"""A straight cone with a rounded tip."""

from __future__ import annotations

from shellgen.model import SpikeShape
from shellgen.spikes.body import Body
from shellgen.spikes.profiles._taper import taper

USES = ("tip_radius",)


def body(shape: SpikeShape) -> Body:
    """Frustum and cap of a ball that it touches."""
    side = taper(shape)
    return Body(shape, side.length, side, side.rows(14), shape.tip_radius, (side.end,))
