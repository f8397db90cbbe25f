"""A small model of card and one seam at full size, to try the shape before any foam is cut."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.draw.model import PaperModel, paper_model
from shellgen.draw.seam_test import SeamTest
from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Step, Ticks, Words
from shellgen.guide.steps._cautions import KNIFE

PLACE = 12


def steps(kit: Kit) -> Iterator[Step]:
    model = paper_model(kit.ground, kit.foam, kit.spikes, kit.preset.print)
    if model is None:
        return
    yield kit.step(
        "model",
        "Try the shape in card",
        needs=("checked size",),
        makes=(),
        equipment=("printer", "knife", "cutting mat", "long steel rule", "thin card", "paper glue", "sticky tape",
              "empty ballpoint pen"),
        blocks=(
            KNIFE,
            Words(f"In about an hour you can hold the shell at 1:{model.scale}, {kit.mm(model.length)} long, before "
                  "you cut any foam. If you do not like its shape, change the preset and build the pack again."),
            Ticks(
                (
                    f"Print model-{kit.preset.print.paper}.pdf at 100 % on card of about 200 g/m², or on paper "
                    "that you glue to thin card. Check the rule on a page: it is 100 mm long.",
                    "First score every dashed line with the empty pen along the steel rule. Then cut the solid lines "
                    "and fold the grey tabs to the back.",
                    f"{_join(kit)} in the order on the page, the same as for the foam: equal numbers together, the "
                    "tabs behind. Where an edge has no tab, tape the joint on the inside"
                    + (f"; {_many(model)} so narrow that no tab fits." if model.taped else "."),
                    *([_seam(kit, model.test)] if model.test else []),
                )
            ),
            Words("The model shows the shape, the plates and how the pieces meet. To see the size, stand back from the "
                  f"wearer and hold the model 1/{model.scale} of the way from your eye to the wearer's back: there it "
                  "looks as large as the finished shell."),
            Words("Card bends but does not stretch, so the model has flat places and edges. Heat stretches or "
                  f"compresses the foam by up to {100 * _stretch(kit):.1f} %, into a smooth curve. "
                  + ("Thin closed curves show where the spikes stand. " if kit.spikes else "")
                  + "Spikes, rings, edging and the thickness of the foam are left out."),
        ),
    )  # fmt: skip


def _many(model: PaperModel) -> str:
    return "one joint is" if len(model.taped) == 1 else f"{len(model.taped)} joints are"


def _join(kit: Kit) -> str:
    return "Join the pieces" if len(kit.figures.pieces) > 1 else "Close the darts"


def _seam(kit: Kit, test: SeamTest) -> str:
    first, last = test.marks
    join = next(join for join in kit.figures.joins if join.seam == test.seam)
    what = f"a dart of {join.piece}" if join.dart else f"the seam of {join.piece} and {join.to}"
    return (
        f"Cut out the seam test, which is at full size: {what}, marks {first} to {last}. Both edges are "
        f"{kit.mm(test.length)} long, but laid on each other flat they lie up to {kit.mm(test.apart, 1)} apart. Join "
        "them mark to mark: the card must curve, and the last marks must meet. Gluing the foam will be like this."
    )


def _stretch(kit: Kit) -> float:
    return max(piece.stretch_max for piece in kit.figures.pieces)
