"""Two shoulder straps that go on under the arms, and a belt around the hips."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from shellgen.fields import params as field
from shellgen.wear._shoulders import shoulder_ends
from shellgen.wear._strand import End, Strand
from shellgen.wear._torso import Torso


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    width: float = field.length(40.0, 10, 120, "Width of the shoulder straps; padding may make them wider.")
    belt: bool = field.flag(True, "A belt around the hips steadies the shell and relieves the shoulders.")
    belt_width: float = field.length(40.0, 10, 150, "Width of the belt.")


def strands(torso: Torso, params: Params) -> tuple[Strand, ...]:
    """Shoulder straps like those of a rucksack, each from a place near the neck edge over the shoulder, down the chest
    and under the arm to a place near the waist.
    """
    strap = Strand("shoulder strap", params.width, shoulder_ends(torso, "flank"), buckles=(("side-release buckle", 1),))
    return (strap, *belt(torso, params.belt_width)) if params.belt else (strap,)


def belt(torso: Torso, width: float) -> tuple[Strand, ...]:
    """A belt from both sides around the hips to the front."""
    end = End(
        "hip",
        np.array([torso.belt_anchor, 0.9 * torso.hips, 0.0]),
        partial(torso.round_body, y=0.0, level=None, where="hip", half=torso.hips),
    )
    return (Strand("belt", width, (end,), buckles=(("side-release buckle", 1),)),)
