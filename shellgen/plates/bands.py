"""Bands across the back, as an armadillo or a woodlouse has them, between a head and a tail shield.

Each shield is a plate in the middle with one on either side. Counts of living animals: the nine-banded armadillo has 7
to 11 movable bands, a woodlouse 7 segments behind its head.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.fields.params import count, ratio
from shellgen.model import Layout, Surface
from shellgen.plates._narrowest import wide_enough
from shellgen.plates._net import PlateLabel
from shellgen.plates._rows import PlateRows

ORDER = ("head", "cheek", "band", "tail", "flank")
SHIELD = (np.array([1 / 3]), np.array([1 / 3]))
"""Joints of the shields, as shares of the way to the rim: three plates of equal width. Chosen."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    bands: int = count(9, 2, 24, "Bands between the head and the tail shield; an armadillo has 9, a woodlouse 7.")
    bow: float = ratio(
        0.25, -0.8, 0.8, "How far the bands bow: 0 for straight across, above 0 back at the sides, below 0 forward."
    )
    grading: float = ratio(1.0, 0.4, 2.5, "Width of the last band over the width of the first, along the ridge.")
    shields: float = ratio(1.6, 0.8, 6.0, "Length of each shield over the width of the band next to it.")


def expected(params: Params, area: float) -> float:
    """How many plates there are to be, whatever the dome's area."""
    return params.bands + 6


def build(surface: Surface, params: Params) -> Layout:
    """The layout. PresetError if the bands are too narrow to be made."""
    width = params.grading ** np.linspace(0, 1, params.bands)
    edges = np.cumsum(np.concatenate([[params.shields * width[0]], width, [params.shields * width[-1]]]))
    none = np.zeros(0)
    joints: list[Floats] = [SHIELD[0], *[none] * params.bands, SHIELD[1]]
    rows = PlateRows(surface, params.bow, edges[:-1] / edges[-1], joints, np.zeros(params.bands + 1))

    def label(row: int, place: int) -> PlateLabel:
        if 0 < row <= params.bands:
            return PlateLabel("band", row)
        return PlateLabel((("head", "cheek"), ("tail", "flank"))[row > 0][place])

    return wide_enough(
        surface,
        lambda: rows.drafted(label).finish(surface, ease=0.5, yielding=0.0, order=ORDER),
        where="plates.bands",
        what=f"{params.bands} bands",
        remedy="Use fewer bands, less bow, a grading nearer to 1 or longer shields.",
    )
