"""What is written on a picture: its caption, names of things, what the colours mean, and a bar to measure by."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw

from shellgen.canvas import Colour, lettering
from shellgen.core.arrays import Floats
from shellgen.export._pencil import WritingLayer
from shellgen.export._view import Camera

MARGIN = 0.05  # clear border over the field
_HALO = 5.0  # width of the light edge round letters over their stroke
_LINE = 1.7  # from line to line over the letters' height

Field = tuple[int, int, int, int]  # x, y, width, height, pixels, y down


@dataclass(frozen=True, slots=True, eq=False)
class SceneLabel:
    """Words at a place of a scene. at : (3,) mm, under the middle of the first line.

    facing : (3,) the words are left out where this points away from the viewer; None for always
    anchor : "start", "middle" or "end"
    """

    text: str
    at: Floats
    facing: Floats | None = None
    anchor: str = "middle"


@dataclass(frozen=True, slots=True, eq=False)
class SceneText:
    caption: str = ""
    labels: tuple[SceneLabel, ...] = ()
    legend: tuple[tuple[Colour, str], ...] = ()
    scale_bar: bool = True

    def head(self, sheet: WritingLayer, letter: float) -> int:
        """Writes the caption, and what the legend says. Returns the height of both, pixels."""
        wide = sheet.size[0]
        if self.caption:
            height = min(1.4 * letter, 0.94 * wide / lettering.width(self.caption, 1.0))
            sheet.letter(self.caption, (wide / 2, 0.8 * letter + height), height, anchor="middle")
        for (x0, _, x1, y1), (_, words) in zip(self._boxes(wide, letter), self.legend, strict=True):
            height = min(0.8 * letter, 0.96 * (x1 - x0) / lettering.width(words, 1.0))
            sheet.letter(words, ((x0 + x1) / 2, y1 + 1.3 * letter), height, anchor="middle")
        return round((2.8 * letter if self.caption else 0) + (3.6 * letter if self.legend else 0))

    def swatches(self, image: Image.Image, letter: float) -> Image.Image:
        """The legend's colours on the picture."""
        pencil = ImageDraw.Draw(image)
        for box, (colour, _) in zip(self._boxes(image.width, letter), self.legend, strict=True):
            pencil.rectangle([round(v) for v in box], fill=(*colour, 255))
        return image

    def _boxes(self, wide: float, letter: float) -> list[tuple[float, float, float, float]]:
        across = min(0.9 * wide / max(len(self.legend), 1), 9 * letter)
        left, top = (wide - across * len(self.legend)) / 2, (3.2 if self.caption else 0.8) * letter
        return [(left + k * across, top, left + (k + 1) * across, top + letter) for k in range(len(self.legend))]

    def label(
        self, sheet: WritingLayer, halo: WritingLayer, camera: Camera, corner: tuple[int, int], letter: float
    ) -> None:
        """Writes the labels on the field whose upper left corner is given."""
        for label in self.labels:
            if label.facing is not None and float(camera.eye(label.at[None])[0] @ label.facing) <= 0:
                continue
            (x, y), _ = (v[0] for v in camera.project(label.at[None]))
            for k, line in enumerate(label.text.split("\n")):
                at = (corner[0] + x, corner[1] + y + k * _LINE * 0.9 * letter)
                halo.letter(line, at, 0.9 * letter, anchor=label.anchor, bold=_HALO)
                sheet.letter(line, at, 0.9 * letter, anchor=label.anchor, bold=1.4)


def scale_bar(sheet: WritingLayer, field: Field, letter: float, scale: float, *, most: float) -> float:
    """A bar of a round length, at most `most` pixels long, at the lower right of a field. Returns its width in all."""
    x, y, across, up = field
    power = 10.0 ** np.floor(np.log10(most / scale))
    length = max(n * power for n in (1, 2, 5) if n * power * scale <= most)
    right, rule = x + across - MARGIN * across, y + up - 0.9 * letter
    left = right - length * scale
    for points in (((left, rule), (right, rule)), *(((k, rule - 4), (k, rule + 4)) for k in (left, right))):
        sheet.line(np.array(points), 1.4)
    words = f"{length:g} mm"
    sheet.letter(words, ((left + right) / 2, rule - 0.7 * letter), 0.9 * letter, anchor="middle")
    return float(max(right - left, lettering.width(words, 0.9 * letter)))
