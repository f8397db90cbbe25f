"""Plate lines: burnt or carved while the piece lies flat, or on the built dome."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.draw.cards import score_card
from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Step, Ticks, Words
from shellgen.guide.steps._cautions import BURN, CARVE
from shellgen.guide.steps._pieces import gallery

PLACE = 60


def steps(kit: Kit) -> Iterator[Step]:
    how = kit.preset.scores
    burnt = how.way == "burn"
    size = f"{kit.mm(how.width, 1)} wide and {kit.mm(how.depth, 1)} deep"
    yield kit.step(
        "score",
        f"{'Burn' if burnt else 'Carve'} the score lines",
        needs=("flat pieces", "tools"),
        makes=("scored pieces",),
        hand=(*(("hot tool with a stand", "bucket of water") if burnt else ("rasp", "carving knife")),
              "scrap of every foam", "breathing mask", "gloves" if burnt else "goggles"),
        tasks=("burn or carve the score lines",),
        blocks=(
            BURN if burnt else CARVE,
            Words(f"The dashed lines of the templates, {size}, on the textured side. Not through: a third of the foam "
                  "keeps the shell strong. Numbers tell the order, from the crown outwards, so that your hand rests on "
                  "foam not yet worked; full sheets with arrows lie in the folder guides."),
            *gallery(kit, lambda index, across, up: score_card(kit.ground, kit.foam, index, across=across, up=up),
                     left_only=True, wanted=_has_lines),
            Ticks(
                (
                    "Make one test line on a scrap: adjust heat or pressure until width and depth are right.",
                    "Work in the order of the numbers, one slow stroke each, never beside the stroke just made.",
                    "Leave the edges alone: where a seam is a plate line it gets its groove after gluing, with the "
                    "same tool, when the seam is filled.",
                )
            ),
            Words(f"Rather on the built dome? Skip this step now; print wrap-{kit.preset.print.paper}.pdf and take "
                  "corners from guides/measuring-map.svg after step “Check the shape”."),
        ),
    )  # fmt: skip


def _has_lines(kit: Kit, index: int) -> bool:
    cut, cells = set(kit.foam.cut.cut_lines), set(kit.foam.cut.pieces[index].cells)
    return any(
        line.kind == "plate" and k not in cut and {line.left, line.right} & cells
        for k, line in enumerate(kit.ground.layout.lines)
    )
