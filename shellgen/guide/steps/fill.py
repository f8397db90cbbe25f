"""Seams filled until they no longer show, and grooves where they are plate lines."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Step, Ticks
from shellgen.guide.steps._cautions import BURN, CARVE, DUST, HEAT

PLACE = 100


def steps(kit: Kit) -> Iterator[Step]:
    burnt = kit.preset.scores.way == "burn"
    length = sum(seam.design_length for seam in kit.foam.cut.seams)  # on the dome, as in the buying list
    yield kit.step(
        "fill",
        "Fill the seams",
        needs=("checked dome", "materials", "tools"),
        makes=("filled dome",),
        equipment=("gap filler", "kitchen paper", "fine sandpaper", "heat gun with a stand",
              *(("hot tool with a stand", "bucket of water") if burnt else ("carving knife",))),
        tasks=("fill the seams",),
        blocks=(
            Ticks(
                (
                    "Press gap filler into every gap in the seams with a wet finger, slightly above the surface, and "
                    f"wipe the foam around it clean. The seams are {kit.metres(length)} long in all on the dome; the "
                    f"buying list has {kit.bought('gap filler') or 'no gap filler'} for them.",
                    "Let it dry. Fill again where it sank.",
                    "Sand it level with fine paper, or smooth it with damp kitchen paper if the label "
                    "allows that.",
                    "Score a groove along every seam and dart that follows a plate line, as wide and deep as the other "
                    "score lines, so that the seam no longer shows.",
                    "Go over the whole outside once, quickly, with the heat gun. It closes small pores, so the primer "
                    "covers better.",
                )
            ),
            BURN if burnt else CARVE,
            HEAT,
            DUST,
        ),
    )  # fmt: skip
