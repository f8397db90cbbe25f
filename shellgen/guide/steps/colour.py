"""Masks, paint and shading."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Step, Ticks, Words
from shellgen.guide.steps._cautions import KNIFE, RAGS, SPRAY

PLACE = 140


def steps(kit: Kit) -> Iterator[Step]:
    paper = kit.preset.print.paper
    yield kit.step(
        "paint",
        "Mask and paint",
        needs=("primed shell", "materials", "tools"),
        makes=("painted shell",),
        tasks=("paint",),
        blocks=(
            SPRAY,
            KNIFE,
            Words(f"Masks for this shell are in masks-{paper}.pdf: frames that lay plates open and collars that cover "
                  "a spike, true to size on the dome."),
            Ticks(
                (
                    "First the dark ground in all grooves, then the plates, then rings and spikes, last the rim.",
                    f"{kit.bought('paint') or 'Paint'} in all. Thin coats, each dry to the touch before the next; a "
                    "scrap painted along with it tells you.",
                    "Spray from the crown outwards, at a hand's length; brush what the masks cannot reach.",
                    "Take masks off while the paint is still soft at the edge.",
                )
            ),
        ),
    )  # fmt: skip
    shading = kit.preset.schedule.shading
    yield kit.step(
        "shade",
        "Shade the grooves",
        needs=("painted shell", "materials"),
        makes=("shaded shell",),
        tasks=("shade the grooves",),
        blocks=(
            Ticks(
                (
                    f"{kit.bought('oil paint') or 'Shading paint'}: run it into the grooves with a small brush, leave "
                    "it a minute, wipe the plates clean from the middle to the edge.",
                    "Darkest at the foot of rings and in the grooves, then lighter towards the middle of a plate; "
                    "high places stay clean.",
                    "Let it dry where no dust falls. Touch nothing until a hidden groove is dry.",
                )
            ),
            RAGS if shading in ("oil", "alkyd") else None,
        ),
    )
