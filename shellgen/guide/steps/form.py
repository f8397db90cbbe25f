"""Forming with heat: where, how much, over what."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.draw.cards import heat_card
from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import HEAT
from shellgen.guide.steps._pieces import gallery
from shellgen.record.handwork import HeatEntry

PLACE = 70
SMALL = 0.003
"""Stretch that needs no heat of its own (chosen: a tenth of the usual limit)."""
FLAT = 750.0
"""mm. Chosen: over a hand's breadth such a bend rises by some 2 mm, and nothing in a house is rounded so."""
ACID = 150.0
"""deg C from which EVA gives off acetic acid. References: J. Appl. Polym. Sci., thermal degradation of EVA, part I."""


def steps(kit: Kit) -> Iterator[Step]:
    if not kit.preset.foam.formed:
        yield kit.step("form", "Bend the pieces", needs=("scored pieces",), makes=("formed pieces",), blocks=(
            Words("This preset glues the pieces as they are, without heat. Bend each over your knee towards its "
                  "inside until it keeps a little of the curve."),))  # fmt: skip
        return
    tape = kit.figures.tape
    yield kit.step(
        "form",
        "Form the pieces with heat",
        needs=("scored pieces", "tools"),
        makes=("formed pieces",),
        hand=("heat gun with a stand", "gloves", "something round", "the templates"),
        tasks=("form the pieces with heat",),
        blocks=(
            HEAT,
            Words("Crosses: stretch the foam here. Bars: press it together here. The larger the sign, the more. Where "
                  "there is no sign it only bends."),
            *gallery(kit, lambda index, across, up: heat_card(kit.foam, kit.heat, index, across=across, up=up),
                     left_only=True),
            Rows(("piece", "stretch most", "press together most"), tuple(_row(row) for row in kit.figures.heat),
                 tick=False),
            Ticks(
                (
                    "Warm the inside first, then the textured side, the gun moving all the time, a hand's breadth "
                    "away, until the foam hangs limp and the cut edges look a little glossy. Turn the gun no hotter "
                    f"than it takes: from about {kit.celsius(ACID)} on, the foam itself gives off acid vapour.",
                    f"Press it, outside up, over something round: {_across(kit, tape.round_across_mm)} for the "
                    f"curve from side to side, {_across(kit, tape.round_along_mm)} for the curve "
                    "from head to tail. A ball, a bowl, a cushion in a sack, or your own thigh under a thick cloth.",
                    "Where there are crosses, push outwards with the heel of the hand; where there are bars, push the "
                    "foam in on itself along the edge. Hold until it feels cool to the back of your hand: it keeps "
                    "what it had then.",
                    "Lay each piece back on its template: the middle must have risen, the edge must not have grown "
                    "longer than the line. Too much? Warm it and it draws back.",
                )
            ),
        ),
    )  # fmt: skip


def _across(kit: Kit, radius: float) -> str:
    """What to press on, by how tightly the dome bends, mm."""
    return "as good as flat" if radius > FLAT else f"about {kit.mm(2 * radius)} across"


def _row(row: HeatEntry) -> tuple[str, str, str]:
    def word(amount: float, plate: str) -> str:
        return f"{100 * amount:.1f} % on {plate}" if amount >= SMALL else "hardly"

    return row.piece, word(row.stretch, row.stretch_plate), word(row.press, row.press_plate)
