"""Closest-point parameters on a smooth patch, from a good guess.

References: Gauss-Newton iteration (Nocedal & Wright, Numerical Optimization, 2nd ed. 2006, section 10.3) on the
orthogonality of the offset to the tangents.
"""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.geom.patches import SurfacePatch


def closest_parameters(
    patch: SurfacePatch, points: Floats, uv: Floats, *, rounds: int = 12, step: float = 0.1, close: float = 1e-7
) -> Floats:
    """(n, 2) uv of the points of the patch that are closest to `points` (n, 3) near it, from a guess `uv` (n, 2).

    step : largest move per round, in the domain; close : a round that moves less than this is the last
    """
    for _ in range(rounds):
        tangents = patch.tangents(uv)
        metric = np.einsum("nia,nib->nab", tangents, tangents)
        away = np.einsum("nia,ni->na", tangents, points - patch.points(uv))
        move = np.linalg.solve(metric, away[:, :, None])[:, :, 0]
        uv = uv + np.clip(move, -step, step)
        uv = uv / np.maximum(1.0, np.hypot(uv[:, 0], uv[:, 1]))[:, None]
        if np.abs(move).max() < close:
            break
    return uv
