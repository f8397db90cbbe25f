"""Sheets of card parts: their lines with tabs, names, the numbers at both ends of every seam and between them as many
as have room."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace

import numpy as np

from shellgen.canvas import Drawing, Path, Text
from shellgen.core.arrays import Floats
from shellgen.draw.lines import Tick
from shellgen.draw.placing import Room, size_of
from shellgen.draw.shelf import shelved
from shellgen.draw.tabbing import CardPart, Tabbed, edge_paths, outlines, untabbed
from shellgen.geom.curves import at_arc_length, length
from shellgen.preset import PrintSection

TITLES = (3.5, 2.5, 1.8)  # ISO 3098
SMALL = 1.4
"""mm: height of what must be printed and has no room otherwise (chosen: the smallest that is still read)."""
TIGHT = 0.4
"""Factor of the usual distances there (chosen)."""
AROUND = 8.0
"""mm around a part where such things may stand too (chosen)."""
GAP = 1.7
"""mm from the end of a tick to its number (chosen)."""
SAME = 0.01
"""mm within which two marks are at one place: both edges of a dart end at its tip."""
SHARES, INSETS, NEAR = np.array([0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8]), (3.0, 4.5, 6.0), 0.5
"""Places for words along an edge: how far along, mm in from it; mm over which its direction is taken."""

Items = list[Path | Text]
Inside = Callable[[CardPart, Room], Items]
"""What else is drawn on a part where it has room."""
Places = list[tuple[int, Tick]]
"""Where a mark is: parts, and its ticks on them."""


@dataclass(frozen=True, slots=True, eq=False)
class CardLook:
    """All in mm, except for words, which stand under the name of a part.

    tick : its length; heights : of a mark's number; apart : from mark to mark of a seam
    bare, tip : of an edge without a tab, and of that at the tip of a dart, from where on the word tape stands there
    border : of the sheet around a part
    """

    tick: float
    heights: tuple[float, ...]
    apart: float
    bare: float
    tip: float
    words: tuple[str, ...]
    border: float = 2.0


def card_sheets(
    parts: Sequence[CardPart],
    chosen: Tabbed,
    names: Sequence[str],
    lines: Sequence[Sequence[Path]],
    look: CardLook,
    more: Inside | None = None,
) -> tuple[Drawing, ...]:
    """Each part with its tabs, marks and name on the smallest sheet. lines : drawn on each part, for help only"""
    ends = [[_line(tick, look).points for tick in of.ticks if tick.end] for of in parts]
    rooms = [
        Room(outlines(of, {})[0], [*(path.line for path in drawn), *own])
        for of, own, drawn in zip(parts, ends, lines, strict=True)
    ]
    crowded = [
        Room(outlines(of, {})[0], own, shared=room, tight=TIGHT)
        for of, own, room in zip(parts, ends, rooms, strict=True)
    ]
    small = replace(look, heights=(*look.heights, SMALL))
    marks, rest = _ends(parts, rooms, look)
    titles = [
        _title(of, room, look) or _title(of, over, small) for of, room, over in zip(parts, rooms, crowded, strict=True)
    ]
    outside = [_outside(of, chosen) for of in parts]
    for k, tick in rest:
        marks[k] += (
            _lead(tick, rooms[k], look)
            or _number(tick, crowded[k], small)
            or _lead(tick, crowded[k], small)
            or _lead(replace(tick, inward=-tick.inward), outside[k], small)
            or _nearest(tick.written, outside[k], tick.at)
        )
    for k, of in enumerate(parts):
        titles[k] = titles[k] or _nearest(of.name, outside[k], np.asarray(of.area.exterior.coords)[0])
    _between(parts, rooms, look, marks)
    sheets = []
    for k, of in enumerate(parts):
        items: Items = [*lines[k], *edge_paths(of, chosen, names), *marks[k], *titles[k]]
        for line in untabbed(of, chosen, look.bare, tip=look.tip):
            items += _tape(line, rooms[k], look) or _tape(line, crowded[k], small)
        items += more(of, rooms[k]) if more else []
        points = np.vstack(outlines(of, chosen))
        low, high = points.min(axis=0) - look.border, points.max(axis=0) + look.border
        across, up = (high - low).tolist()
        sheets.append(Drawing(of.name, across, up, tuple(_moved(item, -low) for item in items), of.name))
    return tuple(sheets)


def fit(parts: Sequence[CardPart], chosen: Tabbed, slips: Sequence[Drawing], how: PrintSection, *, pages: int) -> bool:
    """Whether slips and bare parts with their tabs go on so many pages."""
    bare = [
        Drawing(of.name, 0.0, 0.0, tuple(Path(line, "cut", closed=True) for line in outlines(of, chosen)))
        for of in parts
    ]
    return shelved((*slips, *bare), **how.layout, most=pages) is not None


def _title(of: CardPart, room: Room, look: CardLook) -> Items:
    """The name of a part, with words under it where they have room."""
    spots = room.spots(np.asarray(of.area.representative_point().coords[0]), step=2.0)
    for lines in ([of.name, *look.words], [of.name]):
        if found := room.place(lines, (*TITLES, min(*look.heights, TITLES[-1])), spots):
            return list(found)
    return []


def _ends(parts: Sequence[CardPart], rooms: Sequence[Room], look: CardLook) -> tuple[list[Items], Places]:
    """The ticks at both ends of every seam, with a number at each that has room for it; and the others."""
    items: list[Items] = [[] for _ in parts]
    rest: Places = []
    for places in _where(parts).values():
        for k, tick in places if places[0][1].end else ():
            items[k].append(_line(tick, look))
            said = _number(tick, rooms[k], look)
            items[k] += said
            rest += [] if said else [(k, tick)]
    return items, rest


def _outside(of: CardPart, chosen: Tabbed) -> Room:
    """The card around a part and its tabs."""
    lines = outlines(of, chosen)
    low, high = np.vstack(lines).min(axis=0) - AROUND, np.vstack(lines).max(axis=0) + AROUND
    room = Room(np.array([low, (high[0], low[1]), high, (low[0], high[1])]), [], tight=TIGHT)
    for line in lines:
        room.close(line)
    return room


def _between(parts: Sequence[CardPart], rooms: Sequence[Room], look: CardLook, items: list[Items]) -> None:
    """Other ticks and numbers, if they have room on both edges."""
    where = _where(parts)
    done = dict[str, list[Floats]]()
    for places in where.values():
        if places[0][1].end:
            done.setdefault(places[0][1].seam, []).append(places[0][1].at)
    for places in where.values():
        tick = places[0][1]
        if tick.end or any(np.hypot(*(tick.at - at)) < look.apart for at in done.get(tick.seam, ())):
            continue
        with ExitStack() as stack:
            trials = [stack.enter_context(rooms[k].trial()) for k, _ in places]
            words = [_number(own, rooms[k], look) for k, own in places]
            if all(words):
                done.setdefault(tick.seam, []).append(tick.at)
                for (k, own), said, undo in zip(places, words, trials, strict=True):
                    items[k] += [*said, _line(own, look)]
                    undo.clear()


def _where(parts: Sequence[CardPart]) -> dict[int, Places]:
    """By the number of a mark its places; one where both edges of a dart meet."""
    where: dict[int, Places] = {}
    for k, of in enumerate(parts):
        for tick in of.ticks:
            places = where.setdefault(tick.number, [])
            if places and places[0][0] == k and np.hypot(*(places[0][1].at - tick.at)) < SAME:
                back = places[0][1].inward + tick.inward  # both lean away from the tip, into the gap
                places[0] = k, replace(tick, inward=-back / np.hypot(*back))
            else:
                places.append((k, tick))
    return where


def _line(tick: Tick, look: CardLook) -> Path:
    points = np.array([tick.at, tick.at + look.tick * tick.inward])
    return Path(points, "mark", data={"seam": tick.seam, "mark": tick.written})


def _number(tick: Tick, room: Room, look: CardLook) -> Items:
    """The number of a mark near its tick; none if there is no room."""
    aside = np.array([-tick.inward[1], tick.inward[0]])
    for height in look.heights:
        half = np.array(size_of([tick.written], height)) / 2
        reach, wide = float(np.abs(tick.inward) @ half), float(np.abs(aside) @ half) + GAP
        beyond = [(look.tick + GAP + reach + far, side) for far in (0.0, 1.0, 2.0) for side in (0.0, 1.5, -1.5)]
        at_side = [(max(reach + 1.5, look.tick / 2) + far, s * wide) for far in (0.0, 1.5) for s in (1, -1)]
        places = np.array([*beyond, *at_side])
        spots = tick.at + places[:, :1] * tick.inward + places[:, 1:] * aside
        if found := room.place([tick.written], (height,), spots):
            return list(found)
    return []


def _lead(tick: Tick, room: Room, look: CardLook) -> Items:
    """Its number with a leader line."""
    return list(room.lead([tick.written], look.heights[-1:], tick.at + look.tick * tick.inward, across=look.tick))


def _nearest(word: str, room: Room, to: Floats) -> Items:
    return list(room.place([word], (SMALL,), room.spots(to, step=1.0)))


def _tape(line: Floats, room: Room, look: CardLook) -> Items:
    """The word next to an edge without a tab, or with a leader line."""
    middle = at_arc_length(line, np.array([length(line) / 2]))[0]
    return list(room.place(["tape"], look.heights, _along(line)) or room.lead(["tape"], look.heights[-1:], middle))


def _along(line: Floats) -> Floats:
    """(n, 2) places next to an edge, the middle first."""
    at = length(line) * SHARES
    ahead = at_arc_length(line, at + NEAR) - at_arc_length(line, at - NEAR)
    inward = np.column_stack([-ahead[:, 1], ahead[:, 0]]) / np.linalg.norm(ahead, axis=1, keepdims=True)
    return np.vstack([at_arc_length(line, at) + inset * inward for inset in INSETS])


def _moved(item: Path | Text, by: Floats) -> Path | Text:
    if isinstance(item, Path):
        return replace(item, points=item.points + by)
    return replace(item, at=(item.at[0] + float(by[0]), item.at[1] + float(by[1])))
