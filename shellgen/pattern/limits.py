"""Limits for every piece, whatever the seam plan: how far it stretches, how large it is, how narrow its necks."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from shellgen.fields import params

NECK, NECK_THICKNESSES, NECK_PLATES = 30.0, 5.0, 0.45
"""The usual least neck, mm, and its upper limits in thicknesses of the foam and in plates (the root of their mean
area). Chosen: a line of a hexagon measures 0.62 of that root, and lines shorter than the neck must all be cut."""

SLACK, ROUNDING = 5e-4, 1.001
"""How far a stretch may exceed its limit before it is a fault, and by what factor before it is a caution. Chosen: half
of the last digit shown, and the effect of rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class Limits:
    """Limits for the pieces, whatever the plan."""

    plan: str = params.member("least", "shellgen.pattern.plans", "How the seams are chosen.")
    stretch_limit: float = params.ratio(
        0.03, 0.002, 0.15, "The most that foam may be stretched or compressed anywhere when a flat piece is formed."
    )
    sheet_length: float = params.length(1000.0, 150.0, 5000.0, "Longer side of the foam sheet or the cutter's bed.")
    sheet_width: float = params.length(1000.0, 150.0, 5000.0, "Shorter side of the foam sheet or the cutter's bed.")
    least_neck: float | None = params.length(
        None, 0.0, 200.0, "The least width a piece may have between two wider parts, so that it does not tear. If "
        "left out: 30 mm, less if the plates are small or the foam is thin.",
    )  # fmt: skip
    darts: bool = params.flag(True, "Whether a line may be cut in from a piece's edge and closed like a seam.")

    @property
    def neck(self) -> float:
        """The least neck, mm, as given or the usual one."""
        return NECK if self.least_neck is None else self.least_neck


def usual_neck(*, thickness: float, plate_area: float) -> float:
    """The least neck, mm, if none is given. plate_area : mean, mm2"""
    return min(NECK, NECK_THICKNESSES * thickness, NECK_PLATES * sqrt(plate_area))
