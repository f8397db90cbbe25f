"""Gluing: every join by its number, in an order that keeps each join within reach of a hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from shellgen.draw.cards import join_card
from shellgen.draw.topview import join_map
from shellgen.guide.kit import Kit, listed
from shellgen.guide.leaf import Block, Picture, Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import GLUE
from shellgen.guide.steps._pieces import gallery
from shellgen.record.handwork import JoinEntry

PLACE = 80
TALL, TALLER, MANY = 80.0, 180.0, 30
"""Height in mm of the map of the joins, up to MANY joins and above (chosen: their numbers stay apart)."""
NOTHING = "This shell is one piece without a dart. There is nothing to glue in this step: the formed piece is the dome."
TALL_FEW = {1: 110.0, 2: 90.0}
"""Height in mm of the picture of one piece, and of each of two, up to MANY marks (chosen: their numbers stay apart)."""
TALL_PIECES = {1: 190.0, 2: 170.0}
"""Height in mm of the picture of one piece, and of each of two, with more of them (chosen as above)."""
LEGIBLE = 0.35
"""Scale below which the numbers of the marks would crowd each other (chosen by eye)."""


def steps(kit: Kit) -> Iterator[Step]:
    yield kit.step(
        "glue",
        "Glue the seams",
        needs=("formed pieces", "materials", "tools"),
        makes=("glued dome",),
        equipment=("contact adhesive", "brush for glue", "clothes pegs") if kit.joins else (),
        tasks=("glue the seams",),
        blocks=_blocks(kit) if kit.joins else (Words(NOTHING),),
    )


def _blocks(kit: Kit) -> tuple[Block, ...]:
    up = TALLER if len(kit.joins) > MANY else TALL
    return (
        GLUE,
        Picture(join_map(kit.name, kit.ground, kit.foam.cut, kit.joins, across=kit.across, up=up),
                "The dome from above, with the joins numbered in the order of gluing. Start each at its dot."),
        Ticks(
            (
                f"Brush a thin coat on both faces of a join. The buying list has "
                f"{kit.bought('contact adhesive') or 'no contact adhesive'} for the whole shell. Wait as long as the "
                "tin says, usually about ten minutes, until the glue no longer sticks to your knuckle. Foam absorbs "
                "the first coat: give edges that look dry a second one.",
                "Contact adhesive holds at the first touch. Start at the dot: put the two marks with the same number "
                "together, then go on mark by mark along the seam, with the outsides level. Press hard with your "
                "fingers as you go, and hold a narrow seam with clothes pegs while you glue on.",
                "The numbers of the joins are in these pictures only. On the foam, follow the numbers of the marks.",
                "If one side seems long, spread the extra length between two marks. Never trim the end.",
            )
        ),
        *gallery(kit, lambda index, across, up: join_card(kit.foam, index, kit.joins, across=across, up=up),
                 least=LEGIBLE, tall=TALL_PIECES if len(kit.foam.marks) > MANY else TALL_FEW),
        *_lists(kit),
    )  # fmt: skip


def _lists(kit: Kit) -> Iterator[Block]:
    made = kit.figures.joins
    darts = [join for join in made if join.dart]
    if darts:
        pieces = listed(list(dict.fromkeys(join.piece for join in darts)))
        yield Words(f"First close the darts of {pieces}. Start at the tip and end at the edge.")  # fmt: skip
        yield _table(kit, darts)
    start = made[-1].piece if len(kit.figures.pieces) == 1 else next(j.to for j in made if not j.dart)
    for name, group in groupby((join for join in made if not join.dart), key=lambda join: join.piece):
        joins = list(group)
        others = listed(list(dict.fromkeys(join.to for join in joins)))
        first = f"Now put {start}, the piece with the crown, in front of you and join" if joins[0].to == start and (
            joins[0] is next(j for j in made if not j.dart)) else "Join"  # fmt: skip
        yield Words(f"{first} {name} to {others}.")
        yield _table(kit, joins)


def _table(kit: Kit, joins: Sequence[JoinEntry]) -> Rows:
    flat = {seam.id: max(seam.length_mm) for seam in kit.figures.seams}
    return Rows(
        ("join", "what", "marks, in this order", "length on the template"),
        tuple(
            (
                str(join.number),
                f"{join.piece}: dart" if join.dart else f"{join.piece} to {join.to}",
                " ".join(map(str, join.marks)),
                kit.mm(flat[join.seam]),
            )
            for join in joins
        ),
    )
