"""Seams filled until they no longer show, and grooves where they are plate lines."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Step, Ticks
from shellgen.guide.steps._cautions import BURN, CARVE, DUST, GLUED
from shellgen.guide.steps._pieces import grooved

PLACE = 100


OR_CARVE = " Or carve it with a knife: that needs no heat on the glue."


def steps(kit: Kit) -> Iterator[Step]:
    burnt = kit.preset.scores.way == "burn"
    length = sum(seam.design_length for seam in kit.foam.cut.seams)  # on the dome, as in the buying list
    yield kit.step(
        "fill",
        "Fill the seams",
        needs=("checked dome", "materials", "tools"),
        makes=("filled dome",),
        equipment=("gap filler", "kitchen paper", "fine sandpaper",
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
                    *_groove(kit, burnt=burnt),
                )
            ),
            *((BURN, GLUED) if burnt else (CARVE,)),
            DUST,
        ),
    )  # fmt: skip


def _groove(kit: Kit, *, burnt: bool) -> Iterator[str]:
    if grooved(kit):
        yield (f"{'Burn' if burnt else 'Carve'} a groove along {grooved(kit)}, as wide and deep as the other score "
               f"lines, so that the seam no longer shows.{OR_CARVE if burnt else ''}")  # fmt: skip
