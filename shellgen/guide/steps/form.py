"""Forming with heat: where, how much, in which order, over what."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shellgen.draw.cards import heat_card
from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import FORM
from shellgen.guide.steps._pieces import SIGNS, gallery
from shellgen.record.forming import FormingEntry
from shellgen.record.handwork import HeatEntry

PLACE = 70
SMALL = 0.003
"""Stretch that needs no extra heat (chosen: a tenth of the usual limit)."""
ROWS = 6
"""Most plates that are listed (chosen: the list stays on one page with its picture)."""
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
    yield kit.step(
        "form",
        "Form the pieces with heat",
        needs=("scored pieces", "tools"),
        makes=("formed pieces",),
        equipment=("heat gun with a stand", "something round", "pencil", "long steel rule", "the templates"),
        tasks=("form the pieces with heat",),
        blocks=(
            FORM,
            Words(f"{_grows(kit.figures.forming)} {_most(kit.figures.heat)} The picture shows where. Crosses: stretch. "
                  "Bars: compress. A larger sign means more; where there is none, only bend the foam."),
            Rows(*_rows(kit)) if grown(kit.figures.forming) else None,
            *gallery(kit, lambda index, across, up: heat_card(kit.foam, kit.heat, index, across=across, up=up),
                     left_only=True, tall=SIGNS),
            Ticks(tuple(_ticks(kit))),
        ),
    )  # fmt: skip


def _grows(forming: Sequence[FormingEntry]) -> str:
    """What the list says, in a sentence."""
    if not grown(forming):
        return "The pieces are flat and the dome is round, but no plate has to grow by much."
    return (
        "The pieces are flat and the dome is round, so the plates listed here must grow, the others less. Form them in "
        "this order."
    )


def _most(heat: Sequence[HeatEntry]) -> str:
    """The largest stretch and compression anywhere, in a sentence."""
    far, near = max(heat, key=lambda row: row.stretch), max(heat, key=lambda row: row.press)
    text = f"No spot is stretched by more than {100 * far.stretch:.1f} % ({far.stretch_plate})"
    return f"{text} or compressed by more than {100 * near.press:.1f} % ({near.press_plate})."


def _rows(kit: Kit) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """The plates that grow most, in the order of the work; of a pair both in one row."""
    plates = {plate.name: plate for plate in kit.ground.layout.plates}
    several = len(kit.figures.pieces) > 1
    rows = []
    for entry in grown(kit.figures.forming):
        plate = plates[entry.plate]
        if plate.side == "R":
            continue
        name = entry.plate
        if plate.side == "L":
            name = f"{name}, {kit.ground.layout.plates[plate.mirror].name}"
        on = [", ".join(p.id for p in kit.figures.pieces if entry.plate in p.plates)] if several else []
        share = f"{100 * entry.growth:.1f} %, {_where(entry)}"
        rows.append((name, *on, share, f"{100 * (1 + entry.growth):.1f} mm"))
    columns = ("plate", *(["piece"] if several else []), "must grow by", "so 100 mm become")
    return columns, tuple(rows[:ROWS])


def grown(forming: Sequence[FormingEntry]) -> Sequence[FormingEntry]:
    """The plates that grow more than half as much as the first of them."""
    return [entry for entry in forming if entry.growth > max(forming[0].growth / 2, SMALL)]


def _where(entry: FormingEntry) -> str:
    if abs(entry.middle - entry.edge) < SMALL:
        return "all over"
    return "in the middle" if entry.middle > entry.edge else "along its edge"


def _ticks(kit: Kit) -> Iterator[str]:
    tape, press = kit.figures.tape, max(row.press for row in kit.figures.heat)
    yield ("Draw a cross on the inside of each plate in the list, through its middle, and note how long its lines are.")
    yield (
        "Warm the inside first, then the textured side. Keep the gun moving, a hand's width away, until the foam hangs "
        "limp and the cut edges look slightly glossy. Use the lowest setting that works: from about "
        f"{kit.celsius(ACID)} the foam itself gives off acid vapour."
    )
    yield (
        f"Press it, outside up, over something round: {_across(kit, tape.round_across_mm)} for the curve from side to "
        f"side, {_across(kit, tape.round_along_mm)} for the curve from head to tail. Use a ball, a bowl, a cushion in "
        "a sack, or your thigh under a thick cloth."
    )
    yield (
        "Warm the plates of the list again one by one, and push outwards with the heel of your hand until the lines of "
        "the cross are as long as the list says. Hold each until it feels cool to the back of your hand: then it keeps "
        "its shape."
    )
    if press >= SMALL:
        yield "Last, where there are bars, push the foam together along the edge and hold it until it is cool."
    yield (
        "Put each piece back on its template. The middle must have risen, and the edge must not be longer than the "
        "line. If it is too much, warm the piece and it shrinks back."
    )


def _across(kit: Kit, radius: float) -> str:
    """What to press the foam on, from the radius of the dome's curve, mm."""
    return "almost flat" if radius > FLAT else f"about {kit.mm(2 * radius)} across"
