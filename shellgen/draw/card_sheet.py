"""Sheets of card parts: their lines with tabs, marks with as many numbers as have room, and names."""

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
    bare : of an edge without a tab, from where on the word tape stands there
    border : of the sheet around a part
    """

    tick: float
    heights: tuple[float, ...]
    apart: float
    bare: float
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
    rooms, titles = [], []
    for of, own in zip(parts, lines, strict=True):
        ends = [_line(tick, look).points for tick in of.ticks if tick.end]
        room = Room(outlines(of, {})[0], [*(path.line for path in own), *ends])
        spots = room.spots(np.asarray(of.area.representative_point().coords[0]), step=2.0)
        titles.append(room.place([of.name, *look.words], TITLES, spots) or room.place([of.name], TITLES, spots))
        rooms.append(room)
    marks = _marks(parts, rooms, look)
    sheets = []
    for k, of in enumerate(parts):
        items: Items = [*lines[k], *edge_paths(of, chosen, names), *marks[k], *titles[k]]
        for line in untabbed(of, chosen, look.bare):
            items += rooms[k].place(["tape"], look.heights, _along(line))
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


def _marks(parts: Sequence[CardPart], rooms: Sequence[Room], look: CardLook) -> list[Items]:
    """The ticks at both ends of every seam with a number at one end at least, and other numbers and ticks if they have
    room on both edges."""
    items: list[Items] = [[] for _ in parts]
    where = _where(parts)
    ends = [places for places in where.values() if places[0][1].end]
    for places in ends:
        for k, tick in places:
            items[k].append(_line(tick, look))
    seams = [places[0][1].seam for places in ends]
    firsts = [places for n, places in enumerate(ends) if seams.index(seams[n]) == n]
    numbered: dict[str, list[Floats]] = {seam: [] for seam in seams}
    for places in (*firsts, *(places for places in ends if places not in firsts)):
        _try(places, rooms, look, items, numbered)
    for places in ends:
        _try(places, rooms, look, items, numbered, lead=not numbered[places[0][1].seam])
    for places in where.values():
        tick = places[0][1]
        clear = all(np.hypot(*(tick.at - at)) >= look.apart for at in numbered[tick.seam])
        if clear and not tick.end and _try(places, rooms, look, items, numbered):
            for k, own in places:
                items[k].append(_line(own, look))
    return items


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


def _try(
    places: Places, rooms: Sequence[Room], look: CardLook, items: list[Items], numbered: dict[str, list[Floats]],
    *, lead: bool = False,
) -> bool:  # fmt: skip
    """Writes a mark's number at all its places, or nowhere. lead : with leader lines, wherever it can"""
    tick = places[0][1]
    if any(np.hypot(*(tick.at - at)) < SAME for at in numbered[tick.seam]):
        return False
    with ExitStack() as stack:
        trials = [stack.enter_context(rooms[k].trial()) for k, _ in places]
        words = [_number(own, rooms[k], look, lead=lead) for k, own in places]
        if not (any(words) if lead else all(words)):
            return False
        for (k, _), said, undo in zip(places, words, trials, strict=True):
            items[k] += said
            undo.clear()
    numbered[tick.seam].append(tick.at)
    return True


def _line(tick: Tick, look: CardLook) -> Path:
    points = np.array([tick.at, tick.at + look.tick * tick.inward])
    return Path(points, "mark", data={"seam": tick.seam, "mark": tick.written})


def _number(tick: Tick, room: Room, look: CardLook, *, lead: bool) -> Items:
    """The number of a mark near its tick, or with a leader line; none if there is no room."""
    aside = np.array([-tick.inward[1], tick.inward[0]])
    for height in look.heights:
        half = np.array(size_of([tick.written], height)) / 2
        reach, wide = float(np.abs(tick.inward) @ half), float(np.abs(aside) @ half) + GAP
        beyond = [(look.tick + GAP + reach + far, side) for far in (0.0, 1.0, 2.0) for side in (0.0, 1.5, -1.5)]
        at_side = [(max(reach + 1.5, look.tick / 2) + far, s * wide) for far in (0.0, 1.5) for s in (1, -1)]
        places = np.array([*beyond, *at_side])
        found = room.place([tick.written], (height,), tick.at + places[:, :1] * tick.inward + places[:, 1:] * aside)
        if found:
            return list(found)
    tip = tick.at + look.tick * tick.inward
    return list(room.lead([tick.written], look.heights[-1:], tip, across=look.tick)) if lead else []


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
