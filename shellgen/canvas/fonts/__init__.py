"""The letters of other scripts than the single-stroke alphabet has: outlines from a font of thin strokes.

The font is DejaVu Sans ExtraLight, cut down to the scripts that are set letter by letter from left to right (see
LICENSES.txt). Its strokes are thinner than the pen, so that outlines drawn with the pen look like single strokes.
"""

from __future__ import annotations

from functools import lru_cache, reduce
from importlib.resources import as_file, files
from io import BytesIO
from typing import Any

import numpy as np
import shapely

from shellgen.core.arrays import Floats

CAPITAL = 1493
"""Height of a capital, units of the font (measured on its H)."""
INWARD, FAR = (38.0, 30.0, 22.0, 14.0, 7.0), 4.0
"""Units of the font by which outlines are drawn in, so that with the pen's own breadth the letters look no bolder than
the alphabet's, and how far from its old edge, over that, a stroke may then end: further, it is gone (chosen: strokes
are some 50 to 100 wide)."""
CHORDS = 4
"""Chords in one curve of an outline (chosen: it sags by less than a tenth of the pen)."""


def data() -> bytes:
    """The font file."""
    with as_file(files("shellgen.canvas.fonts") / "sheet.ttf") as path:
        return path.read_bytes()


@lru_cache(maxsize=1)
def _font() -> tuple[Any, dict[int, str]]:
    from fontTools.ttLib import TTFont

    font = TTFont(BytesIO(data()), lazy=True)
    return font.getGlyphSet(), font.getBestCmap()


def has(char: str) -> bool:
    """Whether the font has the character."""
    return not char.isascii() and ord(char) in _font()[1]


@lru_cache(maxsize=1024)
def outlines(char: str, height: float) -> tuple[Floats, ...]:
    """Closed polylines (n, 2) of a character the font has, for capitals of this height."""
    from fontTools.pens.basePen import BasePen

    lines: list[list[tuple[float, float]]] = []

    class Flat(BasePen):  # type: ignore[misc]  # fontTools has no types
        """Curves as chords."""

        def _moveTo(self, at: tuple[float, float]) -> None:
            lines.append([at])

        def _lineTo(self, at: tuple[float, float]) -> None:
            lines[-1].append(at)

        def _qCurveToOne(self, bend: tuple[float, float], end: tuple[float, float]) -> None:
            (x0, y0), (x1, y1), (x2, y2) = lines[-1][-1], bend, end
            for t in np.linspace(0, 1, CHORDS + 1)[1:]:
                a, b, c = (1 - t) ** 2, 2 * t * (1 - t), t * t
                lines[-1].append((a * x0 + b * x1 + c * x2, a * y0 + b * y1 + c * y2))

        def _closePath(self) -> None:
            lines[-1].append(lines[-1][0])

    glyphs, names = _font()
    glyphs[names[ord(char)]].draw(Flat(glyphs))
    return tuple(height / CAPITAL * line for line in _thinned(lines))


def _thinned(lines: list[list[tuple[float, float]]]) -> list[Floats]:
    """The outlines drawn in towards the middle of each stroke, as far as every part of the letter stands that."""
    rings = [shapely.Polygon(line) for line in lines if len(line) > 3]
    whole = reduce(shapely.symmetric_difference, rings, shapely.Polygon())
    for inward in INWARD:
        thin = whole.buffer(-inward, join_style="mitre")
        same = len(shapely.get_parts(thin)) == len(shapely.get_parts(whole))
        if same and shapely.hausdorff_distance(whole, thin) <= FAR * inward:
            return [
                np.array(ring.coords) for part in shapely.get_parts(thin) for ring in (part.exterior, *part.interiors)
            ]
    return [np.array(line, float) for line in lines]
