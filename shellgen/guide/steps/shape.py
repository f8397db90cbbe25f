"""Is it the dome that was drawn?"""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import GLUE, HEAT, KNIFE

PLACE = 90


def steps(kit: Kit) -> Iterator[Step]:
    dome, tape, proof = kit.figures.dome, kit.figures.tape, kit.figures.proof
    sides = ("length", "width", "height")
    rows = [
        (f"{side}, rim on the table", kit.mm(drawn), kit.mm(built), "")
        for side, drawn, built in zip(sides, dome.size_mm, tape.built_size_mm, strict=True)
    ]
    rows.append(("tape from head to tail over the crown", kit.mm(tape.along_mm), kit.mm(tape.built_along_mm), ""))
    rows.append(("tape from side to side over the crown", kit.mm(tape.across_mm), "not computed", ""))
    yield kit.step(
        "shape",
        "Check the shape",
        needs=("glued dome", "tools"),
        makes=("checked dome",),
        hand=("soft tape measure", "long steel rule", "masking tape", "heat gun with a stand"),
        blocks=(
            HEAT,
            GLUE,
            KNIFE,
            Words(
                "Set the dome on a table, rim down. Push the rim in to its length and width with both hands, and hold "
                "it with two strips of masking tape from side to side inside, until the edging is on. Measure on the "
                "outside."
            ),
            Rows(("measure", "as drawn", "as computed from the flat pieces", "yours"), tuple(rows), tick=True),
            Words(
                f"Glued without heat the dome would deviate by up to {kit.mm(proof.distance_max_mm, 1)}; formed "
                f"with heat, by {kit.mm(proof.formed_distance_max_mm, 1)}, both with the rim held. Let go, a "
                "dome that was not formed opens by several centimetres, which is the foam and no fault; one that was "
                "formed opens less. Tape holds it until the edging does."
            ),
            Ticks(
                (
                    "Look along the midline from head and tail: left and right must match.",
                    "A flat spot: warm it from inside and push it out over a ball. A bulge: warm it and press it in.",
                    "A length off by more than "
                    f"{kit.mm(10)}: look for a join that skipped a mark, open it with a little of the glue's own "
                    "thinner or a blade, and join it again.",
                )
            ),
        ),
    )
