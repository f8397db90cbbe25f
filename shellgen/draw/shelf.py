"""Small parts on few sheets of paper, each whole on one sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import shapely
from shapely.affinity import rotate, translate

from shellgen.canvas import Drawing, Path, Text, lettering, tiling
from shellgen.canvas.paper import PAPERS, Frame, PagePlan, Placed
from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.core.memory import remembered

GAP = 4.0
"""mm between parts: room for scissors (chosen)."""
SLANT = 1.03
"""A part keeps its direction unless it is higher than its lowest direction by more than this factor (chosen)."""
FULL = 0.75
"""Share of a page that parts fill at best (chosen by trial)."""
HAIR = 0.3
"""mm, half the widest line."""
Rectangle = tuple[float, float, float, float]
"""x and y of the lower and the upper corner."""


def shelve(
    drawings: Sequence[Drawing],
    *,
    paper: str | tuple[float, float] = "A4",
    landscape: bool | None = None,
    margin: float = 8.0,
    overlap: float = 12.0,
) -> PagePlan:
    """The parts, each as its bounding rectangle. If one is larger than a sheet, all are arranged as large pieces."""
    how: dict[str, Any] = {"paper": paper, "landscape": landscape, "margin": margin, "overlap": overlap}
    return shelved(drawings, **how) or tiling.arrange(drawings, **how)


def shelved(
    drawings: Sequence[Drawing],
    *,
    paper: str | tuple[float, float],
    landscape: bool | None,
    margin: float,
    overlap: float,
) -> PagePlan | None:
    """The parts, each as its bounding rectangle, whole on a sheet; None if one is larger than a sheet.

    References: J. Jylanki, A thousand ways to pack the bin (2010), maximal rectangles, best short side fit.
    """
    size = PAPERS[paper] if isinstance(paper, str) else paper
    short, long = sorted(size)
    frame = Frame((long, short) if landscape else (short, long), margin, overlap)
    window = np.array(frame.window[2:])
    oriented = [_oriented(drawing, frame.window[2:]) for drawing in drawings]
    if not drawings or any(part is None for part in oriented):
        return None
    parts = [part for part in oriented if part is not None]
    sizes = np.array([np.ptp(np.reshape(shape.bounds, (2, 2)), axis=0) for _, shape in parts])
    spots = _spots(sizes, window, np.array([not _cut(drawing) and _has_sentences(drawing) for drawing in drawings]))
    count = 1 + max(page for page, _, _ in spots)
    columns = int(np.ceil(np.sqrt(count)))  # nearly square, so that the map of the pages is large
    placed = []
    for drawing, (angle, shape), (page, x, y) in zip(drawings, parts, spots, strict=True):
        tile = divmod(page, columns)
        left, _, _, top = frame.tile(*tile)
        dx, dy = left + x - shape.bounds[0], top - y - shape.bounds[3]
        placed.append(Placed(drawing, angle, (dx, dy), (tile,), translate(shape, dx, dy)))
    return PagePlan(frame, tuple(placed), tuple(divmod(page, columns) for page in range(count)))


def fewest(drawings: Sequence[Drawing], **how: Any) -> PagePlan:
    """The parts as rectangles, or by their shapes where that takes fewer pages."""
    plan = shelved(drawings, **how) or tiling.arrange(drawings, **how)
    room = FULL * float(np.prod(plan.frame.window[2:]))
    if plan.split or sum(_covers(drawing).area for drawing in drawings) > room * (len(plan.pages) - 1):
        return plan
    close = tiling.arrange(drawings, **how)
    return close if not close.split and len(close.pages) < len(plan.pages) else plan


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
def _oriented(drawing: Drawing, window: tuple[float, float]) -> tuple[float, shapely.Geometry] | None:
    """The part turned to be lowest, or unturned if it has instructions in sentences; upright if it is too long for
    that; None if neither fits. Its lettering is never upside down."""
    shape = _covers(drawing)
    corners = np.array(shapely.minimum_rotated_rectangle(shape).exterior.coords)
    edges = np.diff(corners[:3], axis=0)
    sides = np.hypot(*edges.T)
    long, drawn = edges[np.argmax(sides)], shape.bounds[3] - shape.bounds[1]
    level = 0.0 if _has_sentences(drawing) or drawn < SLANT * sides.min() else float(-np.arctan2(long[1], long[0]))
    level -= np.pi * round(level / np.pi)  # nearest to its drawn direction
    for angle in (level, level + np.pi / 2, 0.0, np.pi / 2):
        angle += np.pi * _upside_down(drawing, angle)
        turned = rotate(shape, angle, origin=(0, 0), use_radians=True)
        if (np.ptp(np.reshape(turned.bounds, (2, 2)), axis=0) <= window).all():
            return angle, turned
    return None


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


def _spots(sizes: Floats, window: Floats, first_of_all: Bools) -> list[tuple[int, float, float]]:
    """For each part (page, x, y) of its upper left corner, y down from the top of the window: the best
    of several orders, with the fewest pages. first_of_all : what comes before the rest"""
    across, up = sizes.T
    keys = (up, across), (across * up, up), (across, up)
    orders = [np.lexsort((-second, -first, ~first_of_all)) for first, second in keys]
    return min((_packed(sizes + GAP, window + GAP, order) for order in orders), key=lambda spots: 1 + max(spots)[0])


def _packed(sizes: Floats, window: Floats, order: Ints) -> list[tuple[int, float, float]]:
    """Each part in turn on the first page with a free rectangle for it, where it leaves the narrowest gap."""
    pages: list[list[Rectangle]] = []  # the free ones of each page
    spots, (wide, high) = [(0, 0.0, 0.0)] * len(sizes), window.tolist()
    for k in order.tolist():
        across, up = sizes[k].tolist()
        for page in range(len(pages) + 1):
            if page == len(pages):
                pages.append([(0.0, 0.0, wide, high)])
            spare = [min(x1 - x0 - across, y1 - y0 - up) for x0, y0, x1, y1 in pages[page]]
            fits = [(round(least, 6), f) for f, least in enumerate(spare) if least >= -1e-9]
            if fits:
                x, y, _, _ = pages[page][min(fits)[1]]
                pages[page] = _free(pages[page], (x, y, x + across, y + up))
                spots[k] = page, x, y
                break
    return spots


def _free(free: list[Rectangle], taken: Rectangle) -> list[Rectangle]:
    """The largest free rectangles after another is taken from them."""
    left, (u0, v0, u1, v1) = set[Rectangle](), taken
    for one in free:
        x0, y0, x1, y1 = one
        if x0 < u1 - 1e-9 and y0 < v1 - 1e-9 and u0 < x1 - 1e-9 and v0 < y1 - 1e-9:
            parts = (x0, y0, u0, y1), (u1, y0, x1, y1), (x0, y0, x1, v0), (x0, v1, x1, y1)
            left |= {part for part in parts if part[2] - part[0] > 1e-9 and part[3] - part[1] > 1e-9}
        else:
            left.add(one)
    return [one for one in sorted(left) if not any(_contains(other, one) for other in left if other != one)]


def _contains(large: Rectangle, small: Rectangle) -> bool:
    return large[0] <= small[0] and large[1] <= small[1] and large[2] >= small[2] and large[3] >= small[3]
