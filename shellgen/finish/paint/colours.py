"""Colours in numbers: luminance and contrast, lightness and hue, and how they look to the colour-blind."""

from __future__ import annotations

import numpy as np

from shellgen.canvas import Colour
from shellgen.core.arrays import Floats

TO_XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)
"""Linear sRGB to XYZ, IEC 61966-2-1 with white D65."""

SIGHTS = {
    "full colour sight": np.eye(3),
    "no red cones": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no green cones": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "no blue cones": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
"""What linear sRGB is to each kind of sight.

References: Machado, Oliveira & Fernandes, A Physiologically-based Model for Simulation of Color Vision Deficiency,
IEEE TVCG 15(6), 2009, matrices of severity 1.0.
"""


def read(text: str) -> Colour:
    """Six hexadecimal digits, with or without a "#". ValueError for anything else."""
    digits = text.removeprefix("#")
    if len(digits) != 6 or set(digits) - set("0123456789abcdefABCDEF"):
        raise ValueError("six hexadecimal digits such as 92a070")
    return int(digits[:2], 16), int(digits[2:4], 16), int(digits[4:], 16)


def linear(colour: Colour) -> Floats:
    """(3,) light of each primary, 0 to 1. References: IEC 61966-2-1 (sRGB), as in WCAG 2.2."""
    value = np.array(colour) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def luminance(colour: Colour) -> float:
    """Relative luminance, 0 to 1. References: WCAG 2.2, "relative luminance"."""
    return float(linear(colour) @ [0.2126, 0.7152, 0.0722])


def contrast(one: Colour, other: Colour) -> float:
    """(L1 + 0.05) / (L2 + 0.05), the lighter over the darker. References: WCAG 2.2, "contrast ratio"."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def lab(light: Floats) -> Floats:
    """(3,) CIE L*, a*, b* of linear sRGB, white D65. References: CIE 15:2004, section 8.2.1."""
    ratio = TO_XYZ @ light / TO_XYZ.sum(axis=1)
    root = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * root[1] - 16, 500 * (root[0] - root[1]), 200 * (root[1] - root[2])])


def ciede2000(one: Floats, other: Floats) -> float:
    """Difference of two colours (L*, a*, b*); about 1 is just seen side by side.

    References: Sharma, Wu & Dalal, The CIEDE2000 Color-Difference Formula, Color Res. Appl. 30(1), 2005, equations 2 to
    22.
    """
    (l1, a1, b1), (l2, a2, b2) = (tuple(map(float, c)) for c in (one, other))
    mean = (np.hypot(a1, b1) + np.hypot(a2, b2)) / 2
    stretch = 1.5 - 0.5 * np.sqrt(mean**7 / (mean**7 + 25.0**7))
    c1, c2 = np.hypot(stretch * a1, b1), np.hypot(stretch * a2, b2)
    h1, h2 = (np.degrees(np.arctan2(b, stretch * a)) % 360 for a, b in ((a1, b1), (a2, b2)))
    grey = c1 * c2 == 0
    turn = 0.0 if grey else (h2 - h1 + 180) % 360 - 180
    if not grey and abs(abs(h2 - h1) - 180) < 1e-9:
        turn = h2 - h1  # opposite hues: the sign of the paper's second case
    apart = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2))
    lightness, chroma = (l1 + l2) / 2, (c1 + c2) / 2
    hue = h1 + h2 if grey else _mean_hue(h1, h2)
    t = (
        1 - 0.17 * np.cos(np.radians(hue - 30)) + 0.24 * np.cos(np.radians(2 * hue))
        + 0.32 * np.cos(np.radians(3 * hue + 6)) - 0.20 * np.cos(np.radians(4 * hue - 63))
    )  # fmt: skip
    swing = 60 * np.exp(-(((hue - 275) / 25) ** 2))
    turned = -2 * np.sqrt(chroma**7 / (chroma**7 + 25.0**7)) * np.sin(np.radians(swing))
    square = (lightness - 50) ** 2
    dl = (l2 - l1) / (1 + 0.015 * square / np.sqrt(20 + square))
    dc, dh = (c2 - c1) / (1 + 0.045 * chroma), apart / (1 + 0.015 * chroma * t)
    return float(np.sqrt(dl * dl + dc * dc + dh * dh + turned * dc * dh))


def _mean_hue(h1: float, h2: float) -> float:
    if abs(h1 - h2) <= 180 + 1e-9:
        return (h1 + h2) / 2
    return (h1 + h2 + 360) / 2 if h1 + h2 < 360 else (h1 + h2 - 360) / 2


def difference(one: Colour, other: Colour) -> tuple[float, str]:
    """The least difference that any kind of sight finds between two colours, and which sight that is."""
    found = []
    for sight, seen in SIGHTS.items():
        a, b = (lab(np.clip(seen @ linear(c), 0, 1)) for c in (one, other))
        found.append((ciede2000(a, b), sight))
    return min(found)
