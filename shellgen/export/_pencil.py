"""Smooth lines and lettering on a picture, by drawing finely and shrinking."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from shellgen import lettering
from shellgen.canvas import Colour, Text

FINE = 3  # samples along either side of a pixel


def stroke(pencil: ImageDraw.ImageDraw, line: NDArray, width: float, ink: tuple[int, ...] | int) -> None:
    """A polyline with round ends and bends, in samples."""
    points = [(x, y) for x, y in line.tolist()]
    pencil.line(points, fill=ink, width=max(round(width), 1), joint="curve")
    radius = width / 2 - 0.5
    if radius > 0.5:
        for x, y in (points[0], points[-1]):
            pencil.ellipse((x - radius, y - radius, x + radius, y + radius), fill=ink)


class Sheet:
    """A clear foil over a picture, to write on in one colour."""

    def __init__(self, size: tuple[int, int], ink: Colour = (40, 40, 40)) -> None:
        self.mask = Image.new("L", (FINE * size[0], FINE * size[1]), 0)
        self.pencil, self.ink = ImageDraw.Draw(self.mask), ink
        self.low, self.high = np.array(size), np.zeros(2, int)  # pixels that are written on

    def line(self, points: NDArray, width: float) -> None:
        self.low = np.minimum(self.low, np.floor(np.min(points, axis=0) - width - 1).astype(int))
        self.high = np.maximum(self.high, np.ceil(np.max(points, axis=0) + width + 1).astype(int))
        stroke(self.pencil, FINE * np.asarray(points, float), FINE * width, 255)

    def letter(
        self, text: str, at: tuple[float, float], height: float, *, anchor: str = "start", bold: float = 1.1
    ) -> None:
        """Text on a base line at `at`, pixels, y down. bold : width of the stroke over the usual"""
        for line in lettering.lay(Text(text, (at[0], -at[1]), height, anchor=anchor)):
            self.line(line * (1, -1), lettering.pen(height) * bold)

    def over(self, image: Image.Image) -> Image.Image:
        """The picture under the foil."""
        (left, top), (right, foot) = (
            tuple(map(int, v)) for v in (np.maximum(self.low, 0), np.minimum(self.high, image.size))
        )
        image = image.copy()
        if left < right and top < foot:
            mask = self.mask.crop((FINE * left, FINE * top, FINE * right, FINE * foot)).reduce(FINE)
            if image.mode == "RGB":
                image.paste(self.ink, (left, top), mask)
            else:
                foil = Image.new("RGBA", mask.size, (*self.ink, 0))
                foil.putalpha(mask)
                image.alpha_composite(foil, (left, top))
        return image
