"""What a maker writes ("1 1/2 in", "12 deg", "3 %", "5 ft 8 in", 560) as mm, radians, plain ratios and grams.

The only place where input is converted. Arithmetic is exact (fractions) until the last step, so that
"1/4 in" is the float nearest to 6.35 and rounding does not reject a figure equal to a bound.

References
----------
International yard and pound agreement (1959): 1 yd = 0.9144 m, so 1 in = 25.4 mm; 1 lb = 0.45359237 kg, both exact.
CSS Values and Units, "absolute lengths": 1 in = 2.54 cm.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

LONGEST = 60  # characters in one figure; chosen: "12 ft 11 63/64 in" needs 17

_INCH, _POUND = Fraction(254, 10), Fraction("453.59237")

SCALES: Mapping[str, Mapping[str, Fraction]] = MappingProxyType(
    {
        "length": {
            "mm": Fraction(1),
            "cm": Fraction(10),
            "m": Fraction(1000),
            "in": _INCH,
            "ft": 12 * _INCH,
            "yd": 36 * _INCH,
        },
        "angle": {"deg": Fraction(1), "rad": Fraction(180 / math.pi)},
        "ratio": {"": Fraction(1), "%": Fraction(1, 100)},
        "mass": {
            "g": Fraction(1),
            "kg": Fraction(1000),
            "oz": _POUND / 16,
            "lb": _POUND,
            "st": 14 * _POUND,
        },
    }
)
"""Units of each kind; the first is what a bare number means. Angles are counted in degrees until the last step."""

_ALIASES = {
    **dict.fromkeys(('"', "″", "”", "inch", "inches"), "in"),
    **dict.fromkeys(("'", "′", "’", "foot", "feet"), "ft"),
    **dict.fromkeys(("yard", "yards"), "yd"),
    **dict.fromkeys(("°", "degree", "degrees"), "deg"),
    **dict.fromkeys(("radian", "radians"), "rad"),
    **dict.fromkeys(("percent",), "%"),
    **dict.fromkeys(("gram", "grams"), "g"),
    **dict.fromkeys(("kilo", "kilos"), "kg"),
    **dict.fromkeys(("lbs", "pound", "pounds"), "lb"),
    **dict.fromkeys(("stone",), "st"),
}

_DECIMAL = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?"
_FRACTION = r"(?:[0-9]+(?:\s+|\s*-\s*))?[0-9]+\s*/\s*[0-9]+"  # "1 1/2", "1-1/2", "3/4"
_UNIT = r"""["″”'′’°%]|[A-Za-z][A-Za-z0-9/]*"""
_PART = re.compile(rf"\s*(?P<figure>{_FRACTION}|{_DECIMAL})\s*(?P<unit>{_UNIT})?\s*")


@dataclass(frozen=True, slots=True)
class Quantity:
    """A figure in mm, radians, grams or plain, and the unit it was written in ("" for none)."""

    value: float
    unit: str


def read(text: str, kind: str, *, unit: str = "") -> Quantity:
    """The value that `text` stands for.

    kind : "length" (mm), "angle" (rad), "ratio", "mass" (g), or "number" in the one `unit` named
    Raises ValueError with the reason, as a sentence in a maker's words.
    """
    scale = _scale(kind, unit)
    bare = next(iter(scale))
    total, used = Fraction(0), ""
    negative, parts = _parts(text)
    for figure, written in parts:
        if not written and len(parts) > 1:
            raise ValueError("These are several figures, or one has no unit.")
        if not written and "/" in figure and kind != "ratio":
            raise ValueError(
                f"Put the unit behind a fraction: {figure} {'in' if kind == 'length' else bare}".rstrip() + "."
            )
        used = _ALIASES.get(written.lower(), written if written in scale else written.lower())
        if written and used not in scale:
            units = ", ".join(filter(None, scale)) or "none"
            raise ValueError(f"The unit {written} does not fit here. Units that fit: {units}.")
        total += _exact(figure) * scale[used or bare]
    value = float(-total if negative else total)
    return Quantity(math.radians(value) if kind == "angle" else value, used)


def write(value: float, kind: str, written_unit: str = "", *, unit: str = "", rounding: str = "nearest") -> str:
    """`value` (mm, rad, g or plain) in the given unit, to four significant figures: "7.874 in".

    rounding : "nearest"; or "up" and "down", for bounds that must stay within the limits when they are read again
    """
    scale = _scale(kind, unit)
    used = written_unit if written_unit in scale else next(iter(scale))
    number = (math.degrees(value) if kind == "angle" else value) / float(scale[used])
    return f"{_digits(number, rounding)} {used}".rstrip()


def pattern(kind: str, *, unit: str = "") -> str:
    """A regular expression (ECMA-262) for text that `read` accepts, without its bounds; for editors."""
    scale = _scale(kind, unit)
    words = {*scale, *(alias for alias, name in _ALIASES.items() if name in scale)} - {""}
    units = "|".join(re.escape(word) for word in sorted(words, key=lambda w: (-len(w), w)))
    part = rf"(?:{_FRACTION}|[0-9]*\s*[¼½¾⅐-⅞]|{_DECIMAL})\s*(?:{units})\s*"
    bare = rf"(?:{_FRACTION}|{_DECIMAL})" if kind == "ratio" else _DECIMAL
    return rf"^\s*[+−-]?\s*(?:{bare}\s*|(?:{part})+)$" if units else rf"^\s*[+−-]?\s*{bare}\s*$"


def _scale(kind: str, unit: str) -> Mapping[str, Fraction]:
    return {unit: Fraction(1)} if kind == "number" else SCALES[kind]


def _parts(text: str) -> tuple[bool, list[tuple[str, str]]]:
    """Sign, and (figure, unit) pairs: one, or several as in "5 ft 8 in"."""
    if len(text) > LONGEST:
        raise ValueError(f"A figure has at most {LONGEST} characters; this one has {len(text)}.")
    plain = re.sub("[¼½¾⅐-⅞]", lambda m: " " + unicodedata.normalize("NFKC", m[0]).replace("⁄", "/"), text)
    plain = plain.replace("⁄", "/").replace("−", "-").strip()
    if re.fullmatch(r"[+-]?[0-9]+,[0-9]+.*", plain):
        raise ValueError("Write decimals with a point (0.5) and thousands without a mark (1000).")
    negative = plain.startswith("-")
    plain = plain[1:] if plain[:1] in ("+", "-") else plain
    parts, at = [], 0
    while at < len(plain):
        match = _PART.match(plain, at)
        if not match:
            raise ValueError("This is not a figure.")
        parts.append((match["figure"], match["unit"] or ""))
        at = match.end()
    if not parts:
        raise ValueError("The figure is missing.")
    return negative, parts


def _exact(figure: str) -> Fraction:
    """ "1 1/2", "3/4" or "12.5" as an exact fraction."""
    if "/" not in figure:
        return Fraction(figure)
    *whole, above, below = (int(digits) for digits in re.findall("[0-9]+", figure))
    if below == 0:
        raise ValueError("A fraction cannot have 0 below its line.")
    return sum(whole) + Fraction(above, below)


def _digits(number: float, rounding: str) -> str:
    """Four significant figures without a trailing zero; whole numbers in full."""
    if number == 0 or number == round(number):
        return f"{number + 0.0:.0f}"
    step = 10.0 ** (math.floor(math.log10(abs(number))) - 3)
    steps = number / step  # the slack of 1e-9 keeps 0.07 from climbing to 0.07001
    turned = {"up": math.ceil(steps - 1e-9), "down": math.floor(steps + 1e-9)}.get(rounding, round(steps))
    return f"{turned * step:.10g}"
