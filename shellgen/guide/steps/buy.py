"""What to buy, and which tools to get ready."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import SOLVENT
from shellgen.record.buying import MaterialEntry

PLACE = 20
THICKER = 0.5
"""mm by which foam may differ from the preset: the middle of the foam, along which seams are cut, moves by half of it
(common practice, no source)."""


def steps(kit: Kit) -> Iterator[Step]:
    lines = kit.figures.materials
    mass, spread = kit.figures.mass_g, kit.figures.mass_uncertainty_g
    yield kit.step(
        "buy",
        "Buy materials and get tools ready",
        needs=("checked size",),
        makes=("materials", "tools"),
        blocks=(
            SOLVENT,
            Rows(("what", "computed", "buy"), tuple(_line(kit, line) for line in lines)),
            Words(
                "tables/buying.csv shows how each amount was computed. The finished shell will weigh about "
                f"{kit.grams(mass)}, plus or minus {kit.grams(spread)}."
            ),
            Ticks(
                (
                    "Cutting mat, long steel rule, soft tape measure, scissors, knife with many snap-off blades.",
                    "A large piece of card to check the size. Thin card, paper glue, sticky tape and an empty "
                    "ballpoint pen for the model.",
                    f"Printer, pencil, pricking wheel, {kit.mm(3)} hole punch, pins, masking tape, clothes pegs, "
                    "kitchen paper.",
                    f"Heat gun with a stand; {_scoring(kit)}; something round to form the foam over.",
                    "Fine sandpaper. If you have an airbrush, you need no brushes for paint.",
                    *(("3D printer, or somebody who prints for you.",) if kit.figures.prints else ()),
                    *(("A metal can with a lid for cloths with oil paint.",) if kit.oily else ()),
                    *(("Kitchen scale, starch, a rack for the spikes to dry on.",) if kit.bought("foam clay") else ()),
                    "Breathing mask, gloves and goggles as the labels require, a window that opens, a bucket of water.",
                    "Measure the foam with a ruler at a cut edge. This pack is for foam that is "
                    f"{kit.figures.foam_thickness_mm:.1f} mm thick. If yours differs by more "
                    f"than {kit.mm(THICKER, 1)} (common practice, no source), change thickness under foam in the "
                    "preset and build the pack again.",
                    "A scrap of every foam: test glue, primer, paint and heat on it first, and let the test dry.",
                )
            ),
        ),
    )


def _line(kit: Kit, line: MaterialEntry) -> tuple[str, str, str]:
    packs = f"{line.packs} x " if line.packs > 1 and line.pack != 1 else ""
    unit = line.unit
    return (
        _named(kit, line.item),
        kit.amount(round(line.amount, 2), unit),
        f"{packs}{kit.amount(line.pack if packs else line.buy, unit)}",
    )


def _named(kit: Kit, item: str) -> str:
    """The name of an item, with its size in the maker's units if it is sold by size."""
    strip, rim = kit.preset.rings, kit.preset.edging
    sizes = {"ring strip": (strip.thickness, strip.width), "edging": (rim.width, rim.thickness)}
    if item in sizes:
        item += ", {:g} x {:g} mm".format(*(round(side, 1) for side in sizes[item]))
    return item


def _scoring(kit: Kit) -> str:
    return (
        "a hot tool with a stand for the score lines"
        if kit.preset.scores.way == "burn"
        else "rasp and carving knife for the lines"
    )
