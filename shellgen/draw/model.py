"""The shell as a small model of card, to try its shape before foam is cut: every piece with glue tabs, at the largest
scale that fits on two sheets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np
import shapely

from shellgen.canvas import Drawing, Path, rule
from shellgen.canvas.rule import Rule
from shellgen.core.memory import remembered
from shellgen.draw import notes
from shellgen.draw.card_sheet import CardLook, Inside, Items, card_sheets, fit
from shellgen.draw.card_words import card_slip
from shellgen.draw.heading import pointer
from shellgen.draw.lines import outline, score_paths, seat_paths, ticks
from shellgen.draw.placing import Room
from shellgen.draw.seam_test import SeamTest, seam_test
from shellgen.draw.shelf import on_sheets, shelved
from shellgen.draw.tabbing import CardEdge, CardPart, tabbed
from shellgen.geom.tabs import TabSizes
from shellgen.model import Spike
from shellgen.pattern.flatmap import Seats, seats
from shellgen.pattern.joins import Join, joins
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.preset import PrintSection

SCALES = range(2, 11)
"""n of the scales 1:n that are tried (chosen)."""
PAGES = 2
SIZES = TabSizes(width=6.0, least=2.5, longest=18.0, shortest=4.5, sag=0.35, gap=0.8, end=0.7)
"""Chosen: tabs that fingers can hold; a seam curves in space, so a long tab would not lie flat against it."""
CARD = (
    "Use card of about 0.25 mm (200 g/m²), or print on paper and glue it to thin card. First score the dashed lines, "
    "then cut."
)
"""Common practice, no source."""
LOOK = CardLook(tick=2.2, heights=(2.5, 1.8), apart=14.0, bare=9.0, tip=SIZES.shortest, words=())
ARROWS = ((14.0, 2.5), (10.0, 1.8))
ACROSS = (90.0, 110.0, 140.0, 180.0)
"""Widths of the slip that are tried, mm."""
MANY = 30
"""Joins whose order is listed on the slip (chosen: about eight lines)."""


@dataclass(frozen=True, slots=True, eq=False)
class PaperModel:
    """length : of the model, mm; taped : seams without any tab

    groups : what is on pages of its own: a slip with words and a drawing for each piece at 1:scale, then the test; all
    in one where that saves a page
    """

    scale: int
    length: float
    groups: tuple[tuple[Drawing, ...], ...]
    taped: tuple[str, ...]
    test: SeamTest | None


@remembered
def paper_model(ground: Ground, foam: Foam, spikes: tuple[Spike, ...], how: PrintSection) -> PaperModel | None:
    """The model at the largest scale that fits, and the test of a seam; None of a shell without a seam: a flat piece of
    card shows nothing."""
    if not foam.cut.seams:
        return None
    made = joins(foam.cut, ground.mesh, foam.marks)
    drawn, places = ("plate", "seat") if spikes else ("plate",), seats(ground.mesh, foam.cut, foam.pattern, spikes)
    length, names = float(np.ptp(ground.mesh.points[:, 0])), [seam.name for seam in foam.cut.seams]
    for scale in SCALES:
        last = scale == SCALES[-1]
        parts = tuple(_part(foam, index, scale) for index in range(len(foam.cut.pieces)))
        if not last and not fit(parts, {}, (), how, pages=PAGES):
            continue
        chosen = tabbed(parts, [join.seam for join in made], SIZES)
        taped = tuple(names[join.seam] for join in made if not chosen[join.seam][1])
        unit = rule.of(how.paper)
        words = tuple(map(unit.both, _words(made, names, scale, length / scale, taped, unit)))
        slips = [card_slip("about the model", words, across=across, drawn=drawn) for across in ACROSS]
        fits = (
            slip for pages in range(1, PAGES + 1) for slip in slips if fit(parts, chosen, (slip,), how, pages=pages)
        )
        slip = next(fits, slips[0] if last else None)
        if slip is None:
            continue
        lines = [_lines(ground, foam, places, index, scale) for index in range(len(parts))]
        look = replace(LOOK, words=(f"card model 1:{scale}",))
        sheets = card_sheets(parts, chosen, names, lines, look, _heads(ground, foam, scale))
        test = seam_test(foam, made, how)
        groups = _groups((slip, *sheets), test.sheets if test else (), how)
        return PaperModel(scale, length / scale, groups, taped, test)
    return None


def _groups(
    model: tuple[Drawing, ...], test: tuple[Drawing, ...], how: PrintSection
) -> tuple[tuple[Drawing, ...], ...]:
    """The test on a page of its own, unless all together take a page less."""
    if not test:
        return (model,)
    alone = sum(len(on_sheets(some, **how.layout).pages) for some in (model, test))
    together = shelved((*model, *test), **how.layout, most=alone - 1)
    return ((*model, *test),) if together else (model, test)


def _part(foam: Foam, index: int, scale: int) -> CardPart:
    """A piece at the scale."""
    piece, flat = foam.cut.pieces[index], foam.pattern.flats[index].flat / scale
    edges, bare = [], []
    for k, side in enumerate(piece.sides):
        line = flat[side.vertices]
        if side.seam < 0:
            bare.append(line)
        else:
            edges.append(CardEdge(side.seam, foam.cut.seams[side.seam].sides.index((index, k)), line))
    marks = tuple(replace(tick, at=tick.at / scale) for tick in ticks(foam, index, np.zeros(2)))
    area = shapely.Polygon(outline(foam, index) / scale)
    return CardPart(piece.name, area, tuple(edges), tuple(bare), marks, piece.mirror)


def _lines(ground: Ground, foam: Foam, places: Seats, index: int, scale: int) -> list[Path]:
    """The plates, and where spikes stand."""
    low = np.zeros(2)
    plates = [replace(path, layer="guide") for path in score_paths(ground, foam, index, low)]
    return [replace(path, points=path.points / scale) for path in (*plates, *seat_paths(places, index, low))]


def _heads(ground: Ground, foam: Foam, scale: int) -> Inside:
    """An arrow to the head or the crown."""
    pieces = {
        piece.name: (piece, of.flat / scale) for piece, of in zip(foam.cut.pieces, foam.pattern.flats, strict=True)
    }

    def drawn(part: CardPart, room: Room) -> Items:
        piece, flat = pieces[part.name]
        return pointer(ground.mesh, piece, flat, flat.mean(axis=0), room, sizes=ARROWS)

    return drawn


def _words(
    made: Sequence[Join], names: Sequence[str], scale: int, length: float, taped: Sequence[str], unit: Rule
) -> Iterator[str]:
    yield f"Card model, scale 1:{scale}, {unit.mm(length)} long. Do not cut foam from these pages."
    yield f"{notes.PRINT} {CARD}"
    yield (
        "Glue each tab behind the edge with the same numbers, the print outside, and hold it until "
        "it sticks. Where it says tape, as at the tip of a dart, tape the joint on the inside."
    )
    yield _order(made)
    if taped:
        bare = [f"{join.marks[0]}-{join.marks[-1]}" for join in made if names[join.seam] in taped]
        yield f"No room for a tab, tape only: {', '.join(bare)}."
    yield "Card bends but does not stretch: the model has flat places and edges where heat forms the foam."
    yield notes.KNIFE


def _order(made: Sequence[Join]) -> str:
    if len(made) > MANY:
        return "Order: as in the build guide, step “Glue the seams”: first the darts, then from the crown outwards."
    groups = []
    for dart, group in groupby(made, key=lambda join: join.dart):
        ends = ", ".join(f"{join.marks[0]}-{join.marks[-1]}" for join in group)
        groups.append(f"{'darts (wedges within a piece)' if dart else 'seams'} {ends}")
    return f"Order, by the numbers at both ends: {'; then '.join(groups)}."
