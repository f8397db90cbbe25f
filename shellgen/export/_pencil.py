"""Smooth lines and lettering on a picture, by drawing finely and shrinking."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw

from shellgen.canvas import Colour, Text, lettering
from shellgen.core.arrays import Floats

FINE = 3  # samples along either side of a pixel


def stroke(pencil: ImageDraw.ImageDraw, line: Floats, width: float, ink: tuple[int, ...] | int) -> None:
    """A polyline with round ends and bends, in samples."""
    points = [(x, y) for x, y in line.tolist()]
    pencil.line(points, fill=ink, width=max(round(width), 1))
    radius = width / 2 - 0.5
    if radius > 0.5:
        for x, y in points:  # joints of the pencil's own take up to three times as long
            pencil.ellipse((x - radius, y - radius, x + radius, y + radius), fill=ink)


Strokes = list[tuple[Floats, float]]
"""Points (n, 2) and width of each, pixels."""

Box = tuple[int, int, int, int]
"""Left, top, right, foot, pixels."""


class WritingLayer:
    """A clear foil over a picture, to write on in one colour. Only where something is written it is drawn finely."""

    def __init__(self, size: tuple[int, int], ink: Colour = (40, 40, 40)) -> None:
        self.size, self.ink = size, ink
        self.written: list[tuple[Box, Strokes]] = []  # their boxes do not meet

    def line(self, points: Floats, width: float) -> None:
        self._write([(np.asarray(points, float), width)])

    def letter(
        self, text: str, at: tuple[float, float], height: float, *, anchor: str = "start", bold: float = 1.1
    ) -> None:
        """Text on a base line at `at`, pixels, y down. bold : width of the stroke over the usual"""
        lines = lettering.lay(Text(text, (at[0], -at[1]), height, anchor=anchor))
        if lines:
            self._write([(line * (1, -1), lettering.pen(height) * bold) for line in lines])

    def _write(self, strokes: Strokes) -> None:
        """Puts strokes down, together with all that their box meets."""
        low = np.min([points.min(axis=0) - width - 1 for points, width in strokes], axis=0)
        high = np.max([points.max(axis=0) + width + 1 for points, width in strokes], axis=0)
        box: Box = (*np.floor(low).astype(int).tolist(), *np.ceil(high).astype(int).tolist())
        while met := next((other for other in self.written if _meet(box, other[0])), None):
            self.written.remove(met)
            box, strokes = _both(box, met[0]), met[1] + strokes
        self.written.append((box, strokes))

    def over(self, image: Image.Image) -> Image.Image:
        """The picture under the foil."""
        image = image.copy()
        for (left, top, right, foot), strokes in self.written:
            left, top, right, foot = max(left, 0), max(top, 0), min(right, image.width), min(foot, image.height)
            if left >= right or top >= foot:
                continue
            fine = Image.new("L", (FINE * (right - left), FINE * (foot - top)), 0)
            pencil = ImageDraw.Draw(fine)
            for points, width in strokes:
                stroke(pencil, FINE * (points - (left, top)), FINE * width, 255)
            mask = fine.reduce(FINE)
            if image.mode == "RGB":
                image.paste(self.ink, (left, top), mask)
            else:
                foil = Image.new("RGBA", mask.size, (*self.ink, 0))
                foil.putalpha(mask)
                image.alpha_composite(foil, (left, top))
        return image


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _both(one: Box, other: Box) -> Box:
    return min(one[0], other[0]), min(one[1], other[1]), max(one[2], other[2]), max(one[3], other[3])
