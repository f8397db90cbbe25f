"""A chart to draw on: guides, and what is on it already, free of any file format."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from shellgen.canvas import Drawing, Path, Text
from shellgen.core.arrays import Floats

CROWN = 6.0
"""mm across the circle at the crown; the scale of a drawing is read from it."""


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """guides : to draw on, with markers, words and figures; rim, middle, crown : what lays a drawing
    on the dome again

    lines : (k, 4, 2) Bezier curves of each line; names : of plates, with their places; dots : centre and size
    All in mm on the sheet, y up.
    """

    name: str
    title: str
    width: float
    height: float
    guides: tuple[Path | Text, ...]
    rim: Floats
    whole: bool
    middle: Floats
    crown: Floats
    lines: tuple[Floats, ...]
    names: tuple[tuple[str, Floats], ...]
    dots: tuple[tuple[Floats, float, str], ...]

    def drawing(self) -> Drawing:
        """All of it as one sheet. Words are pale as guides are, so that a photo of it parts both from a pen."""
        t = np.linspace(0, 1, 9)[:, None, None]
        items: list[Path | Text] = [replace(i, layer="guide") if isinstance(i, Text) else i for i in self.guides]
        for curve in self.lines:
            a, b, c, d = curve.transpose(1, 0, 2)
            s = 1 - t
            points = s**3 * a + 3 * s * s * t * b + 3 * s * t * t * c + t**3 * d
            items.append(Path(points.transpose(1, 0, 2).reshape(-1, 2), "cut"))
        items += [Path(ring(at, size), "seat", closed=True) for at, size, _ in self.dots]
        items += [Text(text, (float(x), float(y)), 3.5, anchor="middle") for text, (x, y) in self.names]
        return Drawing(f"{self.name}-chart", self.width, self.height, tuple(items), self.title)


def ring(at: Floats, size: float) -> Floats:
    """(48, 2) a circle, `size` mm across."""
    turn = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    return at + size / 2 * np.column_stack([np.cos(turn), np.sin(turn)])
