"""Lays pieces over sheets of paper so that few are split and few sheets are used.

A piece that fits on a sheet stands on one; a larger one stands on a block of neighbours, joined where they overlap.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import scipy.fft
import shapely
from PIL import Image, ImageDraw
from shapely.affinity import rotate, translate

from shellgen.canvas import Drawing, Path, Text, lettering
from shellgen.canvas.paper import PAPERS, Frame, PagePlan, Placed
from shellgen.core.arrays import Bools, Floats, Ints, Reals
from shellgen.core.memory import remembered
from shellgen.errors import FitError, GeometryError

_GAP = 6.0  # mm between pieces, chosen: room for scissors
_BORDER = 2  # cells kept round the plane and round every piece, so that clearances reach past their boxes
_CELL = 4.0  # mm, raster on which places are tried, chosen: finer saves no sheet on the samples
_SPLIT = 0.6  # what one more sheet under the same piece weighs against one more sheet in all, chosen
_HAIR = 0.3  # mm, half the widest line, so that a line has an area
_DEEP = 1.0  # mm from the edge of what is cut out, well over a hair
_SQUARE = 0.2  # what a box of a whole window weighs against a sheet, chosen: pieces lie square to the page if they can
_LEAST = 200.0  # mm, smallest side of the paper that leaves the footer legible

_Place = tuple[float, tuple[float, float], tuple[tuple[int, int], ...], shapely.Geometry]  # angle, shift, tiles, shape


def arrange(
    drawings: Sequence[Drawing],
    *,
    paper: str | tuple[float, float] = "A4",
    landscape: bool | None = None,
    margin: float = 8.0,
    overlap: float = 12.0,
) -> PagePlan:
    """The plan with the fewest pages, then the fewest split pieces, that the search found.

    paper     : a name in PAPERS, or (width, height) mm
    landscape : lying or upright; None takes whichever needs fewer pages
    overlap   : mm that neighbours have in common

    GeometryError for paper or margins that cannot be used.
    """
    if not drawings:
        raise FitError("there is no piece to print")
    size = PAPERS.get(paper) if isinstance(paper, str) else paper
    if size is None:
        raise GeometryError(f"no paper {paper!r}; there are {', '.join(PAPERS)} and (width, height) in mm")
    shapes = tuple(outline(d) for d in drawings)
    plans = []
    for lying in (False, True) if landscape is None else (landscape,):
        short, long = sorted(size)
        frame = Frame((long, short) if lying else (short, long), margin, overlap)
        _check(frame)
        plans.append(_closed_up(frame, drawings, _places(frame, tuple(map(shapely.to_wkb, shapes)))))
    return min(plans, key=lambda p: (len(p.pages), sum(len(q.tiles) for q in p.placed)))


def _check(frame: Frame) -> None:
    if min(frame.paper) < _LEAST or not 0 <= frame.margin <= 30:
        raise GeometryError(
            f"Paper of {frame.paper[0]:g} x {frame.paper[1]:g} mm with a margin of {frame.margin:g} mm will not do. "
            f"Use paper of at least {_LEAST:g} mm each way, and a margin of 0 to 30 mm."
        )
    if not 4 <= frame.overlap <= 40:
        raise GeometryError(f"An overlap of {frame.overlap:g} mm is not possible. Use 4 to 40 mm.")


@remembered
def outline(drawing: Drawing) -> shapely.Geometry:
    """What a drawing covers: the areas that its cut lines enclose and all else that is drawn."""
    paths = [item for item in drawing.items if isinstance(item, Path)]
    inside = enclosed(path.line for path in paths if is_edge(path))
    core = shapely.union_all(inside).buffer(-_DEEP, quad_segs=1)  # whatever lies in it covers nothing more
    shapely.prepare(core)
    lines = _beyond(core, [shapely.LineString(p.line) for p in paths])
    words = _beyond(core, [shapely.Polygon(lettering.box(item)) for item in drawing.items if isinstance(item, Text)])
    thin = shapely.MultiLineString(lines).buffer(_HAIR, quad_segs=1)
    whole = shapely.union_all([thin, *inside, *words])
    if whole.is_empty:
        raise GeometryError(f"the sheet {drawing.name!r} is empty")
    return whole


def is_edge(path: Path) -> bool:
    """Whether a piece of paper ends at a line: it is cut there, or flipped there to draw the other half."""
    return path.layer == "cut" or "fold" in path.data


def enclosed(lines: Iterable[Floats]) -> list[shapely.Polygon]:
    """The areas between lines (n, 2); ends that meet within a micrometre are joined."""
    noded = shapely.set_precision(shapely.union_all([shapely.LineString(line) for line in lines]), 1e-3)
    return list(shapely.get_parts(shapely.polygonize([noded])))


@remembered
def _places(frame: Frame, shapes: tuple[bytes, ...]) -> tuple[_Place, ...]:
    """The shapes as well-known binary, which says all that there is of them."""
    return _TileSearch(frame, shapely.from_wkb(shapes)).run()


def _beyond(core: shapely.Geometry, shapes: list[shapely.Geometry]) -> list[shapely.Geometry]:
    within: Floats = shapely.contains_properly(core, np.array(shapes, object))
    return [shape for shape, inside in zip(shapes, within.tolist(), strict=True) if not inside]


class _TileSearch:
    """Places pieces one after another, largest first, each where it costs the fewest sheets."""

    def __init__(self, frame: Frame, shapes: Sequence[shapely.Geometry]) -> None:
        self.frame, self.shapes = frame, shapes
        (dx, dy), extents = frame.step, np.array([s.bounds for s in shapes])
        widest, area = (extents[:, 2:] - extents[:, :2]).max(), sum(s.area for s in shapes)
        columns = max(np.ceil(widest / dx), np.ceil(np.sqrt(1.6 * area / (dx * dy)))) + 1
        self.used = np.zeros((0, int(columns)), bool)  # tiles that print something
        self.taken = np.zeros(
            (2 * _BORDER, int(np.ceil((columns * dx + frame.overlap) / _CELL)) + 2 * _BORDER), np.float32
        )
        self._grow(int(np.ceil(widest / dy)) + 1)

    def _grow(self, rows: int) -> None:
        self.used = np.pad(self.used, ((0, rows), (0, 0)))
        height = int(np.ceil((len(self.used) * self.frame.step[1] + self.frame.overlap) / _CELL)) + 2 * _BORDER
        self.taken = np.pad(self.taken, ((0, height - len(self.taken)), (0, 0)))

    def run(self) -> tuple[_Place, ...]:
        found: dict[int, _Place] = {}
        for k in sorted(range(len(self.shapes)), key=lambda k: (-self.shapes[k].area, k)):
            while (place := self._place(self.shapes[k])) is None:
                self._grow(2)
            found[k] = place
        return tuple(found[k] for k in sorted(found))

    def _place(self, shape: shapely.Geometry) -> _Place | None:
        """The cheapest place for one piece, which is then taken; None if there is no room left on the plane."""
        size, best = [scipy.fft.next_fast_len(n, real=True) for n in self.taken.shape], None
        spectrum = scipy.fft.rfft2(self.taken, size)
        for turn, (angle, turned) in enumerate(self._turns(shape)):
            mask = _raster(turned)
            hits = scipy.fft.irfft2(spectrum * np.conj(scipy.fft.rfft2(mask, size)), size)
            costs = self._costs(turned, hits < 0.5)
            at = np.unravel_index(int(np.argmin(costs)), costs.shape)
            box = np.prod(np.ptp(np.reshape(turned.bounds, (2, 2)), axis=0)) / np.prod(self.frame.window[2:])
            cost = costs[at] + _SQUARE * box + 1e-3 * turn  # as drawn, if that is as good
            if np.isfinite(cost) and (best is None or cost < best[0]):
                best = (cost, angle, turned, mask, at)
        if best is None:
            return None
        _, angle, turned, mask, (row, column) = best
        self.taken[row : row + mask.shape[0], column : column + mask.shape[1]] += mask
        shift = (column * _CELL - turned.bounds[0], -row * _CELL - turned.bounds[3])
        moved = translate(turned, *shift)
        tiles = self._tiles(moved)
        self.used[tuple(np.array(tiles).T)] = True
        return angle, shift, tiles, moved

    def _turns(self, shape: shapely.Geometry) -> list[tuple[float, shapely.Geometry]]:
        """Turns worth trying; if the piece fits on one sheet in any of them, only those."""
        turns = [(a, rotate(shape, a, origin=(0, 0), use_radians=True)) for a in _angles(shape)]
        window = np.array(self.frame.window[2:])
        fitting = [t for t in turns if (np.ptp(np.reshape(t[1].bounds, (2, 2)), axis=0) <= window).all()]
        return fitting or turns

    def _costs(self, turned: shapely.Geometry, free: Bools) -> Floats:
        """For every cell of the plane: what it costs to put the piece's upper left corner there."""
        x0, y0, x1, y1 = turned.bounds
        (top, bottom), (left, right) = self._span(y1 - y0, 1), self._span(x1 - x0, 0)
        sums = np.pad(self.used.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
        old = sums[np.ix_(bottom + 1, right + 1)] - sums[np.ix_(top, right + 1)]
        old += sums[np.ix_(top, left)] - sums[np.ix_(bottom + 1, left)]
        touched = np.outer(bottom - top + 1, right - left + 1)
        corner = 1e-6 * np.add.outer(2 * np.arange(len(top)), np.arange(len(left)))
        costs = touched - old + _SPLIT * (touched - 1) + corner
        allowed = free[: len(top), : len(left)]
        if touched.min(initial=2) == 1:
            allowed = allowed & (touched == 1)
        return np.where(allowed, costs, np.inf)

    def _span(self, size: float, axis: int) -> tuple[Ints, Ints]:
        """Along one axis, for each cell at which a piece of this size may begin: its first and last tile."""
        step, window, count = self.frame.step[axis], self.frame.window[2 + axis], self.used.shape[1 - axis]
        start = np.arange(0.0, (count - 1) * step + window - size + 1e-9, _CELL)
        first = np.minimum(np.floor(start / step + 1e-9).astype(int), count - 1)
        return first, np.maximum(first, np.ceil((start + size - window) / step - 1e-9).astype(int))

    def _tiles(self, moved: shapely.Geometry) -> tuple[tuple[int, int], ...]:
        """The tiles that must print a piece: one if it fits, else those of which it reaches their own share."""
        x0, y0, x1, y1 = moved.bounds
        (top, bottom), (left, right) = self._block(-y1, -y0, 1), self._block(x0, x1, 0)
        if (top, left) == (bottom, right):
            return ((top, left),)
        half, tiles = self.frame.overlap / 2, []
        for row in range(top, bottom + 1):
            for column in range(left, right + 1):
                low_x, low_y, high_x, high_y = self.frame.tile(row, column)
                own = shapely.box(
                    low_x + half * (column > left),
                    low_y + half * (row < bottom),
                    high_x - half * (column < right),
                    high_y - half * (row > top),
                )
                if moved.intersects(own):
                    tiles.append((row, column))
        return tuple(tiles)

    def _block(self, low: float, high: float, axis: int) -> tuple[int, int]:
        step, window, count = self.frame.step[axis], self.frame.window[2 + axis], self.used.shape[1 - axis]
        first = min(int(np.floor(low / step + 1e-9)), count - 1)
        return first, max(first, int(np.ceil((high - window) / step - 1e-9)))


def _angles(shape: shapely.Geometry) -> tuple[float, ...]:
    """As drawn, a quarter turn, and with the narrowest box upright or lying."""
    corners = np.array(shapely.minimum_rotated_rectangle(shape).exterior.coords)
    edge = corners[1] - corners[0]
    level = float(-np.arctan2(edge[1], edge[0]) % (np.pi / 2))
    slant = () if min(level, np.pi / 2 - level) < 1e-3 else (level, level - np.pi / 2)
    return (0.0, np.pi / 2, *slant)


def _raster(shape: shapely.Geometry) -> Reals:
    """(rows, columns) 1.0 on the cells that a piece and half its clearance cover; row 0 is a border above its top."""
    x0, y0, x1, y1 = shape.bounds
    grown = shape.buffer(_GAP / 2 + 0.5 * _CELL, quad_segs=4)
    size = [int(np.ceil(d / _CELL)) + 2 * _BORDER for d in (x1 - x0, y1 - y0)]
    image = Image.new("L", (size[0], size[1]), 0)
    draw = ImageDraw.Draw(image)
    for part in shapely.get_parts(grown):
        points = (np.array(part.exterior.coords) - (x0, y1)) / (_CELL, -_CELL) + (_BORDER - 0.5)
        draw.polygon([(x, y) for x, y in points.tolist()], fill=1)
    return np.asarray(image, np.float32)


def _closed_up(frame: Frame, drawings: Sequence[Drawing], places: Sequence[_Place]) -> PagePlan:
    """The plan, without the empty rows and columns before the first piece."""
    tiles = np.array(sorted({tile for place in places for tile in place[2]}))
    row, column = tiles.min(axis=0).tolist()
    dx, dy = -column * frame.step[0], row * frame.step[1]
    placed = tuple(
        Placed(d, a, (x + dx, y + dy), tuple((r - row, c - column) for r, c in on), translate(shape, dx, dy))
        for d, (a, (x, y), on, shape) in zip(drawings, places, strict=True)
    )
    return PagePlan(frame, placed, tuple((r - row, c - column) for r, c in tiles.tolist()))
