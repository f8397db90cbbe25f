"""The bevel stock along the rim."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.canvas.rule import Rule
from shellgen.draw.sections import edging_section
from shellgen.guide.kit import Kit, plural
from shellgen.guide.leaf import Gallery, Picture, Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import DUST, GLUE, HEAT, KNIFE
from shellgen.guide.steps._pieces import bare

PLACE = 110


def steps(kit: Kit) -> Iterator[Step]:
    of, how = kit.figures.edging, kit.preset.edging
    mitre = {round(m.at_mm, 1): m.mitre_deg for m in of.mitres}

    def cut(at: float) -> str:
        return f"{mitre[round(at % of.length_mm, 1)]:.0f}°" if round(at % of.length_mm, 1) in mitre else "square"

    yield kit.step(
        "edging",
        "Edge the rim",
        needs=("filled dome", "materials", "tools"),
        makes=("edged dome",),
        equipment=("edging", "knife", "cutting mat", "soft tape measure", "masking tape", "heat gun with a stand",
              "contact adhesive", "brush for glue", "gap filler", "fine sandpaper"),
        tasks=("glue the edging",),
        blocks=(
            KNIFE,
            Gallery((
                Picture(bare(kit.drawings["edging-plan.svg"]), "The rim from above: joints and pieces.", 90.0),
                Picture(edging_section(how, kit.foam.thickness, Rule(kit.inches)), "Cut through the rim."),
            )),
            Words(f"You need {kit.metres(of.length_mm)} of edging, measured along its middle: a three-sided strip, "
                  f"{kit.mm(how.width)} wide and {kit.mm(how.thickness)} thick, also sold as bevel stock. Its broad "
                  "face goes on the cut edge of the rim. The rim's outer edge is "
                  f"{kit.metres(kit.figures.dome.rim_length_mm)} long."),
            Rows(("piece", "cut to", "first end", "other end"), tuple(
                (p.id, kit.mm(p.length_mm), cut(p.start_mm), cut(p.end_mm)) for p in of.pieces)),
            Ticks(
                (
                    "Cut each piece to its length, measured along the middle of the strip.",
                    *_reliefs(kit),
                    f"Bend it around the rim without glue and tape it. Its faces stretch or shrink by up to "
                    f"{100 * of.strain_max:.0f} %. Where it resists, warm it first, before any glue is on.",
                    *_fitted(kit),
                    _glued(len(of.pieces)),
                )
            ),
            HEAT,
            GLUE,
            DUST,
        ),
    )  # fmt: skip


def _fitted(kit: Kit) -> Iterator[str]:
    """What the virtual build found on the rim."""
    gap = max(kit.figures.proof.rim_gap_mm, key=abs)
    if abs(gap) >= 1:
        more, give = ("longer", "press the foam together") if gap > 0 else ("shorter", "stretch the foam")
        yield (
            f"Along half the rim the foam is {kit.mm(abs(gap))} {more} than the edging's line. Mark the foam and the "
            f"edging every eighth of the rim, glue mark to mark, and {give} evenly between them. Do not "
            "trim anything."
        )
    yield (
        "Hold the rim at its length and width while you glue, with the strips of masking tape across the inside: "
        "without the edging the dome opens. Take them off when the glue has set."
    )


def _glued(pieces: int) -> str:
    if pieces == 1:
        return (
            "Start gluing opposite the joint shown in the picture and work to both sides, so that the ends press "
            "together there. Fill the joint like the seams, and sand it when it is dry."
        )
    return (
        "Glue the front piece first, from its middle at the head to both sides. Then glue "
        f"{'the other' if pieces == 2 else 'the others'}, so that every joint presses together. Fill the joints like "
        "the seams, and sand them when they are dry."
    )


def _reliefs(kit: Kit) -> Iterator[str]:
    for cuts in kit.figures.edging.relief_cuts:
        yield (
            f"From {kit.mm(cuts.from_mm)} to {kit.mm(cuts.to_mm)} along the rim, measured from the head to the "
            f"left: {plural(cuts.count, 'relief cut')}, {kit.mm(cuts.depth_mm, 1)} deep, evenly spaced, on the "
            "face that is compressed."
        )
