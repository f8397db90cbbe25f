"""Small parts on few sheets of paper, each whole on one sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import scipy.fft
import shapely
from PIL import Image, ImageDraw
from shapely.affinity import rotate, translate

from shellgen.canvas import Drawing, Path, Text, lettering, tiling
from shellgen.canvas.paper import PAPERS, Frame, PagePlan, Placed
from shellgen.core.arrays import Bools, Floats, Ints, Reals
from shellgen.core.memory import remembered

GAP = 3.0
"""mm between parts at least: room for scissors (chosen)."""
SLANT = 1.03
"""A part keeps its direction unless it is higher than its lowest direction by more than this factor (chosen)."""
HAIR = 0.3
"""mm, half the widest line."""
CELL = 1.0
"""mm, raster on which places are tried (chosen: twice as coarse takes two pages more on the samples)."""
BORDER = 3
"""Cells kept around a page and every part, so that the gap reaches past their boxes."""
CORNER, ROWS, COLUMNS = (1.0, 1.0), (1.0, 0.01), (0.01, 1.0)
"""Ways to fill a page: how much down counts, and right."""

_Turned = tuple[float, shapely.Geometry]
"""An angle, and what a part covers when it is turned by it."""


@dataclass(frozen=True, slots=True)
class _Spot:
    """Page and turn of a part, and its upper left corner, y down from the top of the window, mm."""

    page: int
    turn: int
    x: float
    y: float


def on_sheets(
    drawings: Sequence[Drawing],
    *,
    paper: str | tuple[float, float] = "A4",
    landscape: bool | None = None,
    margin: float = 8.0,
    overlap: float = 12.0,
) -> PagePlan:
    """The parts, nested by their outlines. If one is larger than a sheet, all are arranged as large pieces."""
    how: dict[str, Any] = {"paper": paper, "landscape": landscape, "margin": margin, "overlap": overlap}
    return shelved(tuple(drawings), **how) or tiling.arrange(drawings, **how)


@remembered
def shelved(
    drawings: tuple[Drawing, ...],
    *,
    paper: str | tuple[float, float],
    landscape: bool | None,
    margin: float,
    overlap: float,
    most: int | None = None,
) -> PagePlan | None:
    """The parts, nested by their outlines, whole on a sheet.

    None if one is larger than a sheet, or if they take more than `most` pages.

    References: J. Bennell, J. Oliveira, The geometry of nesting problems: a tutorial, European Journal of Operational
    Research 184, 2008, the raster method and bottom-left placement; all places at once by a Fourier transform.
    """
    size = PAPERS[paper] if isinstance(paper, str) else paper
    short, long = sorted(size)
    frame = Frame((long, short) if landscape else (short, long), margin, overlap)
    parts = [_turned(drawing, frame.window[2:]) for drawing in drawings]
    if not drawings or not all(parts):
        return None
    first = np.array([not _cut(drawing) and _has_sentences(drawing) for drawing in drawings])
    spots = _spots(parts, np.array(frame.window[2:]), first, most or len(parts))
    if spots is None:
        return None
    count = 1 + max(spot.page for spot in spots)
    columns = int(np.ceil(np.sqrt(count)))  # nearly square, so that the map of the pages is large
    placed = []
    for drawing, turned, spot in zip(drawings, parts, spots, strict=True):
        (angle, shape), tile = turned[spot.turn], divmod(spot.page, columns)
        left, _, _, top = frame.tile(*tile)
        dx, dy = left + spot.x - shape.bounds[0], top - spot.y - shape.bounds[3]
        placed.append(Placed(drawing, angle, (dx, dy), (tile,), translate(shape, dx, dy)))
    return PagePlan(frame, tuple(placed), tuple(divmod(page, columns) for page in range(count)))


def below(first: PagePlan, second: PagePlan) -> PagePlan:
    """Both plans as one: the pages of the second in rows below those of the first."""
    rows = 1 + max(row for row, _ in first.pages)
    down = -rows * first.frame.step[1]
    moved = (
        replace(
            of,
            shift=(of.shift[0], of.shift[1] + down),
            tiles=tuple((row + rows, column) for row, column in of.tiles),
            outline=translate(of.outline, 0.0, down),
        )
        for of in second.placed
    )
    pages = tuple((row + rows, column) for row, column in second.pages)
    return PagePlan(first.frame, (*first.placed, *moved), (*first.pages, *pages))


def _covers(drawing: Drawing) -> shapely.Geometry:
    """The area of a part: the inside of its closed cuts, its lettering, and lines outside of these."""
    paths = [item for item in drawing.items if isinstance(item, Path)]
    solid = [shapely.make_valid(shapely.Polygon(p.points)) for p in paths if p.closed and p.layer in ("cut", "guide")]
    words = [shapely.Polygon(lettering.box(item)) for item in drawing.items if isinstance(item, Text)]
    whole = shapely.union_all([*solid, *words])
    shapely.prepare(whole)
    out = [p.points for p in paths if not p.closed and not shapely.contains_xy(whole, p.points).all()]
    return shapely.union_all([whole, *map(shapely.LineString, out)]).buffer(HAIR, quad_segs=2)


@remembered
def _turned(drawing: Drawing, window: tuple[float, float]) -> tuple[_Turned, ...]:
    """The part turned to be lowest, and upright; as drawn if it has instructions in sentences. Without turns that do
    not fit; none if no turn does. Its lettering is never upside down."""
    shape = _covers(drawing)
    corners = np.array(shapely.minimum_rotated_rectangle(shape).exterior.coords)
    edges = np.diff(corners[:3], axis=0)
    sides = np.hypot(*edges.T)
    long, drawn = edges[np.argmax(sides)], shape.bounds[3] - shape.bounds[1]
    level = 0.0 if _has_sentences(drawing) or drawn < SLANT * sides.min() else float(-np.arctan2(long[1], long[0]))
    level -= np.pi * round(level / np.pi)  # nearest to its drawn direction
    found, most = list[_Turned](), 1 if _has_sentences(drawing) else 2
    for angle in (level, level + np.pi / 2, 0.0, np.pi / 2):
        angle += np.pi * _upside_down(drawing, angle)
        turned = rotate(shape, angle, origin=(0, 0), use_radians=True)
        if (_size(turned) <= window).all() and len(found) < most:
            found.append((angle, turned))
    return tuple(found)


def _cut(drawing: Drawing) -> bool:
    return any(isinstance(item, Path) and item.layer == "cut" for item in drawing.items)


def _has_sentences(drawing: Drawing) -> bool:
    """Whether it has instructions; a slip is nothing else."""
    return any(isinstance(item, Text) and item.layer == "note" for item in drawing.items)


def _upside_down(drawing: Drawing, angle: float) -> bool:
    """Whether most letters are upside down in a turned drawing; letters on their side are read from the right.

    References: ISO 129-1, dimensions are read from the bottom or the right-hand side of the drawing (from memory).
    """
    read = sum(
        len(item.text) * (np.cos(item.angle + angle) + 1e-3 * np.sin(item.angle + angle))
        for item in drawing.items
        if isinstance(item, Text)
    )
    return bool(read < 0)


def _spots(parts: Sequence[Sequence[_Turned]], window: Floats, first_of_all: Bools, most: int) -> list[_Spot] | None:
    """Where each part goes: the best of several orders and ways, with the fewest pages, then the emptiest last one.
    None if it takes more than `most` pages. first_of_all : what comes before the rest"""
    boxes = np.array([_size(turned[0][1]) for turned in parts])
    area = np.array([turned[0][1].area for turned in parts])
    least = int(np.ceil(area.sum() / window.prod()))
    if least > most:
        return None
    best: tuple[tuple[int, float], list[_Spot]] | None = None
    room = _Shelves(parts, window)
    # chosen: of all nine orders and ways, these found the fewest pages of every sample
    for key, way in ((area, CORNER), (area, COLUMNS), (boxes[:, 1], ROWS), (boxes[:, 0], CORNER)):
        found = room.packed(np.lexsort((-key, ~first_of_all)), np.array(way), best[0][0] if best else most)
        best = min(filter(None, (best, found)), key=lambda of: of[0], default=None)
        if best and best[0][0] == least:
            break
    return best and best[1]


class _Shelves:
    """Pages as rasters, and every part in all its turns."""

    def __init__(self, parts: Sequence[Sequence[_Turned]], window: Floats) -> None:
        self.cells = [int(np.ceil(side / CELL)) + 2 * BORDER for side in window[::-1]]
        self.size = [scipy.fft.next_fast_len(n, real=True) for n in self.cells]
        self.masks = [[_raster(shape) for _, shape in turned] for turned in parts]
        self.shades = [[np.conj(scipy.fft.rfft2(mask, self.size)) for mask in of] for of in self.masks]
        self.ends = [
            [np.floor((window - _size(shape))[::-1] / CELL + 1e-9).astype(int) + 1 for _, shape in of] for of in parts
        ]

    def packed(self, order: Ints, way: Floats, most: int) -> tuple[tuple[int, float], list[_Spot]] | None:
        """Each part in turn on the first page that has room for it, where its lower right corner is least far along
        `way`, (down, right). Before it, the number of pages, and the area taken of the last. None if that takes more
        than `most` pages."""
        pages, spectra, spots = list[Reals](), list[Reals](), [_Spot(0, 0, 0.0, 0.0)] * len(order)
        whole = float(np.prod(self.cells))
        for k in order.tolist():
            page, found, least = 0, None, min(float(mask.sum()) for mask in self.masks[k])
            while found is None:
                if page == most:
                    return None
                if page == len(pages):
                    pages.append(np.zeros(self.cells, np.float32))
                    spectra.append(scipy.fft.rfft2(pages[-1], self.size))
                if pages[page].sum() + least <= whole:
                    found = self._place(k, spectra[page], way)
                page += found is None
            turn, row, column = found
            mask = self.masks[k][turn]
            pages[page][row : row + mask.shape[0], column : column + mask.shape[1]] += mask
            spectra[page] = scipy.fft.rfft2(pages[page], self.size)
            spots[k] = _Spot(page, turn, column * CELL, row * CELL)
        return (len(pages), float(pages[-1].sum())), spots

    def _place(self, k: int, taken: Reals, way: Floats) -> tuple[int, int, int] | None:
        """Turn, row and column of a part on a page, given as its spectrum; None if there is no room."""
        found = []
        for turn, (mask, shade, (rows, columns)) in enumerate(
            zip(self.masks[k], self.shades[k], self.ends[k], strict=True)
        ):
            free = np.argwhere(scipy.fft.irfft2(taken * shade, self.size)[:rows, :columns] < 0.5)
            if len(free):
                far = (free + mask.shape) @ way
                at = int(np.argmin(far))
                found.append((float(far[at]), turn, int(free[at, 0]), int(free[at, 1])))
        return min(found)[1:] if found else None


def _size(shape: shapely.Geometry) -> Floats:
    x0, y0, x1, y1 = shape.bounds
    return np.array([x1 - x0, y1 - y0])


def _raster(shape: shapely.Geometry) -> Reals:
    """(rows, columns) 1.0 on the cells that a part and half the gap around it touch, within a border."""
    x0, _, _, y1 = shape.bounds
    across, up = (int(np.ceil(side / CELL)) + 2 * BORDER for side in _size(shape))
    image = Image.new("L", (across, up), 0)
    for part in shapely.get_parts(shape.buffer(GAP / 2 + 0.75 * CELL, quad_segs=2)):
        points = (np.array(part.exterior.coords) - (x0, y1)) / (CELL, -CELL) + (BORDER - 0.5)
        ImageDraw.Draw(image).polygon([(x, y) for x, y in points.tolist()], fill=1)
    return np.asarray(image, np.float32)
