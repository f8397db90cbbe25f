"""Finds places for lettering inside a piece, clear of every line and of other lettering."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager

import numpy as np
import shapely

from shellgen.canvas import Path, Text
from shellgen.canvas.lettering import width
from shellgen.canvas.reading import upright
from shellgen.core.arrays import Floats, Geometries, Ints

CLEAR = 1.0
"""Least distance of lettering from any line, mm (chosen: two wide lines of ISO 128)."""
APART = 1.4
"""Least distance of one lettering from another, mm, so that two numbers are not read as one (chosen by eye)."""
LEADER_TRIES = 60
"""Places tried for lettering that needs a leader line."""
FIRST, MORE = 4, 4
"""Places tried at once: the best come first, so there are few at first and this many times as many in each round."""


def corners(size: tuple[float, float], centres: Floats, angles: Floats | float) -> Floats:
    """(n, 4, 2) rectangles of `size` (width, height) mm centred on `centres` (n, 2) and turned by `angles` (n,)."""
    box = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array(size) / 2
    turn = np.empty((len(centres), 2, 2))  # filled in place: this is called for every few places that are tried
    turn[:, 0, 0] = turn[:, 1, 1] = np.cos(angles)
    turn[:, 0, 1] = np.sin(angles)
    turn[:, 1, 0] = -turn[:, 0, 1]
    return np.asarray(centres[:, None, :] + box @ turn)


def size_of(lines: Sequence[str], height: float) -> tuple[float, float]:
    """(width, height) mm of the lines, one under the other.

    References: ISO 3098-1: base lines at least 1.4 to 1.6 heights apart (from memory).
    """
    return max(width(line, height) for line in lines), height * (1.3 + 1.6 * (len(lines) - 1))


def texts(lines: Sequence[str], centre: Floats, height: float, angle: float) -> tuple[Text, ...]:
    """The lettering itself, line under line, in the room that `place` found."""
    angle = upright(angle)
    up = np.array([-np.sin(angle), np.cos(angle)])
    top = size_of(lines, height)[1] / 2 - 1.15 * height
    spots = [centre + up * (top - 1.6 * height * k) for k in range(len(lines))]
    return tuple(
        Text(line, (float(x), float(y)), height, angle, "middle") for line, (x, y) in zip(lines, spots, strict=True)
    )


class Room:
    """The free area inside an outline. Each lettering placed there makes it smaller."""

    def __init__(
        self, outline: Floats, lines: Iterable[Floats], *, shared: Room | None = None, tight: float = 1.0
    ) -> None:
        """outline : (n, 2) mm, closed; lines : (k, 2) mm polylines that no lettering may touch
        shared : a room with other lines at the same place, whose lettering is kept clear of that here, and that of it
        tight : factor of the usual distances"""
        self._clear, self._apart = tight * CLEAR, tight * APART
        self._inside = shapely.make_valid(shapely.polygons(outline))
        # not united: a union has an end at every crossing, and ends are the slowest part to buffer
        self._drawn = shapely.MultiLineString([line for line in lines if len(line) > 1])
        self._free = self._inside.buffer(-self._clear).difference(self._drawn.buffer(self._clear, quad_segs=2))
        shapely.prepare(self._free)
        self._taken: list[shapely.Polygon] = shared._taken if shared else []
        self._tree: list[shapely.STRtree] = shared._tree if shared else []  # of what is taken, once it is asked for
        self._grids: dict[float, Floats] = {}

    @contextmanager
    def trial(self) -> Iterator[list[bool]]:
        """Lettering placed within is removed again unless the list is emptied."""
        undo, before = [True], len(self._taken)
        yield undo
        if undo:
            del self._taken[before:]
            self._tree.clear()

    def _take(self, *shapes: shapely.Polygon) -> None:
        self._taken += shapes
        self._tree.clear()

    def _fits(self, candidates: Floats) -> tuple[Ints, Geometries]:
        """Which of the rectangles (n, 4, 2) are free, and those as polygons."""
        inside = shapely.contains_xy(self._free, candidates.reshape(-1, 2)).reshape(-1, 4).all(axis=1)
        fits = np.flatnonzero(inside)  # most are excluded by now; the rest are tested fully
        if not len(fits):
            return fits, np.empty(0, object)
        shapes = shapely.polygons(candidates[fits])
        whole = shapely.contains_properly(self._free, shapes)
        fits, shapes = fits[whole], shapes[whole]
        if self._taken and len(fits):
            self._tree[:] = self._tree or [shapely.STRtree(self._taken)]
            met = self._tree[0].query(shapes, predicate="dwithin", distance=self._apart)[0]
            fits, shapes = np.delete(fits, met), np.delete(shapes, met)
        return fits, shapes

    def close(self, area: Floats) -> None:
        """Keeps lettering out of the polygon `area` (n, 2) from now on."""
        self._take(shapely.make_valid(shapely.polygons(area)))

    def reserve(self, size: tuple[float, float], centres: Floats, angles: Floats | float = 0.0) -> int | None:
        """Takes the first of `centres` (n, 2) where a rectangle of `size` mm fits: its index, or None."""
        turned, start, count = np.broadcast_to(angles, len(centres)), 0, FIRST
        while start < len(centres):
            part = slice(start, start + count)
            fits, shapes = self._fits(corners(size, centres[part], turned[part]))
            if len(fits):
                self._take(shapes[0])
                return start + int(fits[0])
            start, count = start + count, MORE * count
        return None

    def place(
        self, lines: Sequence[str], heights: Sequence[float], centres: Floats, angles: Floats | float = 0.0
    ) -> tuple[Text, ...]:
        """Letters at the largest of `heights` that fits at any of `centres`, the first that does; () if none."""
        for height in heights:
            first = self.reserve(size_of(lines, height), centres, angles)
            if first is not None:
                return texts(lines, centres[first], height, float(np.broadcast_to(angles, len(centres))[first]))
        return ()

    def lead(
        self, lines: Sequence[str], heights: Sequence[float], to: Floats, *, across: float = CLEAR
    ) -> tuple[Text | Path, ...]:
        """Letters as near as possible, with a leader line to the point `to`; () if there is no room.

        across : mm from `to` within which the leader may cross a line
        """
        spots = self.spots(to, step=2.0)
        drawn = self._drawn.difference(shapely.Point(to).buffer(across))
        for height in heights:
            fits, shapes = self._fits(corners(size_of(lines, height), spots, 0.0))
            for k, shape in zip(fits[:LEADER_TRIES], shapes[:LEADER_TRIES], strict=True):
                start, end = np.array(shapely.shortest_line(shape, shapely.Point(to)).coords)
                leader = shapely.LineString([start, end])
                short = shapely.LineString([start, end + (start - end) * min(0.9, 0.3 / max(leader.length, 1e-9))])
                if not self._inside.covers(short) or drawn.dwithin(leader, self._clear / 2):
                    continue
                if any(leader.intersects(other) for other in self._taken):
                    continue
                self._take(shape, leader.buffer(0.1))
                return *texts(lines, spots[k], height, 0.0), Path(
                    np.array([start, end]), "label", data={"leader": "yes"}
                )
        return ()

    def spots(self, near: Floats, *, step: float = 5.0, most: int | None = None) -> Floats:
        """(n, 2) points on a grid in the free room, nearest to `near` first; at most `most`."""
        inside = self._grid(step) if most is None else self._about(near, step, most)
        return inside[np.argsort(np.linalg.norm(inside - near, axis=1), kind="stable")[:most]]

    def _grid(self, step: float) -> Floats:
        """(n, 2) points of a grid in the free room, found once for each step."""
        if step not in self._grids:
            self._grids[step] = self._free_points(*self._axes(step))
        return self._grids[step]

    def _about(self, near: Floats, step: float, most: int) -> Floats:
        """(n, 2) points of the grid, among them all that are among the `most` nearest."""
        axes, reach = self._axes(step), 2 * step * np.sqrt(most)
        while True:
            x, y = (axis[np.abs(axis - at) <= reach] for axis, at in zip(axes, near, strict=True))
            inside, whole = self._free_points(x, y), len(x) == len(axes[0]) and len(y) == len(axes[1])
            if whole or (np.linalg.norm(inside - near, axis=1) <= reach).sum() >= most:
                return inside
            reach *= 2

    def _axes(self, step: float) -> tuple[Floats, Floats]:
        x0, y0, x1, y1 = (0.0, 0.0, 0.0, 0.0) if self._free.is_empty else self._free.bounds
        return np.arange(x0, x1, step), np.arange(y0, y1, step)

    def _free_points(self, x: Floats, y: Floats) -> Floats:
        grid = np.stack(np.meshgrid(x, y, indexing="ij"), -1).reshape(-1, 2)
        return np.asarray(grid[shapely.contains_xy(self._free, grid)])
