"""Forming with heat: where, how much, over what."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.draw.cards import heat_card
from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import HEAT
from shellgen.guide.steps._pieces import SIGNS, gallery
from shellgen.record.handwork import HeatEntry

PLACE = 70
SMALL = 0.003
"""Stretch that needs no extra heat (chosen: a tenth of the usual limit)."""
FLAT = 750.0
"""mm. Chosen: over a hand's width such a bend rises by about 2 mm, and no household object is that flat a curve."""
ACID = 150.0
"""deg C from which EVA gives off acetic acid. References: J. Appl. Polym. Sci., thermal degradation of EVA, part I."""


def steps(kit: Kit) -> Iterator[Step]:
    if not kit.preset.foam.formed:
        yield kit.step("form", "Bend the pieces", needs=("scored pieces",), makes=("formed pieces",), blocks=(
            Words("With this preset you glue the pieces without forming them with heat. Bend each piece over your knee "
                  "towards its inside until it keeps a little of the curve."),))  # fmt: skip
        return
    tape = kit.figures.tape
    yield kit.step(
        "form",
        "Form the pieces with heat",
        needs=("scored pieces", "tools"),
        makes=("formed pieces",),
        equipment=("heat gun with a stand", "gloves", "something round", "the templates"),
        tasks=("form the pieces with heat",),
        blocks=(
            HEAT,
            Words("Crosses: stretch the foam here. Bars: compress it here. A larger sign means more. Where there is no "
                  "sign, only bend the foam."),
            *gallery(kit, lambda index, across, up: heat_card(kit.foam, kit.heat, index, across=across, up=up),
                     left_only=True, tall=SIGNS),
            Rows(("piece", "largest stretch", "largest compression"), tuple(_row(row) for row in kit.figures.heat),
                 tick=False),
            Ticks(
                (
                    "Warm the inside first, then the textured side. Keep the gun moving, a hand's width away, until "
                    "the foam hangs limp and the cut edges look slightly glossy. Use the lowest setting that works: "
                    f"from about {kit.celsius(ACID)} the foam itself gives off acid vapour.",
                    f"Press it, outside up, over something round: {_across(kit, tape.round_across_mm)} for the "
                    f"curve from side to side, {_across(kit, tape.round_along_mm)} for the curve "
                    "from head to tail. Use a ball, a bowl, a cushion in a sack, or your thigh under a thick cloth.",
                    "Where there are crosses, push outwards with the heel of your hand. Where there are bars, push the "
                    "foam together along the edge. Hold it until it feels cool to the back of your hand: then it "
                    "keeps its shape.",
                    "Put each piece back on its template. The middle must have risen, and the edge must not be longer "
                    "than the line. If it is too much, warm the piece and it shrinks back.",
                )
            ),
        ),
    )  # fmt: skip


def _across(kit: Kit, radius: float) -> str:
    """What to press the foam on, from the radius of the dome's curve, mm."""
    return "almost flat" if radius > FLAT else f"about {kit.mm(2 * radius)} across"


def _row(row: HeatEntry) -> tuple[str, str, str]:
    def word(amount: float, plate: str) -> str:
        return f"{100 * amount:.1f} % on {plate}" if amount >= SMALL else "almost none"

    return row.piece, word(row.stretch, row.stretch_plate), word(row.press, row.press_plate)
