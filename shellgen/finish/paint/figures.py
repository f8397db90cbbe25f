"""The painting as a list to hang up where you paint."""

from __future__ import annotations

from shellgen.canvas import Table
from shellgen.model import Paint

TONES = ("light", "middle", "dark")


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
