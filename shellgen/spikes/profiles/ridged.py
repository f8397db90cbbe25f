"""A cone with crisp ridges and soft valleys between them; they run out above the foot, which is round for the ring,
and below the tip.
"""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.model import SpikeShape
from shellgen.spikes.body import SpikeBody
from shellgen.spikes.profiles._taper import taper

USES = ("tip_radius", "ridges", "ridge_depth")
FOOT, RISE, FADE = 0.05, 0.3, 0.45
"""Shares of the flank: round foot, height over which the ridges rise, upper part in which they fade (chosen by eye)."""


def body(shape: SpikeShape) -> SpikeBody:
    """The cone of the ridges, with valleys cut into it."""
    side = taper(shape)

    def depth(s: Floats) -> Floats:
        share = np.asarray(s) / side.end
        rise = np.clip((share - FOOT) / RISE, 0, 1)
        fall = np.clip((1 - share) / FADE, 0, 1)
        return shape.ridge_depth * rise**2 * (3 - 2 * rise) * fall**2 * (3 - 2 * fall)

    return SpikeBody(shape, side.length, side, side.rows(40), shape.tip_radius, (side.end,), depth=depth)
