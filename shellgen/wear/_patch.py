"""Reinforcement patches: how large they must be for the glue, and their outlines."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np

from shellgen.canvas import frozen_array
from shellgen.core.arrays import Floats

LARGEST = 400.0
"""Largest side of a patch, mm (chosen: no shell has room for a larger one). A glue that needs more is a fault."""
STEP = 5.0
"""Patches are rounded up to this, mm (chosen: nobody cuts finer by hand)."""


@dataclass(frozen=True, slots=True, eq=False)
class Bond:
    """Load on the glue under a patch. 1 N/mm2 is 1000 kPa.

    angle  : of the pull off the foam, radians; 0 along it
    stress_kpa : pull over the patch's area
    peel   : N/mm, pull per width of the patch that peels it off at a right angle with the same effect
    """

    angle: float
    stress_kpa: float
    peel: float


@dataclass(frozen=True, slots=True, eq=False)
class AnchorPatch:
    """A rounded rectangle whose length lies along the pull (x). tab : length and width of the webbing sewn to it"""

    role: str
    length: float
    width: float
    tab: tuple[float, float]
    outline: Floats

    def __post_init__(self) -> None:
        object.__setattr__(self, "outline", frozen_array(self.outline))


def angle_off(pull: Floats, inward: Floats) -> float:
    """Angle between a pull (3,) and the foam with free normal `inward`; 0 if the pull presses on the foam."""
    return float(np.arcsin(np.clip(pull @ inward / np.linalg.norm(pull), 0.0, 1.0)))


def bond(pull: float, angle: float, length: float, width: float) -> Bond:
    """What a pull in N does to the glue of a patch of this size.

    References: a strip is peeled when F / b (1 - cos a) reaches its peel strength, which is F / b at a right angle
    (Rivlin, Paint Technology 9, 1944; Kendall, J. Phys. D 8, 1975, the strip not stretching).
    """
    return Bond(angle, 1000 * pull / (length * width), pull / width * (1 - float(np.cos(angle))))


def patch(
    role: str, pull: float, angle: float, strap: float, *, edge: float, stress_kpa: float, peel: float
) -> AnchorPatch:
    """The smallest patch that keeps a pull within the allowed stress and peel, and reaches `edge` beyond the tab.

    strap : width of the webbing; its tab is as long as it is wide, at least 25 mm. No side is beyond LARGEST: if the
    glue is too weak for that, the `bond` of such a patch is beyond what is allowed.
    """
    tab = max(25.0, strap), strap
    width = _up(max(tab[1] + 2 * edge, pull * (1 - np.cos(angle)) / peel))
    width = min(width, LARGEST)
    length = min(LARGEST, _up(max(tab[0] + 2 * edge, width, 1000 * pull / stress_kpa / width)))
    return AnchorPatch(role, length, width, tab, rounded_rectangle(length, width, min(edge, 15.0)))


def _up(value: float) -> float:
    return STEP * ceil(round(float(value) / STEP, 6))


def rounded_rectangle(length: float, width: float, radius: float) -> Floats:
    """(n, 2) rectangle around the origin, counter-clockwise, with round corners: sharp ones lift first."""
    quarter = np.linspace(0, np.pi / 2, 19)
    arcs = []
    for k, (sx, sy) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        middle = np.array([sx * (length / 2 - radius), sy * (width / 2 - radius)])
        turn = quarter + k * np.pi / 2
        arcs.append(middle + radius * np.column_stack([np.cos(turn), np.sin(turn)]))
    return np.vstack(arcs)
