"""A mask laid flat, and what all kinds have in common."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.canvas import frozen_array
from shellgen.core.arrays import Floats
from shellgen.geom import loops
from shellgen.model import Ring, Spike, Surface

GIVE = 1.5
"""mm by which paper may slide over itself at one slit before there is another (chosen)."""
AROUND = 48
"""Places round a foot."""


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Mask:
    """One mask laid flat.

    kind    : "hood", "collar", "plate" or "band"
    outline : (n, 2) mm, counter-clockwise, not closed; holes : the same, clockwise or not, cut out
    slits   : (2, 2) mm lines to cut in from an edge
    overlap : mm by which the edges of each slit slide over each other
    serves  : names of the spikes or plates that it fits
    flips   : name of the mask of which it is the mirror image, if there is one
    """

    kind: str
    name: str
    outline: Floats
    holes: tuple[Floats, ...]
    slits: tuple[Floats, ...]
    overlap: float
    serves: tuple[str, ...]
    flips: str = ""


def foot(surface: Surface, spike: Spike, ring: Ring | None) -> Floats:
    """(n, 3) the outer foot of the ring, or of the spike without one."""
    if ring is None:
        return spike.base_curve
    return loops.offset(spike.base_curve, surface.normals(spike.seat_uv), ring.thickness)


def flipped(mask: Mask, name: str) -> Mask:
    """The mirror image, under its own name."""
    flip = np.array([1.0, -1.0])
    return Mask(
        mask.kind,
        name,
        frozen_array((mask.outline * flip)[::-1]),
        tuple(frozen_array(hole * flip) for hole in mask.holes),
        tuple(frozen_array(slit * flip) for slit in mask.slits),
        mask.overlap,
        (name,) if mask.serves else (),
        mask.name,
    )
