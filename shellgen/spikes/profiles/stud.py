"""A soft stud: the cap of a ball, set on a drum where it is higher than half a ball. Its tip is never sharp."""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.model import SpikeShape
from shellgen.spikes.body import SpikeBody
from shellgen.spikes.profiles._taper import ball, over

USES = ()


def body(shape: SpikeShape) -> SpikeBody:
    """Cap of the ball through the base circle and the top.

    References: spherical cap, R = (a^2 + h^2) / 2h.
    """
    radius, cap = shape.diameter / 2, min(shape.height, shape.diameter / 2)
    great = (radius**2 + cap**2) / (2 * cap)
    foot, centre = shape.height - cap, shape.height - great
    slope = (great - cap) / radius  # of the cap at its foot: the way it runs on below

    def side(s: Floats) -> Floats:
        return np.where(s < foot, radius - np.minimum(s, 0.0) * slope, ball(s, centre, great))

    rows = np.unique(np.concatenate([np.linspace(0, foot, 5), over(centre, great, foot)]))
    return SpikeBody(shape, shape.height, side, rows, great, (foot,))
