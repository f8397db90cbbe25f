"""No harness at all: the shell is carried, hung up or fastened to something else."""

from __future__ import annotations

from shellgen.wear._strand import Strand
from shellgen.wear._torso import Torso


def strands(torso: Torso, params: None) -> tuple[Strand, ...]:
    """Nothing."""
    return ()
