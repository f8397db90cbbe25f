"""Seams made to vanish, and grooves where they are plate lines."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Step, Ticks
from shellgen.guide.steps._cautions import BURN, CARVE, DUST, HEAT

PLACE = 100


def steps(kit: Kit) -> Iterator[Step]:
    burnt = kit.preset.scores.way == "burn"
    length = sum(seam.design_length for seam in kit.shell.cut.seams)  # on the dome, as the buying list has it
    yield kit.step(
        "fill",
        "Fill the seams",
        needs=("checked dome", "materials", "tools"),
        makes=("filled dome",),
        hand=("gap filler", "kitchen paper", "fine sandpaper", "breathing mask", "heat gun with a stand",
              "hot tool with a stand" if burnt else "carving knife"),
        tasks=("fill the seams",),
        blocks=(
            Ticks(
                (
                    "Press gap filler into every gap of the seams with a wet finger, a little proud, and wipe the foam "
                    f"beside it clean. There are {kit.metres(length)} of seam; the list reckons "
                    f"{kit.bought('gap filler') or 'no gap filler'} for them.",
                    "Let it dry. Where it sank, fill again.",
                    "Sand it level with fine paper, or smooth it with a damp sponge if the label allows.",
                    "Every seam that runs along a plate line gets its groove now, as wide and deep as the others, so "
                    "that it no longer shows. Darts along plate lines too.",
                    "Go over the whole outside once, quickly, with the heat gun: small pores close and the primer "
                    "lies better.",
                )
            ),
            BURN if burnt else CARVE,
            HEAT,
            DUST,
        ),
    )  # fmt: skip
