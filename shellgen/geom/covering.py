"""How much of some lines on a surface a closed curve on it covers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from shellgen.core.arrays import Floats


def covered(lines: Sequence[Floats], curve: Floats, up: Floats) -> Floats:
    """(len(lines),) length of each polyline (n, 3) inside a closed curve (m, 3), both seen along `up` (3,)."""
    found = np.zeros(len(lines))
    middle = curve.mean(axis=0)
    reach = np.linalg.norm(curve - middle, axis=1).max()
    plane = np.linalg.svd(up[None])[2][1:].T
    inside = shapely.make_valid(shapely.Polygon((curve - middle) @ plane))  # seen at a slant a curve may cross itself
    for k, line in enumerate(lines):
        far = reach + np.linalg.norm(np.diff(line, axis=0), axis=1).max()
        near = np.flatnonzero(np.linalg.norm(line - middle, axis=1) < far)
        if len(near):
            part = line[max(near[0] - 1, 0) : near[-1] + 2]
            found[k] = shapely.LineString((part - middle) @ plane).intersection(inside).length
    return found
