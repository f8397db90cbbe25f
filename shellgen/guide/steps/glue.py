"""Gluing: every join by its number, in the order that always leaves a hand's way to it."""

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
TALL, TALLER, MANY = 120.0, 180.0, 30
"""mm that the map of the joins is high, up to so many joins and of more (chosen: their numbers stay apart)."""
NOTHING = "This shell is one piece without a dart: nothing is glued here, and once formed it is the dome."
LEGIBLE = 0.35
"""Scale below which the numbers of the marks would crowd each other (chosen by eye)."""


def steps(kit: Kit) -> Iterator[Step]:
    yield kit.step(
        "glue",
        "Glue the seams",
        needs=("formed pieces", "materials", "tools"),
        makes=("glued dome",),
        hand=("contact adhesive", "brush for glue", "gloves", "clothes pegs") if kit.joins else (),
        tasks=("glue the seams",),
        blocks=_blocks(kit) if kit.joins else (Words(NOTHING),),
    )


def _blocks(kit: Kit) -> tuple[Block, ...]:
    up = TALLER if len(kit.joins) > MANY else TALL
    return (
        GLUE,
        Picture(join_map(kit.name, kit.ground, kit.foam.cut, kit.joins, across=kit.across, up=up),
                "The joins on the dome from above, in the order of gluing. A dot: begin here."),
        Ticks(
            (
                f"Brush a thin coat on both faces of a join ({kit.bought('contact adhesive') or 'thin'} in all). "
                "Leave it as long as the tin says, usually about ten minutes, until it is dry to a knuckle. "
                "Foam drinks the first coat: give thirsty edges a second.",
                "Contact adhesive holds at the first touch. Bring the first mark of a join to its mate at the dot, "
                "then mark by mark along the seam, outsides level, pressing hard with your fingers as you go.",
                "Numbers of joins stand in these pictures only. On the foam go by the numbers of the marks.",
                "If one side seems long, share it out between two marks; never trim at the end.",
            )
        ),
        *gallery(kit, lambda index, across, up: join_card(kit.foam, index, kit.joins, across=across, up=up),
                 least=LEGIBLE),
        *_lists(kit),
    )  # fmt: skip


def _lists(kit: Kit) -> Iterator[Block]:
    made = kit.figures.joins
    darts = [join for join in made if join.dart]
    if darts:
        pieces = listed(list(dict.fromkeys(join.piece for join in darts)))
        yield Words(f"First the darts of {pieces}, while each piece still lies alone: begin at the tip, end at the "
                    "edge.")  # fmt: skip
        yield _table(kit, darts)
    start = made[-1].piece if len(kit.figures.pieces) == 1 else next(j.to for j in made if not j.dart)
    for name, group in groupby((join for join in made if not join.dart), key=lambda join: join.piece):
        joins = list(group)
        others = listed(list(dict.fromkeys(join.to for join in joins)))
        first = f"Now lay {start}, which holds the crown, before you, and bring" if joins[0].to == start and (
            joins[0] is next(j for j in made if not j.dart)) else "Bring"  # fmt: skip
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
