"""Finds room for lettering: inside a piece, clear of every line and of other lettering."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from shellgen.canvas import Text
from shellgen.lettering import width

CLEAR = 1.0
"""Least distance of lettering from any line, mm (chosen: two wide lines of ISO 128)."""


def boxes(size: tuple[float, float], centres: NDArray, angles: NDArray | float) -> NDArray:
    """(n,) rectangles of `size` (width, height) mm centred on `centres` (n, 2) and turned by `angles` (n,)."""
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array(size) / 2
    angle = np.broadcast_to(angles, len(centres))
    turn = np.stack([np.stack([np.cos(angle), np.sin(angle)], -1), np.stack([-np.sin(angle), np.cos(angle)], -1)], 1)
    return shapely.polygons(centres[:, None, :] + corners @ turn)


def _block_height(lines: int, height: float) -> float:
    return height * (1.3 + 1.6 * (lines - 1))  # ISO 3098-1: base lines at least 1.4 to 1.6 heights apart (from memory)


def texts(lines: Sequence[str], centre: NDArray, height: float, angle: float, layer: str = "label") -> tuple[Text, ...]:
    """The lettering itself, line under line, for the room that `place` takes."""
    angle = upright(angle)
    up = np.array([-np.sin(angle), np.cos(angle)])
    top = _block_height(len(lines), height) / 2 - 1.15 * height
    spots = [centre + up * (top - 1.6 * height * k) for k in range(len(lines))]
    return tuple(
        Text(line, (float(x), float(y)), height, angle, "middle", layer)
        for line, (x, y) in zip(lines, spots, strict=True)
    )


def upright(angle: float) -> float:
    """The same direction, turned by half a turn where lettering along it would stand on its head."""
    turned = (angle + np.pi / 2) % (2 * np.pi) - np.pi / 2
    return float(turned - np.pi if turned > np.pi / 2 + 1e-9 else turned)


class Room:
    """What is still free inside an outline. Each lettering placed takes its share of the room."""

    def __init__(self, outline: NDArray, lines: Iterable[NDArray]) -> None:
        """outline : (n, 2) mm, closed; lines : (k, 2) mm polylines that no lettering may touch."""
        polygon = shapely.make_valid(shapely.polygons(outline))
        drawn = shapely.union_all([shapely.linestrings(line) for line in lines if len(line) > 1])
        self._free = polygon.buffer(-CLEAR).difference(drawn.buffer(CLEAR, quad_segs=2))
        shapely.prepare(self._free)
        self._taken: list[shapely.Polygon] = []

    def reserve(self, size: tuple[float, float], centres: NDArray, angles: NDArray | float = 0.0) -> int | None:
        """Takes the first of `centres` (n, 2) where a rectangle of `size` mm fits: its index, or None."""
        candidates = boxes(size, centres, angles)
        fits = np.flatnonzero(shapely.contains_properly(self._free, candidates))
        if self._taken and len(fits):
            met = shapely.STRtree(self._taken).query(candidates[fits], predicate="dwithin", distance=CLEAR / 2)[0]
            fits = np.delete(fits, met)
        if not len(fits):
            return None
        self._taken.append(candidates[fits[0]])
        return int(fits[0])

    def place(
        self, lines: Sequence[str], heights: Sequence[float], centres: NDArray, angles: NDArray | float = 0.0
    ) -> tuple[Text, ...]:
        """Letters at the greatest of `heights` that fits at any of `centres`, the first taken; () if none does."""
        for height in heights:
            size = max(width(line, height) for line in lines), _block_height(len(lines), height)
            first = self.reserve(size, centres, angles)
            if first is not None:
                return texts(lines, centres[first], height, float(np.broadcast_to(angles, len(centres))[first]))
        return ()

    def spots(self, near: NDArray, *, step: float = 5.0) -> NDArray:
        """(n, 2) points on a grid in the free room, nearest to `near` first."""
        if self._free.is_empty:
            return np.empty((0, 2))
        x0, y0, x1, y1 = self._free.bounds
        grid = np.stack(np.meshgrid(np.arange(x0, x1, step), np.arange(y0, y1, step), indexing="ij"), -1).reshape(-1, 2)
        inside = grid[shapely.contains_xy(self._free, grid)]
        return inside[np.argsort(np.linalg.norm(inside - near, axis=1), kind="stable")]
