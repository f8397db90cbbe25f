"""Pieces on sheets of foam: as few sheets as can be found, textured side up, and the largest offcut left whole."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from math import ceil

import numpy as np
import shapely

from shellgen.model import Cut, Finding, Pattern
from shellgen.model.said import count, several
from shellgen.workshop.nest.fill import fill
from shellgen.workshop.nest.order import tour
from shellgen.workshop.nest.parts import FlatPart, Nest, Params, Placement, Sheet
from shellgen.workshop.nest.purchase import Stock, bound

__all__ = ["FlatPart", "Nest", "Params", "Placement", "Sheet", "Stock", "build", "pieces"]

EXACT = 1e-3
"""mm that a measured distance may fall short of the one asked for: no more than lengths are written with."""


def pieces(cut: Cut, pattern: Pattern, thickness: float) -> tuple[FlatPart, ...]:
    """The shell's own pieces, both hands."""
    return tuple(
        FlatPart(piece.name, flat.flat[piece.outline], thickness)
        for piece, flat in zip(cut.pieces, pattern.flats, strict=True)
    )


def build(
    parts: Sequence[FlatPart], params: Params, *, thickness: float, progress: Callable[[str], None] = lambda _: None
) -> Nest:
    """Parts on sheets. Only parts of one thickness share a sheet; `thickness` is that of sheets which name none."""
    sheets: list[Sheet] = []
    left: list[FlatPart] = []
    findings: list[Finding] = []
    least = 0
    for depth in dict.fromkeys(part.thickness for part in parts):
        same = [part for part in parts if part.thickness == depth]
        kinds = [k for k in params.sheets if (thickness if k.thickness is None else k.thickness) == depth]
        for stock, placements in fill(same, kinds, params, progress=progress):
            sheets.append(_sheet(f"sheet-{len(sheets) + 1}", stock, depth, placements, params))
        on = {id(p.part) for sheet in sheets for p in sheet.placements}
        missing = [part for part in same if id(part) not in on]
        left += missing
        least += _bound(same, kinds, params)
        findings += _missing(missing, kinds, depth, params)
    area = sum(sheet.stock.length * sheet.stock.width for sheet in sheets)
    share = sum(sheet.utilisation * sheet.stock.length * sheet.stock.width for sheet in sheets) / area if area else 0.0
    prices = [sheet.stock.price for sheet in sheets]
    cost = None if None in prices else float(sum(price or 0.0 for price in prices))
    findings += [*_summary(len(sheets), least, share), *_unsound(sheets, params)]
    return Nest(tuple(sheets), least, share, cost, tuple(part.name for part in left), tuple(findings))


def _bound(parts: Sequence[FlatPart], kinds: Sequence[Stock], params: Params) -> int:
    rooms = [float(np.prod(kind.room(params.margin))) for kind in kinds]
    counts = [len(parts) if kind.count is None else kind.count for kind in kinds]
    return bound(rooms, counts, sum(shapely.Polygon(part.outline).area for part in parts))


def _sheet(name: str, stock: Stock, thickness: float, placements: tuple[Placement, ...], params: Params) -> Sheet:
    """The sheet with its cutting order, measured on the parts' own outlines."""
    shapes = np.array([shapely.Polygon(p.outline) for p in placements])
    order = tour(shapely.get_coordinates(shapely.point_on_surface(shapes)))
    first, second = np.triu_indices(len(shapes), 1)
    x0, y0, x1, y1 = shapely.total_bounds(shapes)
    return Sheet(
        name,
        stock,
        thickness,
        tuple(placements[k] for k in order),
        used=min(stock.length, float(x1) + params.separation + params.kerf),
        utilisation=float(shapely.area(shapes).sum() / (stock.length * stock.width)),
        gap=float(shapely.distance(shapes[first], shapes[second]).min()) if len(first) else float("inf"),
        edge=float(min(x0, y0, stock.length - x1, stock.width - y1)),
    )


def _missing(parts: Sequence[FlatPart], kinds: Sequence[Stock], thickness: float, params: Params) -> Iterator[Finding]:
    """Why parts are on no sheet, and what to change."""
    if parts and not kinds:
        text = f"{len(parts)} parts of {thickness:g} mm foam are on no sheet"
        yield Finding("caution", "nest", f"{text}: name a sheet of that thickness under nest.sheets")
    elif parts:
        length, width = max((kind.room(params.margin) for kind in kinds), key=lambda room: room[0] * room[1])
        corners = [
            np.array(shapely.minimum_rotated_rectangle(shapely.Polygon(p.outline)).exterior.coords) for p in parts
        ]
        sizes = [sorted(np.hypot(*(c[1:3] - c[:2]).T), reverse=True) for c in corners]
        large = [size for size in sizes if size[0] > length or size[1] > width]
        round_it = 2 * params.margin + params.separation + params.kerf
        a, b = (ceil(float(side) + round_it) for side in np.max([*large, (length, width)], axis=0))
        if large:
            named = (f"{p.name} ({x:.0f} x {y:.0f} mm)" for p, (x, y) in zip(parts, sizes, strict=True))
            text = f"no room on any sheet for {several(named)}; within its margins the largest measures"
            more = f"{length:.0f} x {width:.0f} mm: a sheet of {a} x {b} mm is large enough (nest.sheets)"
            yield Finding("fault", "size", f"{text} {more}")
        elif any(kind.count is None for kind in kinds):
            text = (
                f"{several(p.name for p in parts)} would fit a sheet only at an angle that is not allowed: let pieces"
            )
            yield Finding("fault", "size", f"{text} turn freely (nest: rotations: free), or take larger sheets")
        else:
            room = sum(shapely.Polygon(p.outline).area for p in parts) / (length * width)
            text = f"the sheets are used up, and {several(p.name for p in parts)} lie on none: at least "
            yield Finding("fault", "nest", f"{text}{count(ceil(room), 'more sheet')} are needed (nest.sheets: count)")


def _summary(count: int, least: int, share: float) -> Iterator[Finding]:
    if count:
        sheets = "one sheet" if count == 1 else f"{count} sheets"
        text = f"{sheets} of foam, of which {share:.0%} goes into the parts; by area alone no layout could do with "
        yield Finding("ok", "nest", text + (f"fewer than {least}" if least < count else "fewer"))


def _unsound(sheets: Sequence[Sheet], params: Params) -> Iterator[Finding]:
    """What measuring finds that must not be: nothing, or the layout is wrong."""
    between = params.separation + params.kerf
    for sheet in sheets:
        if sheet.gap < between - EXACT or sheet.edge < params.margin - EXACT:
            yield Finding(
                "fault",
                "nest",
                f"on {sheet.name} parts come within {sheet.gap:.2f} mm of each other and {sheet.edge:.2f} mm of the "
                f"edge; asked for were {between:.2f} and {params.margin:.2f} mm: choose another seed under nest",
            )
