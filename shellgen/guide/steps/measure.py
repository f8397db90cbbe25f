"""Before anything is bought: does it fit, and what did the checks find?"""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.canvas.rule import INCH
from shellgen.draw.measures import measures
from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Picture, Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import READ

PLACE = 10


def steps(kit: Kit) -> Iterator[Step]:
    dome, tape = kit.figures.dome, kit.figures.tape
    words = dict(zip(("length", "width", "height"), map(kit.mm, dome.size_mm), strict=True))
    foam = kit.figures.foam_thickness_mm
    told = [f for f in kit.figures.findings if f.level == "caution"]  # faults stand before the first step
    yield kit.step(
        "measure",
        "Check the size",
        needs=(),
        makes=("the right size",),
        blocks=(
            READ,
            Picture(measures(kit.name, kit.ground.mesh, words, across=kit.across),
                    "The finished shell without spikes."),
            Rows(
                ("what", "the shell"),
                (
                    ("length, from the knob at the base of the neck down the back", words["length"]),
                    ("width across the back, elbows hanging free", words["width"]),
                    ("how far it stands out", words["height"]),
                    ("along the back over the crown, by tape", kit.mm(tape.along_mm)),
                    ("across over the crown, by tape", kit.mm(tape.across_mm)),
                    ("once round the rim", kit.metres(dome.rim_length_mm)),
                ),
            ),
            Ticks(
                (
                    f"Cut a piece of card {kit.mm(dome.length_mm)} by {kit.mm(dome.width_mm)}, round its corners "
                    "and hold it to the wearer's back, in the clothes worn beneath.",
                    "The wearer stands, sits, lifts both arms and looks over each shoulder. If the card is in the way, "
                    "change length and width under dome in the preset and build the pack again: every page changes.",
                    "Measure your foam with a ruler at a cut edge. This pack is for foam of "
                    f"{foam:.1f} mm{f' ({foam / INCH:.2f} in)' if kit.inches else ''}. If yours is another, change "
                    "foam: thickness.",
                )
            ),
            *(Words(f"{f.level.capitalize()}: {f.sentence}") for f in told),
        ),
    )  # fmt: skip
