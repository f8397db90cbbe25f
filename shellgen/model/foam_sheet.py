"""The foam sheet that the shell is made of, and where its faces lie."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FoamSheet:
    """Offsets are mm along the outward normal, from the outer face, so all of them are negative.

    neutral_axis : share of the thickness, from the inner face, where the foam keeps its length in forming
    """

    thickness: float
    neutral_axis: float = 0.5

    @property
    def inner_offset(self) -> float:
        """The inner face."""
        return -self.thickness

    @property
    def middle_offset(self) -> float:
        """Half-way between the faces."""
        return -self.thickness / 2

    @property
    def mid_offset(self) -> float:
        """The surface that keeps its length, on which the pattern is developed."""
        return -(1 - self.neutral_axis) * self.thickness
