"""Plate lines, burnt or carved while the piece is flat, or on the built dome."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.draw.cards import score_card
from shellgen.finish.scores import groove
from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Step, Ticks, Words
from shellgen.guide.steps._cautions import BURN, CARVE
from shellgen.guide.steps._pieces import gallery, grooved
from shellgen.trim.beneath import PLATE_LINE

PLACE = 60


def steps(kit: Kit) -> Iterator[Step]:
    how = kit.preset.scores
    burnt = how.way == "burn"
    width, depth = groove(how, kit.preset.foam.thickness)
    size = f"{kit.mm(width, 1)} wide and {kit.mm(depth, 1)} deep"
    yield kit.step(
        "score",
        f"{'Burn' if burnt else 'Carve'} the score lines",
        needs=("flat pieces", "tools"),
        makes=("scored pieces",),
        equipment=(*(("hot tool with a stand", "bucket of water") if burnt else ("rasp", "carving knife")),
              "scrap of every foam"),
        tasks=("burn or carve the score lines",),
        blocks=(
            BURN if burnt else CARVE,
            Words(f"{'Burn' if burnt else 'Carve'} the dashed lines of the templates into the textured side, {size}. "
                  "Leave at least a third of the foam's thickness, which keeps the shell strong. Follow the numbers "
                  "from the crown outwards, so that your hand rests on fresh foam. The guides folder has the same at "
                  "full size, for a large printer or a copy shop."),
            *gallery(kit, lambda index, across, up: score_card(kit.ground, kit.foam, index, across=across, up=up),
                     left_only=True, wanted=_has_lines),
            Ticks(
                (
                    "Make test lines on a scrap. Adjust heat or pressure until width and depth are right.",
                    "Work in the order of the numbers, one slow stroke each. Do not start next to the stroke you just "
                    "made.",
                    f"Leave the edges alone.{_later(kit)}",
                    *(["End a groove where it meets the outline of a spike or its ring: the glue there needs whole "
                       "foam."] if any(PLATE_LINE in s.stands_over for s in kit.figures.spikes) else []),
                )
            ),
            Words(f"You can also score the built dome: skip this step now. After the step “Check the shape”, mark the "
                  f"lines with the strips of wrap-{kit.preset.print.paper}.pdf and the corners from "
                  "guides/measuring-map.svg and tables/measuring.csv. The map says where the crown is, to "
                  "which you pin the dial."),
        ),
    )  # fmt: skip


def _later(kit: Kit) -> str:
    which = grooved(kit)
    return f" The groove along {which} is made after the seam is glued and filled." if which else ""


def _has_lines(kit: Kit, index: int) -> bool:
    cut, cells = set(kit.foam.cut.cut_lines), set(kit.foam.cut.pieces[index].cells)
    return any(
        line.kind == "plate" and k not in cut and {line.left, line.right} & cells
        for k, line in enumerate(kit.ground.layout.lines)
    )
