"""Straps or cloth over the shoulders and down to the waist."""

from __future__ import annotations

from functools import partial

import numpy as np

from shellgen.wear._strand import End
from shellgen.wear._torso import Torso


def shoulder_ends(torso: Torso, waist: str) -> tuple[End, End]:
    """From near the neck edge over the shoulder, down the chest and under the arm to a place near the waist.

    waist : name of the lower place
    """
    y = torso.strap_y
    upper = End(
        "shoulder",
        np.array([torso.shoulder_top(y), y, 0.0]),
        partial(torso.over_shoulder, y=y, front=torso.armpit),
    )
    lower = End(
        waist,
        np.array([torso.lower_anchor, 0.8 * torso.half, 0.0]),
        partial(torso.round_body, y=y, level=torso.armpit, where=waist, half=torso.half),
    )
    return upper, lower
