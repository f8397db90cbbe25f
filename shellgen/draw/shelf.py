"""Small parts on as few sheets of paper as shelves allow, each whole on one sheet."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.affinity import rotate, translate

from shellgen import lettering, tiling
from shellgen.canvas import Drawing, Path, Text
from shellgen.paper import PAPERS, Frame, Placed, Plan

GAP = 4.0
"""mm between parts: room for scissors (chosen)."""
SLANT = 1.03
"""A part stays as it is drawn unless it is higher so than it can be, by more than this factor (chosen)."""
HAIR = 0.3
"""mm, half the widest line."""


def shelve(
    drawings: Sequence[Drawing],
    *,
    paper: str | tuple[float, float] = "A4",
    landscape: bool | None = None,
    margin: float = 8.0,
    overlap: float = 12.0,
) -> Plan:
    """The parts on shelves, the highest first. Where a part is larger than a sheet, all are laid out as large pieces.

    References: first fit decreasing height (Coffman, Garey, Johnson and Tarjan, SIAM J. Comput. 9, 1980).
    """
    size = PAPERS[paper] if isinstance(paper, str) else paper
    short, long = sorted(size)
    frame = Frame((long, short) if landscape else (short, long), margin, overlap)
    window = np.array(frame.window[2:])
    laid = [_lying(drawing, _covers(drawing), window) for drawing in drawings]
    if not drawings or any(part is None for part in laid):
        return tiling.arrange(drawings, paper=paper, landscape=landscape, margin=margin, overlap=overlap)
    parts = [part for part in laid if part is not None]
    spots = _shelves(np.array([np.ptp(np.reshape(shape.bounds, (2, 2)), axis=0) for _, shape in parts]), window)
    count = 1 + max(page for page, _, _ in spots)
    columns = int(np.ceil(np.sqrt(count)))  # as good as square, so that the map of the pages is large
    placed = []
    for drawing, (angle, shape), (page, x, y) in zip(drawings, parts, spots, strict=True):
        tile = divmod(page, columns)
        left, _, _, top = frame.tile(*tile)
        dx, dy = left + x - shape.bounds[0], top - y - shape.bounds[3]
        placed.append(Placed(drawing, angle, (dx, dy), (tile,), translate(shape, dx, dy)))
    return Plan(frame, tuple(placed), tuple(divmod(page, columns) for page in range(count)))


def _covers(drawing: Drawing) -> shapely.Geometry:
    """What a part covers: the inside of its closed cuts, its lettering, and lines that reach out of these."""
    paths = [item for item in drawing.items if isinstance(item, Path)]
    solid = [shapely.make_valid(shapely.Polygon(p.points)) for p in paths if p.closed and p.layer in ("cut", "guide")]
    words = [shapely.Polygon(lettering.box(item)) for item in drawing.items if isinstance(item, Text)]
    whole = shapely.union_all([*solid, *words])
    shapely.prepare(whole)
    out = [p.points for p in paths if not p.closed and not shapely.contains_xy(whole, p.points).all()]
    return shapely.union_all([whole, *map(shapely.LineString, out)]).buffer(HAIR, quad_segs=2)


def _lying(drawing: Drawing, shape: shapely.Geometry, window: NDArray) -> tuple[float, shapely.Geometry] | None:
    """The part turned so that it is lowest, or as it is drawn where it is told in sentences what to do with it; upright
    where it is too long for that; None where neither fits. Its lettering does not stand on its head."""
    corners = np.array(shapely.minimum_rotated_rectangle(shape).exterior.coords)
    edges = np.diff(corners[:3], axis=0)
    sides = np.hypot(*edges.T)
    long, drawn = edges[np.argmax(sides)], shape.bounds[3] - shape.bounds[1]
    told = any(isinstance(item, Text) and item.layer == "note" for item in drawing.items)
    level = 0.0 if told or drawn < SLANT * sides.min() else float(-np.arctan2(long[1], long[0]))
    level -= np.pi * round(level / np.pi)  # nearest to as it is drawn
    for angle in (level, level + np.pi / 2, 0.0, np.pi / 2):
        angle += np.pi * _overturned(drawing, angle)
        turned = rotate(shape, angle, origin=(0, 0), use_radians=True)
        if (np.ptp(np.reshape(turned.bounds, (2, 2)), axis=0) <= window).all():
            return angle, turned
    return None


def _overturned(drawing: Drawing, angle: float) -> bool:
    """Whether most letters stand on their head once a drawing is turned; those on their side are read from the right.

    References: ISO 129-1, dimensions are read from the bottom or the right-hand side of the drawing (from memory).
    """
    read = sum(
        len(item.text) * (np.cos(item.angle + angle) + 1e-3 * np.sin(item.angle + angle))
        for item in drawing.items
        if isinstance(item, Text)
    )
    return bool(read < 0)


def _shelves(sizes: NDArray, window: NDArray) -> list[tuple[int, float, float]]:
    """For each part (page, x, y) of its upper left corner, y down from the top of the window."""
    shelves: list[list[float]] = []  # page, y, height, x
    depth: list[float] = []
    spots: list[tuple[int, float, float]] = [(0, 0.0, 0.0)] * len(sizes)
    for k in np.lexsort((-sizes[:, 0], -sizes[:, 1])):
        across, up = sizes[k]
        shelf = next((s for s in shelves if up <= s[2] and s[3] + across <= window[0] + 1e-9), None)
        if shelf is None:
            page = next((p for p, d in enumerate(depth) if d + up <= window[1] + 1e-9), len(depth))
            if page == len(depth):
                depth.append(0.0)
            shelf = [page, depth[page], up, 0.0]
            depth[page] += up + GAP
            shelves.append(shelf)
        spots[k] = int(shelf[0]), shelf[3], shelf[1]
        shelf[3] += across + GAP
    return spots
