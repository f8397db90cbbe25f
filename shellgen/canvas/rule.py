"""How a length is written for the maker: in millimetres, and also in inches where the paper size is in inches."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

INCH = 25.4
"""mm, exact by definition (NIST Handbook 44, appendix C)."""
SIXTEENTHS = 16
INCHES = ("Letter", "Tabloid")
"""Papers of makers who measure in inches."""


@dataclass(frozen=True, slots=True, eq=False)
class Rule:
    """inches : whether lengths are written in inches too"""

    inches: bool = False

    def mm(self, value: float, digits: int | None = 0) -> str:
        """A length: "560 mm", or "560 mm (22 1/16 in)"; with digits None, without trailing zeros."""
        text = f"{value:g} mm" if digits is None else f"{value:.{digits}f} mm"
        return f"{text} ({inch(value)})" if self.inches else text

    def size(self, sides: Iterable[float]) -> str:
        """Several lengths in one: "560 × 460 × 180 mm"."""
        whole = tuple(sides)
        text = " × ".join(f"{side:.0f}" for side in whole) + " mm"
        return f"{text} ({' × '.join(inch(side).removesuffix(' in') for side in whole)} in)" if self.inches else text

    def volume(self, value: float) -> str:
        """A volume, of mm3: "64 cm³", or "64 cm³ (3.9 in³)"."""
        text = f"{value / 1000:.0f} cm³"
        return f"{text} ({value / INCH**3:.1f} in³)" if self.inches else text

    def metres(self, value: float) -> str:
        """A long length, of mm."""
        text = f"{value / 1000:.2f} m"
        return f"{text} ({value / INCH / 12:.1f} ft)" if self.inches else text


METRIC = Rule()


def of(paper: str) -> Rule:
    return Rule(paper in INCHES)


def inch(value: float) -> str:
    """A length in inches to the sixteenth, as a rule reads: "22 1/16 in"; less than that is not nothing."""
    whole, part = divmod(round(abs(value) / INCH * SIXTEENTHS), SIXTEENTHS)
    if value and not (whole or part):
        return "under 1/16 in"
    sign = "-" if value < 0 else ""
    fraction = str(Fraction(part, SIXTEENTHS)) if part else ""
    return f"{sign}{' '.join(filter(None, [str(whole) if whole or not part else '', fraction]))} in"
