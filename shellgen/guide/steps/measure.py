"""Before you buy anything: does the shell fit, and what did the checks find?"""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.dome.surfaces import plan
from shellgen.draw.measures import measures
from shellgen.fields import params
from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Picture, Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import READ

PLACE = 10


def steps(kit: Kit) -> Iterator[Step]:
    dome, tape = kit.figures.dome, kit.figures.tape
    words = dict(zip(("length", "width", "height"), map(kit.mm, dome.size_mm), strict=True))
    meant = params.specs(plan.Params)  # the same words as in the preset, whatever kind of dome it names
    foam = kit.figures.foam_thickness_mm
    cautions = [f for f in kit.figures.findings if f.level == "caution"]  # faults are shown before the first step
    yield kit.step(
        "measure",
        "Check the size",
        needs=(),
        makes=("checked size",),
        blocks=(
            READ,
            Picture(measures(kit.name, kit.ground.mesh, words, across=kit.across),
                    "The finished shell without spikes."),
            Rows(
                ("what", "the shell"),
                (
                    *((f"{name}: {meant[name].metadata['doc'].rstrip('.')}", words[name]) for name in words),
                    ("head to tail over the crown, by tape", kit.mm(tape.along_mm)),
                    ("side to side over the crown, by tape", kit.mm(tape.across_mm)),
                    ("once around the rim", kit.metres(dome.rim_length_mm)),
                ),
            ),
            Ticks(
                (
                    f"Cut a piece of card {kit.mm(dome.length_mm)} by {kit.mm(dome.width_mm)}, round its corners "
                    "and hold it to the wearer's back, over the clothes worn under the shell.",
                    "The wearer stands, sits, lifts both arms and looks over each shoulder. If the card is in the way, "
                    "change length and width under dome in the preset and build the pack again. Every page changes.",
                    "Measure your foam with a ruler at a cut edge. This pack is for foam that is "
                    f"{foam:.1f} mm thick. If yours differs, change "
                    "thickness under foam in the preset and build the pack again.",
                )
            ),
            *(Words(f"{f.level.capitalize()}: {f.sentence}") for f in cautions),
        ),
    )  # fmt: skip
