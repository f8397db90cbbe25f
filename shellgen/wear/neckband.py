"""A hidden band round the neck on which the shell hangs, with a belt round the hips if it is asked for."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from shellgen import params as preset
from shellgen.wear._strand import End, Strand
from shellgen.wear._torso import Torso
from shellgen.wear.straps import belt


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    width: float = preset.length(40.0, 10, 120, "Width of the band.")
    belt: bool = preset.flag(True, "Whether a belt goes round the hips.")
    belt_width: float = preset.length(40.0, 10, 150, "Width of the belt.")
    breakaway: bool = preset.flag(True, "Whether the band has a fastener that lets go by itself when it is caught.")


def strands(torso: Torso, params: Params) -> tuple[Strand, ...]:
    """The band lies over the roots of the neck and goes round its front: it bears on the neck and on nothing else."""
    y = torso.neck_radius + params.width / 2
    fastener = "breakaway buckle" if params.breakaway else "side-release buckle"
    end = End(
        "neck",
        np.array([torso.shoulder_top(y), y, 0.0]),
        partial(torso.over_neck, y=y),
    )
    band = Strand("neck band", params.width, (end,), on_neck=True, buckles=((fastener, 1),))
    return (band, *belt(torso, params.belt_width)) if params.belt else (band,)
