"""A vest that is closed in front, to which the shell is fastened at four places."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from shellgen import params as preset
from shellgen.wear._strand import End, Strand
from shellgen.wear._torso import Torso


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    width: float = preset.length(90.0, 20, 200, "How much of the vest's shoulder carries, from neck side to arm side.")


def strands(torso: Torso, params: Params) -> tuple[Strand, ...]:
    """Cloth carries like a broad strap: over the shoulders, and from there slantwise to the sides of the waist."""
    y = torso.strap_y
    upper = End(
        "shoulder",
        np.array([torso.shoulder_top(y), y, 0.0]),
        partial(torso.over_shoulder, y=y, front=torso.armpit),
    )
    lower = End(
        "side",
        np.array([torso.lower_anchor, 0.8 * torso.half, 0.0]),
        partial(torso.round_body, y=y, level=torso.armpit, where="side", half=torso.half),
    )
    closing = ("zip or buckles in front of the vest", 1)
    return (Strand("vest", params.width, (upper, lower), cloth=True, buckles=(closing,)),)
