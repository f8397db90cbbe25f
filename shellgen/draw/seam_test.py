"""One seam at full size on card: a strip of the pieces along both its edges, to be cut out and joined."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from shellgen.canvas import Drawing, rule
from shellgen.canvas.rule import Rule
from shellgen.core.arrays import Floats
from shellgen.draw import notes
from shellgen.draw.card_sheet import CardLook, card_sheets, fit
from shellgen.draw.card_words import card_slip
from shellgen.draw.lines import TICK, outline, ticks
from shellgen.draw.tabbing import CardEdge, CardPart, tabbed
from shellgen.geom.curves import length, resample
from shellgen.geom.tabs import TabSizes
from shellgen.geom.tabs import part as part_of
from shellgen.pattern.joins import Join
from shellgen.pipeline.foam import Foam
from shellgen.preset import PrintSection

DEPTHS = (40.0, 30.0)
"""mm of each piece along the seam, the first that fits on the page (chosen)."""
SIZES = TabSizes(width=10.0, least=4.0, longest=25.0, shortest=8.0, sag=0.5, gap=1.5, end=1.0)
"""Chosen, as for the model."""
LOOK = CardLook(tick=TICK, heights=(3.5, 2.5), apart=15.0, bare=20.0, tip=SIZES.shortest, words=("full size",))
SAMPLES = 100
"""Points along each edge that are compared (chosen)."""
NEAR = 1e-4
"""mm within which a line is part of the seam: rounding."""
ACROSS = (90.0, 140.0, 180.0)

Span = tuple[Join, tuple[int, ...]]
"""A seam, and which of its marks, in their order, the test reaches."""


@dataclass(frozen=True, slots=True, eq=False)
class SeamTest:
    """seam : its name; marks : the numbers of the first and the last; apart : mm by which its edges, laid on each other
    flat, lie apart at most; length : of an edge, mm; sheets : a slip with words, then a drawing for each part"""

    seam: str
    marks: tuple[int, int]
    apart: float
    length: float
    sheets: tuple[Drawing, ...]


def seam_test(foam: Foam, made: Sequence[Join], how: PrintSection) -> SeamTest | None:
    """The seam whose flat edges curve apart most of those that fit on a page, or else the longest stretch of one that
    does; None if the page is too small for all of these."""
    apart = {join.seam: _apart(*(line for _, line in _lines(foam, (join, join.marks)))) for join in made}
    ranked = sorted(made, key=lambda join: -round(apart[join.seam], 3))
    names = [seam.name for seam in foam.cut.seams]
    for span in (*((join, join.marks) for join in ranked), *_stretches(ranked)):
        seam, lines = span[0].seam, [line for _, line in _lines(foam, span)]
        unit = rule.of(how.paper)
        words = tuple(map(unit.both, _words(span, length(lines[0]), _apart(*lines), unit)))
        slips = [card_slip("about the seam test", words, across=across) for across in ACROSS]
        for parts in (_parts(foam, span, depth) for depth in DEPTHS):
            if sum(len(part.edges) for part in parts) != 2 or not fit(parts, {}, (), how, pages=1):
                continue
            chosen = tabbed(parts, [seam], SIZES)
            slip = next((slip for slip in slips if fit(parts, chosen, (slip,), how, pages=1)), None)
            if slip:
                sheets = card_sheets(parts, chosen, names, [()] * len(parts), LOOK)
                ends = span[1][0], span[1][-1]
                return SeamTest(names[seam], ends, _apart(*lines), length(lines[0]), (slip, *sheets))
    return None


def _stretches(ranked: Sequence[Join]) -> Iterator[Span]:
    """Seams without the marks at their end, the most marks first."""
    for count in range(max(len(join.marks) for join in ranked) - 1, 1, -1):
        yield from ((join, join.marks[:count]) for join in ranked if len(join.marks) > count)


def _lines(foam: Foam, span: Span) -> list[tuple[int, Floats]]:
    """Both edges between the first and the last mark: the piece, and the line in the order of its outline."""
    join, numbers = span
    marks = {mark.number: mark for mark in foam.marks}
    lines = []
    for k, (piece, side) in enumerate(foam.cut.seams[join.seam].sides):
        whole = foam.pattern.flats[piece].flat[foam.cut.pieces[piece].sides[side].vertices]
        ends = [
            shapely.LineString(whole).project(shapely.Point(marks[n].at[k][1:3])) for n in (numbers[0], numbers[-1])
        ]
        lines.append((piece, whole if numbers == join.marks else part_of(whole, min(ends), max(ends))))
    return lines


def _apart(first: Floats, second: Floats) -> float:
    """mm between two edges that are glued, laid on each other flat as well as they go.

    References: W. Kabsch, A solution for the best rotation to relate two sets of vectors (1976); in the plane.
    """
    one, other = resample(first, SAMPLES), resample(second, SAMPLES)[::-1]
    a, b = (line @ np.array([1, 1j]) for line in (one - one.mean(axis=0), other - other.mean(axis=0)))
    turn = np.vdot(b, a)
    return float(np.abs(a - b * turn / abs(turn)).max())


def _parts(foam: Foam, span: Span, depth: float) -> tuple[CardPart, ...]:
    """The strips: one on each piece, or one around both edges of a dart."""
    join, lines = span[0], _lines(foam, span)
    one, other = (shapely.LineString(line) for _, line in lines)
    meet = lines[0][0] == lines[1][0] and one.distance(other) < NEAR
    parts: list[CardPart] = []
    for index in dict.fromkeys(piece for piece, _ in lines):
        edges = [CardEdge(join.seam, k, line) for k, (piece, line) in enumerate(lines) if piece == index]
        whole, cap = shapely.Polygon(outline(foam, index)), "round" if meet else "flat"
        band = shapely.union_all([shapely.LineString(edge.line).buffer(depth, cap_style=cap) for edge in edges])
        for shape in _polygons(whole.intersection(band)):
            for area in _polygons(shapely.Polygon(shape.exterior).intersection(whole)):
                own = tuple(edge for edge in edges if _on(area, edge))
                parts += [_strip(foam, index, area, own, span)] if own else []
    return tuple(parts)


def _polygons(area: shapely.Geometry) -> list[shapely.Polygon]:
    return [part for part in shapely.get_parts(area) if isinstance(part, shapely.Polygon)]


def _on(area: shapely.Geometry, edge: CardEdge) -> bool:
    """Whether the edge is part of the outline of the area."""
    return bool(shapely.LineString(edge.line).within(area.boundary.buffer(NEAR)))


def _strip(foam: Foam, index: int, area: shapely.Polygon, edges: tuple[CardEdge, ...], span: Span) -> CardPart:
    join, numbers = span
    name = f"{foam.cut.pieces[index].name}: seam test{f' {1 + edges[0].side}' if len(edges) == 1 else ''}"
    seam, own = foam.cut.seams[join.seam].name, shapely.MultiLineString([edge.line for edge in edges])
    rest = shapely.line_merge(area.exterior.difference(own.buffer(NEAR)))
    bare = tuple(np.asarray(line.coords) for line in shapely.get_parts(rest))
    marks = tuple(
        replace(tick, end=tick.number in (numbers[0], numbers[-1]))
        for tick in ticks(foam, index, np.zeros(2))
        if tick.seam == seam and tick.number in numbers and own.dwithin(shapely.Point(tick.at), NEAR)
    )
    return CardPart(name, area, edges, bare, marks, -1)


def _words(span: Span, size: float, apart: float, unit: Rule) -> Iterator[str]:
    join, numbers = span
    what = f"the dart of {join.piece}" if join.dart else f"the seam of {join.piece} and {join.to}"
    yield f"Seam test, full size: {what}, marks {numbers[0]} to {numbers[-1]}. Do not cut foam from this page."
    yield notes.PRINT
    yield (
        f"Both edges are {unit.mm(size)} long, but laid on each other flat they lie up to {unit.mm(apart, 1)} apart. "
        f"Join them from {numbers[0]} to {numbers[-1]}, equal numbers together, the tabs behind: the card must curve, "
        "as the foam will. Where there is no tab, tape the joint on the inside."
    )
    yield "If the last marks do not meet, look at your cuts and folds: foam would show the same error."
    yield notes.KNIFE
