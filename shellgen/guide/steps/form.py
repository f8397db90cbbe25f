"""Forming with heat: where, how much, in which order, over what."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shellgen.canvas.rule import INCH, inch
from shellgen.draw.cards import heat_card
from shellgen.draw.plate_map import plate_map
from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Picture, Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import FORM, HEAT
from shellgen.guide.steps._pieces import SIGNS, gallery
from shellgen.record.forming import FormingEntry
from shellgen.record.handwork import HeatEntry

PLACE = 70
SMALL = 0.003
"""Stretch that needs no extra heat (chosen: a tenth of the usual limit)."""
ROWS = 6
"""Most plates that are listed (chosen: the list stays on one page with its picture)."""
TALL = 65.0
"""mm, height of the map of the plates."""
HALVES, FINE = 2, 32
"""Parts of an inch in which a cross is drawn, and in which its formed lines are read (chosen: as tapes have them)."""
FLAT = 750.0
"""mm. Chosen: over a hand's width such a bend rises by about 2 mm, and no household object is that flat a curve."""
SEAL = (
    "Go over the whole outside once, quickly, with the heat gun. It closes small pores, so the primer covers better. "
    "Do it before you glue: later the heat would soften the glue."
)
ACID = 150.0
"""deg C from which EVA gives off acetic acid. References: J. Appl. Polym. Sci., thermal degradation of EVA, part I."""


def steps(kit: Kit) -> Iterator[Step]:
    if not kit.preset.foam.formed:
        yield kit.step("form", "Bend the pieces", needs=("scored pieces",), makes=("formed pieces",),
            equipment=("heat gun with a stand",), blocks=(
            HEAT,
            Words("With this preset you glue the pieces without forming them with heat. Bend each piece over your knee "
                  "towards its inside until it keeps a little of the curve."),
            Ticks((SEAL,)),))  # fmt: skip
        return
    yield kit.step(
        "form",
        "Form the pieces with heat",
        needs=("scored pieces", "tools"),
        makes=("formed pieces",),
        equipment=("heat gun with a stand", "something round", "pencil", "long steel rule", "soft tape measure",
                   "the templates"),
        tasks=("form the pieces with heat",),
        blocks=(
            FORM,
            Words(f"{_grows(kit.figures.forming)} {_most(kit.figures.heat)} "),
            Rows(*_rows(kit)) if grown(kit.figures.forming) else None,
            Picture(plate_map(kit.name, kit.ground, _named(kit), across=kit.across, up=TALL),
                    "Where these plates are, from above."),
            Words("The next picture shows where to heat. Crosses: stretch. Bars: compress. A larger sign means more: "
                  "from a quarter, from half and from three quarters of the most. Where there is none, only bend the "
                  "foam. Dashed: the grooves between the plates."),
            *gallery(kit, lambda index, across, up: heat_card(kit.ground, kit.foam, kit.heat, index, across=across,
                                                              up=up), left_only=True, tall=SIGNS),
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
    far, near = _extremes(heat)
    text = f"In no direction is a spot stretched by more than {100 * far.stretch:.1f} % ({far.stretch_plate})"
    return f"{text} or compressed by more than {100 * near.press:.1f} % ({near.press_plate})."


def _extremes(heat: Sequence[HeatEntry]) -> tuple[HeatEntry, HeatEntry]:
    return max(heat, key=lambda row: row.stretch), max(heat, key=lambda row: row.press)


def _named(kit: Kit) -> tuple[str, ...]:
    """Every plate that the step names."""
    far, near = _extremes(kit.figures.heat)
    listed = [name for row in _rows(kit)[1] for name in row[0].split(", ")] if grown(kit.figures.forming) else []
    return tuple(dict.fromkeys([*listed, far.stretch_plate, near.press_plate]))


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
        rows.append((name, *on, share, *_cross(kit, entry)))
    columns = ("plate", *(["piece"] if several else []), "must grow by", "draw a cross of", "line to the head becomes",
               "other line becomes")  # fmt: skip
    return columns, tuple(rows[:ROWS])


def _cross(kit: Kit, entry: FormingEntry) -> Iterator[str]:
    """The cross of a plate, and how long its lines are when the plate is formed; in inches it is of a round length
    there."""
    size, parts = entry.cross_mm, INCH / HALVES
    if kit.inches and size >= parts:
        size = size // parts * parts
    for value, digits, fine in ((size, 0, 16), *((size * (1 + g), 1, FINE) for g in (entry.cross_along,
                                                                                   entry.cross_across))):  # fmt: skip
        yield f"{value:.{digits}f} mm" + (f" ({inch(value, fine)})" if kit.inches else "")


def grown(forming: Sequence[FormingEntry]) -> Sequence[FormingEntry]:
    """The plates that grow more than half as much as the first of them."""
    return [entry for entry in forming if entry.growth > max(forming[0].growth / 2, SMALL)]


def _where(entry: FormingEntry) -> str:
    if abs(entry.middle - entry.edge) < SMALL:
        return "all over"
    return "in the middle" if entry.middle > entry.edge else "along its edge"


def _ticks(kit: Kit) -> Iterator[str]:
    tape, press = kit.figures.tape, max(row.press for row in kit.figures.heat)
    listed = grown(kit.figures.forming)
    if listed:
        yield (
            "Draw a cross in pencil on the outside of each plate in the list, through its middle, one line towards the "
            "head. Draw its lines as long as the list says, and write the length next to it."
        )
    yield (
        "Heat an area as large as your two hands at a time: the plates of the list first, in its order, then the "
        "others from the crown to the rim. Support the rest of a large piece on the table, so that it does not "
        "bend where it is warm."
    )
    yield (
        "Warm the inside first, then the textured side, 10 to 20 seconds each (common practice, no source): try it on "
        "a scrap. Keep the gun moving, a hand's width away, until the area gives like cloth and its surface looks "
        "slightly glossy. Use the lowest setting that works: from about "
        f"{kit.celsius(ACID)} the foam itself gives off acid vapour."
    )
    yield (
        f"Press it, outside up, over something round: {_across(kit, tape.round_across_mm)} for the curve from side to "
        f"side, {_across(kit, tape.round_along_mm)} for the curve from head to tail. Use a ball, a bowl, a cushion in "
        "a sack, or your thigh under a thick cloth."
    )
    if listed:
        yield (
            "In the plates of the list, push outwards with the heel of your hand until a soft tape on the cross reads "
            "what the list says. The lines include the bend: the outside of the foam grows more than its middle. Hold "
            "each until it feels cool to the back of your hand: then it keeps its shape."
        )
    if press >= SMALL:
        yield (
            "Last, where there are bars: warm the foam, push it together from both sides of the spot, at the edge of "
            "a piece along the edge, and hold it until it is cool."
        )
    yield (
        "Put each piece back on its template. The middle must have risen, and the edge must not be longer than the "
        "line. If it is too much, warm the piece and it shrinks back."
    )
    yield SEAL


def _across(kit: Kit, radius: float) -> str:
    """What to press the foam on, from the radius of the dome's curve, mm."""
    return "almost flat" if radius > FLAT else f"about {kit.mm(2 * radius)} across"
