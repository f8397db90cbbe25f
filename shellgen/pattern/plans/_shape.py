"""Whether a flat piece fits the sheet, and whether it has narrow necks."""

from __future__ import annotations

import numpy as np
import shapely

from shellgen.core.arrays import Floats

CORNER = 0.25
"""A part cut off by a neck counts if it is at least this many squares of the neck's width. Chosen: less is a corner."""


def size_load(outline: Floats, sheet: tuple[float, float]) -> float:
    """Least factor by which a sheet (length, width) must grow to contain the points at their best angle."""
    hull = shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(outline)))[:-1]
    edge = np.diff(hull, axis=0, append=hull[:1])
    turn = np.exp(-1j * np.angle(edge @ (1, 1j)))
    turned = np.multiply.outer(turn, hull @ (1, 1j))  # the best rectangle has a side along the hull
    sides = np.sort(np.stack([np.ptp(turned.real, axis=1), np.ptp(turned.imag, axis=1)]), axis=0)
    return float((sides / np.sort(sheet)[:, None]).max(axis=0).min())


def neck_load(outline: Floats, width: float) -> float:
    """1 or less if no neck of the piece is narrower than `width`; else `width` over the width of the neck. The edges of
    a dart may touch or overlap."""
    shape = shapely.Polygon(outline).buffer(0)
    if width <= 0 or _whole(shape, width):
        return 0.0
    low, high = 0.0, width
    for _ in range(6):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _whole(shape, middle) else (low, middle)
    return width / max(low, width / 64)


def _whole(shape: shapely.Geometry, width: float) -> bool:
    """Whether the rest of a piece is in one part after `width` / 2 is removed all around."""
    left = shapely.get_parts(shape.buffer(-0.5 * width))
    return int((shapely.area(left) > CORNER * width**2).sum()) <= 1
