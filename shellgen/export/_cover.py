"""The first printed page: how to print and join, what the lines mean, and where every page belongs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.affinity import affine_transform

from shellgen.canvas import Path, Text, lettering
from shellgen.canvas.paper import PagePlan, Placed, label
from shellgen.canvas.sign import Sign
from shellgen.canvas.tiling import enclosed, is_edge
from shellgen.core.arrays import Floats
from shellgen.export import _page_marks
from shellgen.export._page_marks import Items

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
_SAMPLE, _LEAST_PITCH, _PITCH = 31.0, 8.5, 12.5  # mm: from a sample's left to its words; from row to row (chosen)
TRIM = Sign("trim line", "joint of paper", "", (Path(np.array([(0.0, 0.0), (26.0, 0.0)]), "trim"),))
CROSS = Sign("cross", "meets its neighbour's", "", tuple(_page_marks.cross(np.array([13.0, 0.0]))))
FAULTS_SHOWN = 3
"""Chosen: what a cover has room for besides; the build guide has all."""


@dataclass(frozen=True, slots=True, eq=False)
class Front:
    """What stands on a cover. use : what the pages are for; faults : what is wrong, which comes first

    signs : what is on the pieces; prints : every paper, its number of pages, when it is needed
    """

    use: str = USE
    faults: tuple[str, ...] = ()
    signs: tuple[Sign, ...] = ()
    prints: tuple[tuple[str, str, str], ...] = ()


def words(front: Front) -> Iterator[str]:
    """All that a cover says, for a viewer's search."""
    yield from (*front.faults, *STEPS, front.use, CAUTION)
    yield from (" ".join(row) for row in front.prints)
    yield from (f"{sign.name}: {sign.brief}" for sign in front.signs)


def cover(plan: PagePlan, front: Front, *, title: str, count: str) -> Items:
    """Items of the cover, in the page's frame. count : such as "8 A4 pages, 13 pieces" """
    frame = plan.frame
    left, right, top = frame.margin + 5, frame.paper[0] - frame.margin, frame.paper[1] - frame.margin
    inside = frame.margin + 20
    corner = (left + _page_marks.SQUARE, inside + _page_marks.SQUARE)
    items = _heading(title, count, left, right, top)
    for k, line in enumerate(("Measure this square:", "100 mm wide, 100 mm high.")):
        items.append(Text(line, (left + 50, inside + 56 - 8 * k), 5.0 - 1.5 * k, anchor="middle", layer="note"))
    signs, foot = [*front.signs, *((TRIM, CROSS) if plan.split else ())], frame.margin + 8
    if frame.paper[0] > frame.paper[1]:
        begin = max(corner[0], (left + right) / 2) + 12
        items += _steps(front.use, left, begin - 12 - left, top - 20, _page_marks.SMALL)
        wrong, high = _wrong(front.faults, begin, right, top - 20)
        low, key, columns = inside + 72, (corner[0] + 12, inside + 64), 2
        for share in (0.62, 0.7):  # the rest is for the map
            listed, free = _prints(front.prints, begin, begin + share * (right - begin), high - 2, low)
            if listed:
                break
    else:
        wrong, start = _wrong(front.faults, left, right, top - 22)
        for height in (_BODY, _page_marks.SMALL):
            steps = _steps(front.use, left, right - left, start, height)
            high = min(item.at[1] for item in steps if isinstance(item, Text)) - 8
            listed, free = _prints(front.prints, left, corner[0] + 6, high - 2, corner[1] + 8)
            if listed or not front.prints:
                break
        items += steps
        key, columns = (corner[0] + 10, min(high - 2, max(corner[1] - 2, foot + _LEAST_PITCH * len(signs)))), 1
        low = max(corner[1] + 8, key[1] + 6)
    items += wrong + listed + _key(signs, key[0], right, key[1], foot, columns)
    return items + _large_map(plan, (free, low), (right - free, high - 2 - low))


def _prints(
    prints: Sequence[tuple[str, str, str]], left: float, right: float, top: float, low: float
) -> tuple[Items, float]:
    """What to print and when, if there is room above `low`, and where to its right there is room for more."""
    across, row = right - left, 1.7 * _page_marks.SMALL
    name, pages = (max(lettering.width(of[k], _page_marks.SMALL) for of in prints) + 4 if prints else 0 for k in (0, 1))
    items, y = Items([Text("What to print, and when", (left, top - _BODY), _BODY, layer="note")]), top - 2.6 * _BODY
    for what, count, when in prints:
        for x, text in ((left, what), (left + name, count)):
            items.append(Text(text, (x, y), _page_marks.SMALL, layer="note"))
        for line in _page_marks.wrap(when, across - name - pages, _page_marks.SMALL):
            items.append(Text(line, (left + name + pages, y), _page_marks.SMALL, layer="note"))
            y -= row
        y -= 0.2 * row
    return (items, right + 4) if prints and y > low - row else (Items(), left)


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


def _key(signs: Sequence[Sign], left: float, right: float, top: float, low: float, columns: int) -> Items:
    """A sample of every sign, as it is drawn, with its name and meaning."""
    deep, wide = max(1, -(-len(signs) // columns)), (right - left) / columns
    pitch = min(_PITCH, (top - low) / deep)
    items: Items = []
    for k, sign in enumerate(signs):
        x, y = left + wide * (k // deep), top - pitch * (k % deep + 0.5)
        items += [_moved(item, x, y) for item in sign.items]
        lines = _page_marks.wrap(f"{sign.name}: {sign.brief}", wide - _SAMPLE - 4, _page_marks.SMALL, most=2)
        for row, line in enumerate(lines):
            base = y - 1.2 + 2.1 * (len(lines) - 1) - 4.2 * row
            items.append(Text(line, (x + _SAMPLE, base), _page_marks.SMALL, layer="note"))
    return items


def _moved(item: Path | Text, x: float, y: float) -> Path | Text:
    if isinstance(item, Path):
        return Path(item.points + np.array([x, y]), item.layer, item.closed)
    return replace(item, at=(item.at[0] + x, item.at[1] + y))


def _silhouette(placed: Placed) -> shapely.Geometry:
    """What is cut out, or framed; of a drawing without either the box of what it covers."""
    paths = [item for item in placed.drawing.items if isinstance(item, Path)]
    for lines in (filter(is_edge, paths), (path for path in paths if path.layer == "guide")):
        areas = enclosed(placed.move(path.line) for path in lines)
        if areas:
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
