"""Masks, paint and shading."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from shellgen.guide.kit import Kit, plural
from shellgen.guide.leaf import Picture, Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import KNIFE, RAGS, SPRAY

PLACE = 140
MOST = 3
"""Pieces whose shading is shown; the others are in the sheets (chosen)."""


def steps(kit: Kit) -> Iterator[Step]:
    paper, coats = kit.preset.print.paper, kit.figures["paint"]["steps"]
    yield kit.step(
        "paint",
        "Mask and paint",
        needs=("primed shell", "materials", "tools"),
        makes=("painted shell",),
        tasks=("paint",),
        blocks=(
            SPRAY,
            KNIFE,
            Words(f"Masks, true to size on the dome, are in masks-{paper}.pdf: each sheet says what it covers."),
            Rows(
                ("what", "colour", "coats", "paint", "masks", "how"),
                tuple(_coat(kit, coat) for coat in coats if coat["title"] != "Shade"),
            ),
            Ticks(
                (
                    "Paint a scrap along with it: it tells when a coat is dry.",
                    "Work from the crown outwards, thin coats, each dry to the touch before the next.",
                    "Take masks off while the paint is still soft at the edge.",
                )
            ),
        ),
    )
    yield kit.step(
        "shade",
        "Shade the grooves",
        needs=("painted shell", "materials"),
        makes=("shaded shell",),
        tasks=("shade the grooves",),
        blocks=(
            Words(f"{_coat(kit, coats[-1])[-1]} {kit.amount(round(coats[-1]['volume_ml'], 1), 'mL')} in all."),
            *_pictures(kit),
            Ticks(
                (
                    "Run the paint into the grooves with a small brush, leave it a minute, wipe the plates clean from "
                    "the middle to the edge.",
                    "Darkest at the foot of rings and spikes and in the grooves; high places stay clean.",
                    "Let it dry where no dust falls, and touch nothing until a hidden groove is dry.",
                )
            ),
            RAGS if kit.preset.schedule.shading in ("oil", "alkyd") else None,
        ),
    )


def _coat(kit: Kit, coat: dict[str, Any]) -> tuple[str, ...]:
    tells = coat["text"].partition(" Caution,")[0]  # the cautions stand in the step, once
    volume = kit.amount(round(coat["volume_ml"], 1), "mL")
    return coat["title"], coat["colour"], str(coat["coats"]), volume, ", ".join(coat["masks"]) or "none", tells


def _pictures(kit: Kit) -> Iterator[Picture | Words]:
    """Left and middle pieces; the right ones are their mirror images."""
    shown = [p for p in kit.shell.cut.pieces if p.side != "R" and f"shading/{p.name}-shading" in kit.drawings]
    for piece in shown[:MOST]:
        yield Picture(kit.drawings[f"shading/{piece.name}-shading"], f"{piece.name}: where the shade lies.", 120.0)
    if len(kit.shell.cut.pieces) > len(shown[:MOST]):
        count = plural(len(kit.shell.cut.pieces), "piece")
        yield Words(f"Shading of all {count}: shading-{kit.preset.print.paper}.pdf.")
