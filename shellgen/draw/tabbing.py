"""Parts of card that are joined by glue tabs: which edge of each seam has them, and the lines around a part."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from shellgen.canvas import Path
from shellgen.core.arrays import Floats
from shellgen.draw.lines import Tick
from shellgen.geom.curves import length
from shellgen.geom.tabs import Tab, TabSizes, part, tabs

TAB = (225, 225, 225)
"""Colour of a tab (chosen: light enough for the lines around it)."""
ALIKE = 0.05
"""Share by which the tabs of the two edges of a seam may differ and count as equal (chosen)."""
MIRRORED = 0.1
"""mm by which the middle of an edge may differ from that of a mirror image (chosen)."""

MET = 0.01
"""mm within which the edges of a dart meet at its tip: rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class CardEdge:
    """seam : its index; side : 0 or 1, which of its edges; line : (n, 2) in the order of the outline"""

    seam: int
    side: int
    line: Floats


@dataclass(frozen=True, slots=True, eq=False)
class CardPart:
    """area : a polygon; edges : those that are joined; bare : (n, 2) lines of the rest of the outline
    twin : index of the part that is its mirror image in x = 0; its own if it mirrors itself"""

    name: str
    area: shapely.Polygon
    edges: tuple[CardEdge, ...]
    bare: tuple[Floats, ...]
    ticks: tuple[Tick, ...]
    twin: int


Tabbed = Mapping[int, tuple[int, tuple[Tab, ...]]]
"""By the index of a seam, which of its edges has the tabs, and these."""


def tabbed(parts: Sequence[CardPart], order: Sequence[int], sizes: TabSizes) -> Tabbed:
    """Tabs for each seam, on the edge where more fits; if both are alike, on the upper one. A seam that is the mirror
    image of an earlier one has them on the same side.

    order : of the seams; earlier ones get their tabs first
    """
    taken: list[list[shapely.Geometry]] = [[] for _ in parts]
    chosen: dict[int, tuple[int, tuple[Tab, ...]]] = {}
    before: list[tuple[CardEdge, int]] = []
    for seam in order:
        ways = [
            (edge, k, tabs(edge.line, parts[k].area, shapely.union_all(taken[k]), sizes))
            for k in range(len(parts))
            for edge in parts[k].edges
            if edge.seam == seam
        ]
        areas = [sum(tab.area for tab in made) for _, _, made in ways]
        good = [way for way in ways if any(parts[way[1]].twin == k and _mirrors(way[0], edge) for edge, k in before)]
        good = good or [way for way, area in zip(ways, areas, strict=True) if area >= (1 - ALIKE) * max(areas)]
        edge, k, made = max(good, key=lambda way: round(float(way[0].line[:, 1].mean()), 3))
        before.append((edge, k))
        chosen[seam] = edge.side, made
        taken[k] += [shapely.Polygon(tab.outline) for tab in made]
    return chosen


def _mirrors(edge: CardEdge, other: CardEdge) -> bool:
    """Whether one edge is the mirror image of another, by its middle."""
    middle, image = edge.line.mean(axis=0), other.line.mean(axis=0) * (-1.0, 1.0)
    return len(edge.line) == len(other.line) and bool(np.hypot(*(middle - image)) < MIRRORED)


def outlines(of: CardPart, chosen: Tabbed) -> list[Floats]:
    """(n, 2) closed outlines of a part and of its tabs, together what it takes on the sheet."""
    return [np.asarray(of.area.exterior.coords)[:-1], *(tab.outline for _, tab in _tabs_of(of, chosen))]


def _tabs_of(of: CardPart, chosen: Tabbed) -> Iterator[tuple[CardEdge, Tab]]:
    for edge in of.edges:
        side, made = chosen.get(edge.seam, (0, ()))
        for tab in made if side == edge.side else ():
            yield edge, tab


def edge_paths(of: CardPart, chosen: Tabbed, names: Sequence[str]) -> Iterator[Path]:
    """The outline: folds where a tab hangs, cuts elsewhere and around the tabs. names : of the seams"""
    for edge, tab in _tabs_of(of, chosen):
        yield Path(tab.outline, "fill", closed=True, data={"tab": names[edge.seam]}, fill=TAB)
        yield Path(tab.free, "cut", data={"tab": names[edge.seam]})
    for edge in of.edges:
        data = {"seam": names[edge.seam], "side": str(edge.side)}
        for k, line in enumerate(_stretches(edge, chosen)):
            yield Path(line, "score" if k % 2 else "cut", data=data)
    for line in of.bare:
        yield Path(line, "cut")


def untabbed(of: CardPart, chosen: Tabbed, least: float, *, tip: float) -> Iterator[Floats]:
    """What is taped, on the edges that have the tabs of their seams: stretches of `least` mm or more without a tab, of
    `tip` at the tip of a dart, and edges without any tab."""
    for edge in of.edges:
        side, made = chosen[edge.seam]
        tips = [other.line[k] for other in of.edges if other is not edge and other.seam == edge.seam for k in (0, -1)]
        for line in _stretches(edge, chosen)[::2] if side == edge.side else ():
            ends = np.hypot(*(line[[0, -1], None] - tips).T) if tips else np.inf
            if not made or length(line) >= (tip if np.min(ends) < MET else least):
                yield line


def _stretches(edge: CardEdge, chosen: Tabbed) -> list[Floats]:
    """The parts of an edge, one after another: without a tab, with one, without ..."""
    side, made = chosen[edge.seam]
    here = made if side == edge.side else ()
    ends = [0.0, *(end for tab in here for end in (tab.begin, tab.end)), length(edge.line)]
    return [part(edge.line, *between) for between in pairwise(ends)]
