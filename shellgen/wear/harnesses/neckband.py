"""A hidden band around the neck that carries the shell, with an optional belt around the hips."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from shellgen.fields import params as field
from shellgen.wear._strand import End, Strand
from shellgen.wear._torso import Torso
from shellgen.wear.harnesses.straps import belt

LETS_GO = 25.0
"""N at which the band's fastener opens. EN 71-1:2014+A1:2018 allows cords on children's costumes that part at 25 N,
because they then do not catch (quoted by a test house). We know no rule for adults, so the same holds for them."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    width: float = field.length(40.0, 10, 120, "Width of the band.")
    belt: bool = field.flag(True, "Whether a belt goes around the hips.")
    belt_width: float = field.length(40.0, 10, 150, "Width of the belt.")
    breakaway: bool = field.flag(True, "Whether the band has a fastener that opens by itself if the band gets caught.")


def strands(torso: Torso, params: Params) -> tuple[Strand, ...]:
    """The band goes over the base of the neck and around its front: only the neck carries it."""
    y = torso.neck_radius + params.width / 2
    fastener = "breakaway buckle" if params.breakaway else "side-release buckle"
    lets_go = LETS_GO if params.breakaway else None
    end = End(
        "neck",
        np.array([torso.shoulder_top(y), y, 0.0]),
        partial(torso.over_neck, y=y),
    )
    band = Strand("neck band", params.width, (end,), on_neck=True, buckles=((fastener, 1),), lets_go=lets_go)
    return (band, *belt(torso, params.belt_width)) if params.belt else (band,)
