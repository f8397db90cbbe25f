"""Parts of card that are joined by glue tabs: which edge of each seam has them, and what is drawn along the edges."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace

import numpy as np
import shapely

from shellgen.canvas import Drawing, Path, Text
from shellgen.core.arrays import Floats
from shellgen.draw.lines import Tick
from shellgen.draw.placing import Room, size_of
from shellgen.geom.curves import arc_length, at_arc_length
from shellgen.geom.tabs import Tab, TabSizes, part, tabs

TAB = (225, 225, 225)
"""Colour of a tab (chosen: light enough for a line and letters on it)."""
ALIKE = 0.05
"""Share by which the tabs of the two edges of a seam may differ and count as equal (chosen)."""
TITLES = (3.5, 2.5, 1.8)  # ISO 3098
GAP = 0.7
"""mm from the end of a tick to its number (chosen)."""
SAME = 0.01
"""mm within which two marks are at one place: both edges of a dart end at its tip."""

SHARES, INSETS, NEAR = np.array([0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8]), (3.0, 4.5, 6.0), 0.5
"""Places for words along an edge: how far along, mm in from it; mm over which its direction is taken."""

Items = list[Path | Text]


@dataclass(frozen=True, slots=True, eq=False)
class CardEdge:
    """seam : its index; side : 0 or 1, which of its edges; line : (n, 2) in the order of the outline"""

    seam: int
    side: int
    line: Floats


@dataclass(frozen=True, slots=True, eq=False)
class CardPart:
    """area : a polygon; edges : those that are joined; bare : (n, 2) lines of the rest of the outline"""

    name: str
    area: shapely.Polygon
    edges: tuple[CardEdge, ...]
    bare: tuple[Floats, ...]
    ticks: tuple[Tick, ...]


@dataclass(frozen=True, slots=True, eq=False)
class CardLook:
    """length : of a tick, mm; heights : of a mark's number; apart : mm between the marks of a seam; words : under the
    name of a part; border : mm of the sheet around it"""

    length: float
    heights: tuple[float, ...]
    apart: float
    words: tuple[str, ...]
    border: float = 2.0


Inside = Callable[[CardPart, Room], Items]
"""What else is drawn on a part where it has room."""
Tabbed = Mapping[int, tuple[int, tuple[Tab, ...]]]
"""By the index of a seam, which of its edges has the tabs, and these."""


def tabbed(parts: Sequence[CardPart], order: Sequence[int], sizes: TabSizes) -> Tabbed:
    """Tabs for each seam, on the edge where more fits; if both are alike, on the upper one.

    order : of the seams; earlier ones get their tabs first
    """
    taken: list[list[shapely.Geometry]] = [[] for _ in parts]
    chosen: dict[int, tuple[int, tuple[Tab, ...]]] = {}
    for seam in order:
        ways = [
            (edge, k, tabs(edge.line, parts[k].area, shapely.union_all(taken[k]), sizes))
            for k in range(len(parts))
            for edge in parts[k].edges
            if edge.seam == seam
        ]
        areas = [sum(tab.area for tab in made) for _, _, made in ways]
        good = [way for way, area in zip(ways, areas, strict=True) if area >= (1 - ALIKE) * max(areas)]
        edge, k, made = max(good, key=lambda way: round(float(way[0].line[:, 1].mean()), 3))
        chosen[seam] = edge.side, made
        taken[k] += [shapely.Polygon(tab.outline) for tab in made]
    return chosen


def _covered(part_: CardPart, chosen: Tabbed) -> shapely.Geometry:
    """What a part takes on the sheet, with its tabs."""
    return shapely.union_all([part_.area, *(shapely.Polygon(tab.outline) for _, tab in _tabs_of(part_, chosen))])


def _tabs_of(part_: CardPart, chosen: Tabbed) -> Iterator[tuple[CardEdge, Tab]]:
    for edge in part_.edges:
        side, made = chosen[edge.seam]
        for tab in made if side == edge.side else ():
            yield edge, tab


def edge_paths(part_: CardPart, chosen: Tabbed, names: Sequence[str]) -> Iterator[Path]:
    """The outline: folds where a tab hangs, cuts elsewhere and around the tabs. names : of the seams"""
    for edge, tab in _tabs_of(part_, chosen):
        yield Path(tab.outline, "fill", closed=True, data={"tab": names[edge.seam]}, fill=TAB)
        yield Path(tab.free, "cut", data={"tab": names[edge.seam]})
    for edge in part_.edges:
        data = {"seam": names[edge.seam], "side": str(edge.side)}
        here = [tab for other, tab in _tabs_of(part_, chosen) if other is edge]
        ends = [0.0, *(end for tab in here for end in (tab.begin, tab.end)), float(arc_length(edge.line)[-1])]
        for k in range(len(ends) - 1):
            yield Path(part(edge.line, ends[k], ends[k + 1]), "score" if k % 2 else "cut", data=data)
    for line in part_.bare:
        yield Path(line, "cut")


def _mark_items(parts: Sequence[CardPart], rooms: Sequence[Room], look: CardLook) -> list[Items]:
    """Ticks and numbers on each part: both ends of every seam, and between them what has room on both its edges."""
    items: list[Items] = [[] for _ in parts]
    where = _where(parts)
    kept: dict[str, list[Floats]] = {}
    for end in (True, False):
        for places in where.values():
            tick = places[0][1]
            near = kept.setdefault(tick.seam, [])
            if tick.end != end or (not end and any(np.hypot(*(tick.at - at)) < look.apart for at in near)):
                continue
            with ExitStack() as stack:
                trials = [stack.enter_context(rooms[k].trial()) for k, _ in places]
                words = [_number(tick, rooms[k], look) for k, tick in places]
                if end or all(words):
                    near.append(tick.at)
                    for (k, tick), said, undo in zip(places, words, trials, strict=True):
                        items[k] += [_line(tick, look.length), *said]
                        undo.clear()
    return items


def _where(parts: Sequence[CardPart]) -> dict[int, list[tuple[int, Tick]]]:
    """By the number of a mark its places, each a part and a tick; once where both edges of a dart meet."""
    where: dict[int, list[tuple[int, Tick]]] = {}
    for k, part_ in enumerate(parts):
        for tick in part_.ticks:
            places = where.setdefault(tick.number, [])
            if places and places[0][0] == k and np.hypot(*(places[0][1].at - tick.at)) < SAME:
                back = places[0][1].inward + tick.inward  # both lean away from the tip, into the gap
                places[0] = k, replace(tick, inward=-back / np.hypot(*back))
            else:
                places.append((k, tick))
    return where


def _line(tick: Tick, length: float) -> Path:
    points = np.array([tick.at, tick.at + length * tick.inward])
    return Path(points, "mark", data={"seam": tick.seam, "mark": tick.written})


def _number(tick: Tick, room: Room, look: CardLook) -> Items:
    """The number of a mark, near its tick or with a leader line; none if there is no room."""
    length = look.length
    for height in look.heights:
        half = np.array(size_of([tick.written], height)) / 2
        aside = np.array([-tick.inward[1], tick.inward[0]])
        reach, wide = np.abs(tick.inward) @ half, np.abs(aside) @ half + GAP + 1.0
        beyond = [(length + GAP + 1.0 + reach + far, side) for far in (0.0, 1.0, 2.0) for side in (0.0, 1.5, -1.5)]
        at_side = [(max(reach + 1.5, length / 2) + far, s * wide) for far in (0.0, 1.5) for s in (1, -1)]
        places = np.array([*beyond, *at_side])
        spots = tick.at + places[:, :1] * tick.inward + places[:, 1:] * aside
        found = room.place([tick.written], (height,), spots)
        if found:
            return list(found)
    tip = tick.at + length * tick.inward
    return list(room.lead([tick.written], look.heights[-1:], tip, across=length)) if tick.end else []


def card_sheets(
    parts: Sequence[CardPart],
    chosen: Tabbed,
    names: Sequence[str],
    lines: Sequence[Sequence[Path]],
    look: CardLook,
    more: Inside | None = None,
) -> tuple[Drawing, ...]:
    """Each part with its tabs, marks and name on the smallest sheet. lines : drawn on each part, for help only"""
    ends = [[_line(tick, look.length).points for tick in part_.ticks if tick.end] for part_ in parts]
    rooms = [
        Room(np.asarray(part_.area.exterior.coords)[:-1], [*(path.line for path in own), *ticks])
        for part_, own, ticks in zip(parts, lines, ends, strict=True)
    ]
    marks = _mark_items(parts, rooms, look)
    taped = {seam for seam, (_, made) in chosen.items() if not made}
    sheets = []
    for k, part_ in enumerate(parts):
        middle = np.asarray(part_.area.representative_point().coords[0])
        spots = rooms[k].spots(middle, step=2.0)
        said = [part_.name, *look.words]
        title = rooms[k].place(said, TITLES, spots) or rooms[k].place(said[:1], TITLES, spots)
        bare = [edge.line for edge in part_.edges if edge.seam in taped and not edge.side]
        tape = [word for line in bare for word in rooms[k].place(["tape"], look.heights, _along(line))]
        own = [*tape, *(more(part_, rooms[k]) if more else ())]
        low, high = np.reshape(_covered(part_, chosen).bounds, (2, 2)) + [[-look.border], [look.border]]
        items = [*lines[k], *edge_paths(part_, chosen, names), *marks[k], *title, *own]
        moved = tuple(_moved(item, -low) for item in items)
        sheets.append(Drawing(part_.name, *(high - low).tolist(), moved, part_.name))
    return tuple(sheets)


def _along(line: Floats) -> Floats:
    """(n, 2) places next to an edge, from its middle."""
    whole = arc_length(line)[-1]
    at = at_arc_length(line, whole * SHARES)
    ahead = at_arc_length(line, whole * SHARES + NEAR) - at_arc_length(line, whole * SHARES - NEAR)
    inward = np.column_stack([-ahead[:, 1], ahead[:, 0]]) / np.linalg.norm(ahead, axis=1, keepdims=True)
    return np.vstack([at + inset * inward for inset in INSETS])


def _moved(item: Path | Text, by: Floats) -> Path | Text:
    if isinstance(item, Path):
        return replace(item, points=item.points + by)
    return replace(item, at=(item.at[0] + float(by[0]), item.at[1] + float(by[1])))
