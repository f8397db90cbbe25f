"""The lines of the net that spikes keep clear of, as points close together."""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.geom import curves
from shellgen.model import Layout, Surface

SPACING = 0.5
"""mm between points on lines: a distance of 2 mm is right to 0.02 mm."""
PLATE, SEAM, RIM = "plate", "seam", "rim"


def net_points(surface: Surface, layout: Layout, kinds: tuple[str, ...] = (PLATE, SEAM, RIM)) -> Floats:
    """(n, 3) points close together on every line of these kinds."""
    lines = [line.uv for line in layout.lines if line.kind in kinds]
    runs = np.split(surface.points(np.vstack(lines)), np.cumsum([len(uv) for uv in lines])[:-1])
    return np.vstack([curves.resample(run, 2 + int(curves.length(run) / SPACING)) for run in runs])
