"""Does the glued dome have the designed shape?"""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import GLUE, GLUED, HEAT, KNIFE

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
        equipment=("soft tape measure", "long steel rule", "masking tape", "heat gun with a stand", "something round",
              "knife", "contact adhesive", "brush for glue"),
        blocks=(
            HEAT,
            GLUE,
            GLUED,
            KNIFE,
            Words(
                "Set the dome on a table, rim down. Push the rim to its length and width with both hands, and hold it "
                "with two strips of masking tape across the inside until the edging is on. Measure on the outside."
            ),
            Rows(("measure", "as designed", "as computed from the flat pieces", "yours"), tuple(rows), tick=True),
            Words(
                f"Computed with the rim held: glued without heat, the dome deviates by up to "
                f"{kit.mm(proof.distance_max_mm, 1)} from the design; formed with heat, by "
                f"{kit.mm(proof.formed_distance_max_mm, 1)}. If you let go of the rim, a dome that was not formed "
                f"opens by several centimetres{' (an inch or more)' if kit.inches else ''}. The foam springs back; "
                "that is not a fault. A formed dome opens less. The tape holds it until the edging does."
            ),
            Ticks(
                (
                    "Look along the midline from the head and from the tail: left and right must match.",
                    "Warm a flat spot from inside and push it out over something round. Warm a bulge and press it in.",
                    "If a length is wrong by more than "
                    f"{kit.mm(10)}, look for a join that skipped a mark. Open it with a blade and glue it "
                    "again.",
                )
            ),
        ),
    )  # fmt: skip
