"""How a quantity is written for the maker: metric, and in inches, pounds and so on too if the paper is in inches."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

INCH = 25.4
"""mm, exact by definition (NIST Handbook 44, appendix C)."""
OUNCE, POUND, FLUID_OUNCE = 28.349523125, 453.59237, 29.5735295625
"""g, g and mL: exact by definition, or with far more digits than a scale shows (NIST Handbook 44, appendix C)."""
FOOT = 12
"""in."""
SIXTEENTHS = 16
INCHES = ("Letter", "Tabloid")
"""Papers of makers who measure in inches."""

Written = tuple[list[str], str]
"""Numbers and the unit that they share."""


@dataclass(frozen=True, slots=True, eq=False)
class Rule:
    """inches : whether quantities are written in inches, pounds and so on too"""

    inches: bool = False

    def both(self, text: str) -> str:
        """The text, with every metric quantity in the other units too, unless they follow it already.

        Lines of a preset, such as "thickness: 15 mm", stay as they are.

        >>> Rule(True).both("hang 16 kg from a strap of 40 x 3 mm (spikes: base: 40 mm)")
        'hang 16 kg (35.3 lb) from a strap of 40 x 3 mm (1 9/16 x 1/8 in) (spikes: base: 40 mm)'
        """
        return _QUANTITY.sub(_added, text) if self.inches else text

    def other(self, number: float, unit: str) -> str:
        """A metric figure in the other unit, such as "22 1/16 in"; "" if none is needed."""
        text = f"{number:f}".rstrip("0").rstrip(".")
        return self.both(f"{text} {unit}").removeprefix(f"{text} {unit}").strip(" ()")

    def mm(self, value: float, digits: int | None = 0) -> str:
        """A length: "560 mm", or "560 mm (22 1/16 in)"; with digits None, without trailing zeros."""
        text = f"{value:g} mm" if digits is None else f"{value:.{digits}f} mm"
        return f"{text} ({inch(value)})" if self.inches else text

    def size(self, sides: Iterable[float]) -> str:
        """Several lengths in one: "560 × 460 × 180 mm"."""
        return self.both(" × ".join(f"{side:.0f}" for side in sides) + " mm")

    def volume(self, value: float) -> str:
        """A volume, of mm3: "64 cm³", or "64 cm³ (3.9 in³)"."""
        return self.both(f"{value / 1000:.0f} cm³")

    def metres(self, value: float) -> str:
        """A long length, of mm."""
        return self.both(f"{value / 1000:.2f} m")


METRIC = Rule()
_WITHIN = re.compile(
    r"(?<=\d) (?=\d+/\d|(?:[ckm]?m[²³]?|k?g|mL|°C|°F|in[²³]?|ft²?|fl oz|oz|lb|%|N|kPa)(?![\w²³]))|(?<=\d ft) (?=\d)"
)


def unbroken(text: str) -> str:
    """The text with no-break spaces within its quantities, so that no line ends in one.

    >>> unbroken("cut 560 mm (22 1/16 in) of 40 x 3 mm").count("\\xa0")
    4
    """
    return _WITHIN.sub("\xa0", text)


def of(paper: str) -> Rule:
    return Rule(paper in INCHES)


def inch(value: float, parts: int = SIXTEENTHS) -> str:
    """A length in inches to the sixteenth, as a rule reads: "22 1/16 in"; less than that is not nothing."""
    whole, part = divmod(round(abs(value) / INCH * parts), parts)
    if value and not (whole or part):
        return f"under 1/{parts} in"
    sign = "-" if value < 0 else ""
    fraction = str(Fraction(part, parts)) if part else ""
    return f"{sign}{' '.join(filter(None, [str(whole) if whole or not part else '', fraction]))} in"


def _lengths(values: Sequence[float], digits: int) -> Written:
    """As a rule reads; less than an inch with digits after the point is computed, not measured, and keeps them."""
    if digits and max(values) < INCH:
        return [f"{value / INCH:.{digits + 2}f}" for value in values], "in"
    return [inch(value).removesuffix(" in") for value in values], "in"


def _feet(values: Sequence[float], _: int) -> Written:
    """As a tape measure reads, to the nearest inch: "10 ft 3 in"."""
    return [_tape(round(value / INCH)) for value in values], ""


def _tape(inches: int) -> str:
    feet, rest = divmod(inches, FOOT)
    return " ".join([*([f"{feet} ft"] if feet else []), *([f"{rest} in"] if rest or not feet else [])])


def _masses(values: Sequence[float], _: int) -> Written:
    size, unit = (OUNCE, "oz") if max(values) < POUND else (POUND, "lb")
    return [f"{value / size:.1f}" for value in values], unit


def _fluids(values: Sequence[float], _: int) -> Written:
    ounces = [value / FLUID_OUNCE for value in values]
    return [f"{value:.{1 if max(ounces) >= 1 else 2}f}" for value in ounces], "fl oz"


def _times(size: float, digits: int, unit: str) -> Callable[[Sequence[float], int], Written]:
    return lambda values, _: ([f"{value / size:.{digits}f}" for value in values], unit)


_OTHER: dict[str, tuple[float, Callable[[Sequence[float], int], Written]]] = {
    "mm": (1.0, _lengths),
    "cm": (10.0, lambda values, _: _lengths(values, 0)),
    "m": (1000.0, _feet),
    "g": (1.0, _masses),
    "kg": (1000.0, _masses),
    "mL": (1.0, _fluids),
    "mm²": (1.0, _times(INCH**2, 1, "in²")),
    "cm²": (100.0, _times(INCH**2, 0, "in²")),
    "m²": (1.0, _times((FOOT * INCH / 1000) ** 2, 1, "ft²")),
    "cm³": (1000.0, _times(INCH**3, 1, "in³")),
    "°C": (1.0, lambda values, _: ([f"{value * 1.8 + 32:.0f}" for value in values], "°F")),
}
"""Of each metric unit, its size in what the function takes, and how the other unit is written."""
_RAISED = str.maketrans("23", "²³")
_NUMBER = r"\d+(?:\.\d+)?"
_QUANTITY = re.compile(
    rf"(?P<key>\b[a-z_]+: )?(?<![\w.,])(?P<numbers>{_NUMBER}(?: (?:x|×|to|or|and) {_NUMBER})*) "
    r"(?P<unit>[ck]?m[23²³]?|mm[2²]?|k?g|mL|°C)(?![\w/²³]|(?: \(|, )[^(),]*(?:in|ft|oz|lb|in[²³]|ft²|°F)\))"
)
"""Numbers with a unit, such as "5 mm", "5 to 7.5 kg" or "560 × 460 mm", that stand alone: not "g/m2"."""


def _added(found: re.Match[str]) -> str:
    unit = found["unit"].translate(_RAISED)
    if found["key"] or unit not in _OTHER:
        return found[0]
    numbers = re.findall(_NUMBER, found["numbers"])
    size, written = _OTHER[unit]
    digits = max(len(number.partition(".")[2]) for number in numbers)
    texts, other = written([size * float(number) for number in numbers], digits)
    turned = iter(texts)
    said = f"{re.sub(_NUMBER, lambda _: next(turned), found['numbers'])} {other}".rstrip()
    return f"{found[0]}, {said}" if found.string[found.end() :].startswith(")") else f"{found[0]} ({said})"
