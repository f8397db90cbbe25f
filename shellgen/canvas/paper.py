"""Sheets of home-printer paper and how pieces stand on them.

The plane is a grid of overlapping tiles, one per sheet: row A on top, column 1 on the left, x to the right and y up,
the upper left corner of tile A1 at the origin. A sheet prints only the pieces that need it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely

from shellgen.canvas import Drawing
from shellgen.canvas.reading import stood
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered

PAPERS = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "A2": (420.0, 594.0),
    "Letter": (215.9, 279.4),
    "Tabloid": (279.4, 431.8),
}
"""mm, upright. References: ISO 216; ANSI/ASME Y14.1 sizes A and B."""

LEFT, FOOT = 9.0, 24.0
"""mm at the side of the window and under it for the scale, the map and the names (chosen: as little as they need)."""


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """A sheet and the window on it in which pieces are printed.

    paper : (width, height) mm as printed. window : lower left corner and size, mm
    """

    paper: tuple[float, float]
    margin: float
    overlap: float

    @property
    def window(self) -> tuple[float, float, float, float]:
        across, up = self.paper
        left, foot = self.margin + LEFT, self.margin + FOOT
        return left, foot, across - left - self.margin, up - foot - self.margin

    @property
    def step(self) -> tuple[float, float]:
        return self.window[2] - self.overlap, self.window[3] - self.overlap

    def tile(self, row: int, column: int) -> tuple[float, float, float, float]:
        """Window of a tile on the plane: x and y low, x and y high."""
        (dx, dy), (_, _, across, up) = self.step, self.window
        return column * dx, -row * dy - up, column * dx + across, -row * dy

    def share(self, row: int, column: int) -> tuple[float, float, float, float]:
        """The part of a tile that is its own: as far as the middle of every overlap."""
        x0, y0, x1, y1 = self.tile(row, column)
        half = self.overlap / 2
        return x0 + half, y0 + half, x1 - half, y1 - half


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """A drawing on the plane: turned by `angle`, then moved by `shift`; `tiles` are the (row, column) that print it.
    Its lettering is such that none stands on its head there."""

    drawing: Drawing
    angle: float
    shift: tuple[float, float]
    tiles: tuple[tuple[int, int], ...]
    outline: shapely.Geometry

    def __post_init__(self) -> None:
        object.__setattr__(self, "drawing", _stood(self.drawing, self.angle))

    def move(self, points: Floats) -> Floats:
        """Points of the drawing, (n, 2), on the plane."""
        cos, sin = np.cos(self.angle), np.sin(self.angle)
        moved: Floats = points @ np.array([[cos, sin], [-sin, cos]]) + self.shift
        return moved

    def back(self, points: Floats) -> Floats:
        """Points of the plane, (n, 2), on the drawing."""
        cos, sin = np.cos(self.angle), np.sin(self.angle)
        moved: Floats = (points - self.shift) @ np.array([[cos, -sin], [sin, cos]])
        return moved


@remembered
def _stood(drawing: Drawing, angle: float) -> Drawing:
    items = tuple(stood(drawing.items, angle))
    return drawing if items == drawing.items else replace(drawing, items=items)


@dataclass(frozen=True, slots=True, eq=False)
class PagePlan:
    """Which piece stands where. `pages` are the (row, column) that are printed, row by row."""

    frame: Frame
    placed: tuple[Placed, ...]
    pages: tuple[tuple[int, int], ...]

    def on(self, page: tuple[int, int]) -> tuple[Placed, ...]:
        return tuple(p for p in self.placed if page in p.tiles)

    def joined(self, page: tuple[int, int], other: tuple[int, int]) -> bool:
        """Whether a piece crosses from `page` to its neighbour `other`."""
        return any(page in p.tiles and other in p.tiles for p in self.placed)

    def seam(self, page: tuple[int, int], other: tuple[int, int]) -> Floats:
        """(2, 2) the middle of the overlap of two neighbours, on the plane: here the upper sheet is trimmed."""
        both = shapely.box(*self.frame.tile(*page)).intersection(shapely.box(*self.frame.tile(*other)))
        x0, y0, x1, y1 = both.bounds
        if page[0] == other[0]:
            return np.array([[(x0 + x1) / 2, y0], [(x0 + x1) / 2, y1]])
        return np.array([[x0, (y0 + y1) / 2], [x1, (y0 + y1) / 2]])

    def joints(self, placed: Placed) -> tuple[Floats, ...]:
        """(2, 2) the seams across a drawing, on the drawing."""
        after = [(p, q) for p in placed.tiles for q in ((p[0], p[1] + 1), (p[0] + 1, p[1])) if q in placed.tiles]
        return tuple(placed.back(self.seam(*pair)) for pair in after)

    @property
    def split(self) -> int:
        """Number of pieces that stand on more than one sheet."""
        return sum(len(p.tiles) > 1 for p in self.placed)


def label(page: tuple[int, int]) -> str:
    """Name of a page: row letter and column number, "A1" on the upper left; after Z comes AA."""
    row, letters = page[0] + 1, ""
    while row:
        row, rest = divmod(row - 1, 26)
        letters = chr(65 + rest) + letters
    return f"{letters}{page[1] + 1}"
