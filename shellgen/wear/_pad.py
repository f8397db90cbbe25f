"""Pads of soft foam between shell and back: the strips on which the statics let the back press."""

from __future__ import annotations

from math import ceil

import numpy as np
from scipy.interpolate import LinearNDInterpolator

from shellgen.core.arrays import Floats
from shellgen.model import Amount

ITEM = "soft foam for pads, 50 mm thick"
THICKNESS = 50.0
"""mm: of the soft foam as it is sold; strips are cut from it and laid in layers (common practice, no source)."""


def amount(rows: Floats, inner: Floats, *, back: float, width: float) -> Amount:
    """The soft foam for the strips along `rows`.

    rows  : (k, n, 3) mm, where the back presses, one row for each strip; width : of a strip
    inner : (m, 3) the shell's inner face; back : z of the back
    """
    height = LinearNDInterpolator(inner[:, :2], inner[:, 2], fill_value=0.0)(rows[..., 0], rows[..., 1])
    gap = np.maximum(height - back, 0.0)
    section = np.trapezoid(gap, rows[..., 0], axis=1).sum()  # mm2, seen from the side
    area = section * width / THICKNESS / 100
    length = np.ptp(rows[..., 0], axis=1).sum()
    how = (
        f"{len(rows)} strips {width:g} mm wide, {length / 1000:.2f} m in all, {section / length:.0f} mm deep in the "
        f"mean, in layers of {THICKNESS:g} mm, not counted in the mass = {area:.0f} cm2"
    )
    return Amount(ITEM, area, 50.0 * ceil(area / 50), "cm2", how)
