"""Before you buy anything: does the shell fit, and what did the checks find?"""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.dome.surfaces import plan
from shellgen.draw.measures import measures
from shellgen.fields import params
from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Lines, Picture, Rows, Step, Ticks, Warn, Words
from shellgen.guide.steps._cautions import READ
from shellgen.spikes.casting import SHRINKS
from shellgen.wear import SIZED

PLACE = 10


def steps(kit: Kit) -> Iterator[Step]:
    dome, tape = kit.figures.dome, kit.figures.tape
    words = dict(zip(("length", "width", "height"), map(kit.mm, dome.size_mm), strict=True))
    meant = params.specs(plan.Params)  # the same words as in the preset, whatever kind of dome it names
    out = kit.preset.edging.thickness
    later = (SIZED, SHRINKS)  # read where straps are sewn and clay is dried
    cautions = [f for f in kit.figures.findings if f.level == "caution" and not f.text.startswith(later)]
    yield kit.step(
        "measure",
        "Check the size",
        needs=(),
        makes=("checked size",),
        equipment=("large piece of card", "scissors", "long steel rule", "pencil"),
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
                    f"Cut a piece of card {kit.mm(dome.length_mm + 2 * out)} by {kit.mm(dome.width_mm + 2 * out)}: "
                    f"the shell, and on each side {kit.mm(out)} of edging. Round its corners and hold it to the "
                    "wearer's back, over the clothes worn under the shell.",
                    "The wearer stands, sits, lifts both arms and looks over each shoulder. If the card is in the way, "
                    "change length and width under dome in the preset and build the pack again. Every page changes.",
                )
            ),
            *(Warn(("general",), f"{f.level.capitalize()}: {f.sentence}") for f in cautions),
            Words(_names(kit)),
            Words(
                f"Preset: the text file that this pack was made from, {kit.name}.yaml. Words in brackets such as "
                "(foam: thickness) name a line of it: thickness, indented under foam. If the two lines are not there, "
                f"write them, as here. Then shellgen build {kit.name}.yaml makes the pack again."
            ),
            Lines(f"foam:\n  thickness: {kit.preset.foam.thickness:g}\n"),
        ),
    )  # fmt: skip


def _names(kit: Kit) -> str:
    """What words of this trade mean."""
    darts = any(join.dart for join in kit.figures.joins)
    return (
        "Words of this guide. Plate: one field of the shell, between grooves. Piece: what you cut from foam in one; it "
        "can have many plates. "
        + ("Dart: a wedge cut out of a piece; you glue its two edges together, and the piece becomes round. " if darts
           else "")
        + "Rim: the lower edge all around. Crown: the highest part."
        + (" Seat: the place of a spike." if kit.figures.spikes else "")
        + (" Mould: two printed halves in which you press clay into a spike. Foot: the part that closes a mould from "
           "below. Master: a spike as the printer makes it."
           if any(p.role == "foot" for p in kit.figures.prints) else "")
    )  # fmt: skip
