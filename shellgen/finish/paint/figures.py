"""The painting in figures: for the machine-readable record, and as a list to hang up where you paint."""

from __future__ import annotations

from typing import Any

import numpy as np

from shellgen.canvas import Table, hexadecimal
from shellgen.geom.triangles import areas
from shellgen.model import Paint, Shading

TONES = ("light", "middle", "dark")


def record(paint: Paint) -> dict[str, Any]:
    """Plain numbers, strings, lists and dictionaries."""
    return {
        "zones": [
            {
                "id": zone.name,
                "area_mm2": round(zone.area, 1),
                "coats": zone.coats,
                "volume_ml": round(zone.volume_ml, 2),
                "colour": zone.colour,
                "hex": hexadecimal(zone.rgb),
                "how": zone.how,
            }
            for zone in paint.zones
        ],
        "neighbours": [
            {
                "zones": list(pair.zones),
                "contrast": round(pair.contrast, 2),
                "difference_ciede2000": round(pair.difference, 1),
                "sight": pair.sight,
            }
            for pair in paint.pairs
        ],
        "steps": [
            {
                "title": coat.title,
                "zone": coat.zone,
                "colour": coat.colour,
                "coats": coat.coats,
                "volume_ml": round(coat.volume_ml, 2),
                "masks": list(coat.masks),
                "text": coat.instruction,
            }
            for coat in paint.coats
        ],
        "shading": {"paint": paint.kind, "tones": _shares(paint.shading)},
    }


def _shares(shading: Shading) -> dict[str, float]:
    """Share of the outer face in each tone, ground under the spikes counted with what lies round it."""
    middle = shading.shade[shading.faces].mean(axis=1)
    tone = (middle[:, None] >= np.array(shading.levels)).sum(axis=1)
    area = np.bincount(tone, areas(shading.points, shading.faces), minlength=len(TONES))
    return {name: round(float(share), 3) for name, share in zip(TONES, area / area.sum(), strict=True)}


def table(paint: Paint) -> Table:
    """The coats in their order."""
    return Table(
        "painting",
        ("step", "zone", "colour", "coats", "paint (mL)", "masks", "what to do"),
        tuple(
            (f"{k}. {c.title}", c.zone, c.colour, c.coats, round(c.volume_ml, 1), " ".join(c.masks), c.instruction)
            for k, c in enumerate(paint.coats, 1)
        ),
    )
