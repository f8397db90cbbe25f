"""A vest that closes in front, with the shell fastened to it at four places."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen.fields import params as field
from shellgen.wear._shoulders import shoulder_ends
from shellgen.wear._strand import Strand
from shellgen.wear._torso import Torso


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    width: float = field.length(90.0, 20, 200, "Width of the part of the vest's shoulder that carries the shell.")


def strands(torso: Torso, params: Params) -> tuple[Strand, ...]:
    """Cloth carries like a broad strap: over the shoulders, and from there diagonally to the sides of the waist."""
    closing = ("zip or buckles in front of the vest", 1)
    return (Strand("vest", params.width, shoulder_ends(torso, "side"), cloth=True, buckles=(closing,)),)
