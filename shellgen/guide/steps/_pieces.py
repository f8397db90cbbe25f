"""Pictures of the pieces, large or side by side."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from shellgen.canvas import Drawing, Path, Text
from shellgen.canvas.lettering import box
from shellgen.guide.kit import Kit, listed
from shellgen.guide.leaf import Gallery, Picture

FEW = 2
"""Up to this many pieces are shown at the full width of the page (chosen)."""
TALL = {1: 150.0, 2: 105.0}
"""Height in mm of the picture of one piece, and of each of two."""
SIGNS = {1: 85.0, 2: 65.0}
"""The same for pictures without numbers (chosen: the signs on them stay clear)."""
TALLEST = 200.0
"""Height in mm of a picture that has a page to itself."""
GAP = 6.0
SLENDER = 1.4
SLIGHT = 0.8
"""Least share of its full-width size that a slender piece keeps at half the width (chosen)."""
EDGE = 2.0


def bare(drawing: Drawing) -> Drawing:
    """A sheet without its heading and the words below, trimmed to what is left."""
    items, shift, (width, height) = left(drawing)
    return replace(drawing, width=width, height=height, items=tuple(_moved(item, shift) for item in items))


def left(drawing: Drawing) -> tuple[list[Path | Text], tuple[float, float], tuple[float, float]]:
    """The items of a sheet without its heading and the words below, how to move them, and the size of the trimmed
    sheet."""
    items = [item for item in drawing.items if not (isinstance(item, Text) and item.layer == "note")]
    points = np.vstack([box(item) if isinstance(item, Text) else item.points for item in items])
    low, size = points.min(axis=0) - EDGE, np.ptp(points, axis=0) + 2 * EDGE
    return items, (float(-low[0]), float(-low[1])), (float(size[0]), float(size[1]))


def _moved(item: Path | Text, by: tuple[float, float]) -> Path | Text:
    if isinstance(item, Path):
        return Path(item.points + by, item.layer, item.closed, item.data, item.fill)
    return replace(item, at=(item.at[0] + by[0], item.at[1] + by[1]))


def gallery(
    kit: Kit,
    draw: Callable[[int, float, float], Drawing],
    *,
    left_only: bool = False,
    least: float = 0.0,
    tall: Mapping[int, float] = TALL,
    wanted: Callable[[Kit, int], bool] = lambda kit, index: True,
) -> Iterator[Picture | Gallery]:
    """Pictures of all pieces. draw : draws a piece, given its index and the largest width and height, mm
    tall : height if there are one or two

    left_only : right pieces are named as mirror images and not shown
    least : a piece that would be smaller than this scale at half the width of the page gets the full width; a slender
            one is still shown next to others
    """
    pieces = kit.foam.cut.pieces
    shown = [k for k, p in enumerate(pieces) if wanted(kit, k) and not (left_only and p.side == "R")]
    if len(shown) <= FEW:
        for k in shown:
            yield Picture(draw(k, kit.across, tall[len(shown)]), _words(kit, k, left_only))
        return
    across = (kit.across - GAP) / 2
    half = across, SLENDER * across
    large = [k for k in shown if (half / np.ptp(kit.foam.pattern.flats[k].flat, axis=0)).min() < least]
    half_width = {k: draw(k, *((across, TALLEST) if k in large else half)) for k in shown}
    for k in large:
        whole = draw(k, kit.across, TALLEST)
        if half_width[k].height < SLIGHT * whole.height:
            del half_width[k]
            yield Picture(whole, _words(kit, k, left_only), TALLEST)
    if half_width:
        yield Gallery(tuple(Picture(drawing, _words(kit, k, left_only), TALLEST) for k, drawing in half_width.items()))


def _words(kit: Kit, index: int, left_only: bool) -> str:
    piece = kit.foam.cut.pieces[index]
    mirror = kit.foam.cut.pieces[piece.mirror].name
    return f"{piece.name}; {mirror} is its mirror image." if left_only and mirror != piece.name else f"{piece.name}."


def grooved(kit: Kit) -> str:
    """The seams that follow plate lines, by name if others do not; "" if none does."""
    lines, seams = kit.ground.layout.lines, kit.foam.cut.seams
    along = [seam.name for seam in seams if any(lines[line].kind == "plate" for line in seam.lines)]
    return "every seam and dart" if along and len(along) == len(seams) else listed(along)
