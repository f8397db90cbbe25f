"""The first printed page: how to print and join, what the lines mean, and where every page belongs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.affinity import affine_transform

from shellgen.canvas import LAYERS, Path, Text, lettering
from shellgen.canvas.paper import PagePlan, Placed, label
from shellgen.core.arrays import Floats
from shellgen.export import _page_marks
from shellgen.export._page_marks import Items

Key = dict[str, tuple[str, str]]
KEY: Key = {
    "cut": ("cut", "cut through, blade upright"),
    "score": ("score", "burn or carve, not through"),
    "mark": ("mark", "join equal numbers"),
    "seat": ("seat", "a spike stands here"),
    "symmetry": ("midline", "both sides are alike"),
    "guide": ("guide", "help only, do not cut"),
    "trim": ("trim", "joint of paper, not foam"),
}
"""What each layer means to the maker, in the order shown."""

STEPS = (
    "Print every page at 100 % (“actual size”); switch off “fit to page”.",
    "Measure the square on this page: 100 mm both ways, or 4 in along the bar. If not, correct the print setup first.",
    "Where a trim line runs, cut the sheet along it at its left and top edge, lay it on its neighbour so that the "
    "crosses meet, and tape it.",
)
"""How to print; what the pages are for comes after."""
USE = "Cut the pieces out of the paper, lay them on the foam, textured side up, and draw around them."
CAUTION = "Caution: use a sharp blade on a cutting mat, cut away from your hand, and keep blades from children."

_BODY, _HEAD, _LEAST_MAP = 3.5, 5.0, 30.0  # mm; a smaller map says no more than the one on every page
FAULTS_SHOWN = 3
"""Chosen: what a cover has room for besides; the build guide has all."""


def cover(
    plan: PagePlan, *, title: str, count: str, use: str = USE, faults: Sequence[str] = (), key: Key = KEY
) -> Items:
    """Items of the cover, in the page's frame.

    count : such as "8 A4 pages, 13 pieces"; use : what the pages are for; faults : what is wrong, which comes first
    key   : what each layer means
    """
    frame = plan.frame
    left, right, top = frame.margin + 5, frame.paper[0] - frame.margin, frame.paper[1] - frame.margin
    corner = (left + _page_marks.SQUARE, frame.margin + 20 + _page_marks.SQUARE)
    items = _heading(title, count, left, right, top)
    inside = frame.margin + 20
    for k, line in enumerate(("Measure this square:", "100 mm wide, 100 mm high.")):
        items.append(Text(line, (left + 50, inside + 56 - 8 * k), 5.0 - 1.5 * k, anchor="middle", layer="note"))
    if frame.paper[0] > frame.paper[1]:
        middle = max(corner[0], (left + right) / 2)
        steps = _steps(use, left, middle - left, top - 20, _page_marks.SMALL)
        wrong, low = _wrong(faults, middle + 12, right, top - 20)
        items += wrong + steps + _key(plan, key, corner[0] + 12, right, inside + 62, columns=2)
        return items + _large_map(plan, (middle + 12, inside + 72), (right - middle - 12, low - 2 - inside - 72))
    wrong, begin = _wrong(faults, left, right, top - 22)
    items += wrong
    steps = _steps(use, left, right - left, begin, _BODY)
    low = min(item.at[1] for item in steps if isinstance(item, Text)) - 8
    items += steps + _key(plan, key, corner[0] + 10, right, corner[1] - 4, columns=1)
    return items + _large_map(plan, (left, corner[1] + 8), (right - left, low - corner[1] - 8))


def _heading(title: str, count: str, left: float, right: float, top: float) -> Items:
    height = lettering.fit(title, right - left, most=7.0) or _page_marks.SMALL
    name = _page_marks.shorten(title, right - left, height)
    return [Text(name, (left, top - 7), height, layer="note"), Text(count, (left, top - 13.5), _BODY, layer="note")]


def _wrong(faults: Sequence[str], left: float, right: float, top: float) -> tuple[Items, float]:
    """What is wrong, in few words, and how far down it reaches."""
    if not faults:
        return Items(), top
    head = "FAULT: correct it before you cut" if len(faults) == 1 else "FAULTS: correct them before you cut"
    top -= 0.5 * _HEAD
    items = Items([Text(head, (left, top), _HEAD, layer="note")])
    y = top - 1.7 * _HEAD
    more = len(faults) - FAULTS_SHOWN
    tail = [f"And {more} more: see the build guide."] if more > 0 else []
    for text in (*faults[:FAULTS_SHOWN], *tail):
        for line in _page_marks.wrap(f"{text[:1].upper()}{text[1:]}", right - left, _page_marks.SMALL):
            items.append(Text(line, (left, y), _page_marks.SMALL, layer="note"))
            y -= 1.7 * _page_marks.SMALL
        y -= 0.5 * _page_marks.SMALL
    items.append(_page_marks.note([(left, y), (right, y)]))
    return items, y - 2.2 * _BODY


def _steps(use: str, left: float, across: float, top: float, height: float) -> Items:
    items, y, indent = Items(), top, 2.0 * height
    for number, step in (*((str(k), s) for k, s in enumerate((*STEPS, use), start=1)), ("!", CAUTION)):
        items.append(Text(number, (left, y), height, layer="note"))
        for line in _page_marks.wrap(step, across - indent, height):
            items.append(Text(line, (left + indent, y), height, layer="note"))
            y -= 1.7 * height
        y -= 0.5 * height
    return items


def _key(plan: PagePlan, key: Key, left: float, right: float, top: float, *, columns: int) -> Items:
    """A sample of every line that occurs, with its name and meaning."""
    used = {item.layer for p in plan.placed for item in p.drawing.items} | ({"trim"} if plan.split else set())
    rows = [(layer, *words) for layer, words in key.items() if layer in used and layer in LAYERS]
    if plan.split:
        rows.append(("cross", "cross", "meets the neighbour's cross"))
    deep, wide = -(-len(rows) // columns), (right - left) / columns
    items: Items = []
    for k, (layer, name, meaning) in enumerate(rows):
        x, y = left + wide * (k // deep), top - 12.5 * (k % deep)
        items += _sample(layer, x, y)
        items.append(Text(name, (x + 22, y), _BODY, layer="note"))
        words = _page_marks.shorten(meaning, wide - 22)
        items.append(Text(words, (x + 22, y - 4.6), _page_marks.SMALL, layer="note"))
    return items


def _sample(layer: str, x: float, y: float) -> Items:
    if layer == "cross":
        return _page_marks.cross(np.array([x + 9, y]))
    if layer != "mark":
        return [Path(np.array([(x, y + 1), (x + 18, y + 1)]), layer)]
    edge = Path(np.array([(x, y - 2.5), (x + 18, y - 2.5)]), "cut")
    mark = Path(np.array([(x + 9, y - 2.5), (x + 9, y + 2)]), "mark")
    return [edge, mark, Text("7", (x + 11, y - 0.8), _page_marks.SMALL)]


def _silhouette(placed: Placed) -> shapely.Geometry:
    """What is cut out, or framed; of a drawing without either the box of what it covers."""
    for layer in ("cut", "guide"):
        lines = [
            placed.move(item.line) for item in placed.drawing.items if isinstance(item, Path) and item.layer == layer
        ]
        areas = shapely.get_parts(shapely.polygonize([shapely.linestrings(line) for line in lines]))
        if len(areas):
            return shapely.union_all([shapely.Polygon(area.exterior) for area in areas])
    return placed.outline.envelope


def _large_map(plan: PagePlan, at: tuple[float, float], room: tuple[float, float]) -> Items:
    """The pages as they lie, rows lettered and columns numbered, with the outlines and names of the pieces on them."""
    items, edge = Items(), 7.0
    tiles = np.array([plan.frame.tile(*page) for page in plan.pages])
    low, high = tiles[:, :2].min(axis=0), tiles[:, 2:].max(axis=0)
    space = np.array(room) - edge
    if min(space) < _LEAST_MAP:
        return items
    unit = min(space / (high - low))
    shift = np.array(at) + (edge, 0) + (space - unit * (high - low)) * (0.5, 1.0) - unit * low
    for (row, column), (x0, y0, x1, y1) in zip(plan.pages, tiles, strict=True):
        corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]) * unit + shift
        middle = corners.mean(axis=0)
        items.append(Path(corners, "guide", closed=True))
        if (row, column - 1) not in plan.pages:
            at_left = (corners[0, 0] - 2, middle[1] - _BODY / 2)
            items.append(Text(label((row, column))[:-1], at_left, _BODY, anchor="end", layer="note"))
        if (row - 1, column) not in plan.pages:
            above = (middle[0], corners[2, 1] + 1.5)
            items.append(Text(str(column + 1), above, _BODY, anchor="middle", layer="note"))
    for placed in plan.placed:
        items += _on_map(placed, unit, shift)
    return items


def _on_map(placed: Placed, unit: float, shift: Floats) -> Items:
    """The outline of a piece, and its name where that fits inside."""
    shape = affine_transform(_silhouette(placed).simplify(1.0), [unit, 0, 0, unit, *shift])
    items = Items(Path(np.array(part.exterior.coords)[:-1], "note", closed=True) for part in shapely.get_parts(shape))
    x, y = shape.representative_point().coords[0]
    for height in (3.5, 2.5, 1.8):  # ISO 3098; a name that does not fit inside its piece is left out
        text = Text(placed.drawing.name, (x, y - height / 2), height, anchor="middle", layer="note")
        if shape.contains(shapely.Polygon(lettering.box(text, clear=0.3))):
            items.append(text)
            break
    return items
