"""What is laid on sheets, and what comes of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.canvas import frozen_array
from shellgen.core.arrays import Floats
from shellgen.fields import params as field
from shellgen.model import Finding
from shellgen.workshop.nest.purchase import Stock
from shellgen.workshop.nest.strip import ROTATIONS

SHEET = Stock(length=1000.0, width=1000.0)
"""The sheet if none is named: half of the one metre by two that foam is sold in (common practice, no source)."""
EFFORT = {"quick": (1, 200), "normal": (1, 600), "thorough": (2, 2000)}
"""Tries per strip, and work in each as the search counts it (chosen: normal takes 1 to 3 s for forty pieces)."""
FIXED = 2
"""How many times the work where pieces may not turn freely: reports come faster until it is stuck (chosen)."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    """Laying the pieces on sheets of foam."""

    sheets: tuple[Stock, ...] = field.many(Stock, "Sheets and offcuts that you can get.", most=40, default=(SHEET,))
    separation: float = field.length(3.0, 0, 50, "Foam left between neighbouring cuts.")
    margin: float = field.length(5.0, 0, 100, "Foam left along the sheet's edges, which are seldom straight.")
    kerf: float = field.length(0.0, 0, 10, "Width of foam that the cutter burns or mills away; 0 for a knife.")
    rotations: str = field.choice(
        "free", tuple(ROTATIONS), "How pieces may be turned: freely, half round (grain), by quarters, not at all."
    )
    effort: str = field.choice(
        "normal", tuple(EFFORT), "How long to search; the result does not depend on the computer."
    )
    seed: int = field.count(1, 0, 10**6, "Another number tries other layouts.")


def effort(params: Params) -> tuple[int, int]:
    """Tries per strip and the work in each."""
    tries, work = EFFORT[params.effort]
    return tries, work if ROTATIONS[params.rotations] is None else FIXED * work


@dataclass(frozen=True, slots=True, eq=False)
class FlatPart:
    """One flat part to be cut from foam.

    outline : (n, 2) mm, simple, closed by its last side, textured side up
    grain   : angle of the direction, in the part, that lies along the sheet where turning is limited
    """

    name: str
    outline: Floats
    thickness: float
    grain: float = 0.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "outline", frozen_array(self.outline))


@dataclass(frozen=True, slots=True, eq=False)
class Placement:
    """A part turned by `angle` about its own origin, then moved by `shift`: mm from the sheet's lower left corner."""

    part: FlatPart
    angle: float
    shift: tuple[float, float]

    def moved(self, points: Floats) -> Floats:
        """(n, 2) points of the part where they lie on the sheet."""
        cos, sin = np.cos(self.angle), np.sin(self.angle)
        result: Floats = points @ np.array([[cos, sin], [-sin, cos]]) + self.shift
        return result

    @property
    def outline(self) -> Floats:
        return self.moved(self.part.outline)


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """One sheet and what is cut from it.

    placements : in the order in which they are cut
    used       : mm of its length that are cut into; what is beyond stays whole
    utilisation : area of the parts over that of the sheet
    gap, edge  : least distances measured between two parts and from a part to the sheet's edge, mm
    """

    name: str
    stock: Stock
    thickness: float
    placements: tuple[Placement, ...]
    used: float
    utilisation: float
    gap: float
    edge: float


@dataclass(frozen=True, slots=True, eq=False)
class Nest:
    """All sheets.

    bound    : fewest sheets that any layout could need, by area alone
    cost     : of the sheets, if every kind has a price
    left_out : names of the parts that are on no sheet; the findings say why
    """

    sheets: tuple[Sheet, ...]
    bound: int
    utilisation: float
    cost: float | None
    left_out: tuple[str, ...]
    findings: tuple[Finding, ...]
