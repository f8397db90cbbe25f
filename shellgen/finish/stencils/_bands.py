"""Bands along the rim."""

from __future__ import annotations

import numpy as np

from shellgen.canvas import frozen_array
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.finish.stencils._mask import GIVE, Mask, flipped
from shellgen.geom.closest_parameters import closest_parameters
from shellgen.geom.geodesics import developed
from shellgen.model import Surface

BAND = 30.0
"""mm that a band reaches in from the rim (chosen: wider than a collar, because the edging is sprayed from the side)."""
BAND_LENGTH = 230.0
"""mm of a band: it goes on one sheet of paper (chosen)."""


def bands_along(half: float) -> int:
    """How many bands lie along half the rim, `half` mm long."""
    return int(np.ceil(half / BAND_LENGTH))


@remembered
def bands(surface: Surface) -> tuple[Mask, ...]:
    """Strips along the rim, from the head round by the left; the right ones are their mirror images."""
    count = 720
    turn = np.linspace(0, np.pi, count + 1)
    uv = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    points, normals = surface.points(uv), surface.normals(uv)
    along = np.concatenate([[0.0], np.linalg.norm(np.diff(points, axis=0), axis=1).cumsum()])
    parts = bands_along(float(along[-1]))
    cuts = np.searchsorted(along, along[-1] * np.arange(parts + 1) / parts)
    result: list[Mask] = []
    for number, (a, b) in enumerate(zip(cuts[:-1], np.minimum(cuts[1:], count), strict=True), 1):
        some = np.unique(np.append(np.arange(a, b, 6), b))
        flat = developed(points[a : b + 1], normals[a : b + 1])[some - a]
        edge = np.diff(flat, axis=0, append=2 * flat[-1:] - flat[-2:-1])
        left = np.stack([-edge[:, 1], edge[:, 0]], axis=1) / np.hypot(*edge.T)[:, None]
        inner = flat + BAND * left
        slits, overlap = _band_slits(surface, points[some], normals[some], uv[some], flat, inner)
        outline = np.vstack([flat, inner[::-1]])
        result.append(Mask("band", f"L-{number}", frozen_array(outline), (), slits, overlap, ()))
    return (*result, *(flipped(m, f"R{m.name[1:]}") for m in result))


def _band_slits(
    surface: Surface, points: Floats, normals: Floats, uv: Floats, flat: Floats, inner: Floats
) -> tuple[tuple[Floats, ...], float]:
    """Slits from the inner edge of a band where that is longer flat than on the dome, or opens less."""
    tangent = np.gradient(points, axis=0)
    inward = np.cross(normals, tangent)
    inward /= np.linalg.norm(inward, axis=1, keepdims=True)
    uv = closest_parameters(surface, points + BAND * inward, uv)
    true = np.linalg.norm(np.diff(surface.points(uv), axis=0), axis=1).sum()
    excess = float(abs(np.linalg.norm(np.diff(inner, axis=0), axis=1).sum() - true))
    count = int(np.ceil(excess / GIVE - 1e-9)) if excess > 0.25 * GIVE else 0
    at = ((np.arange(count) + 0.5) / max(count, 1) * (len(flat) - 1)).astype(int)
    return tuple(frozen_array(np.array([inner[k], flat[k] + 0.2 * (inner[k] - flat[k])])) for k in at), excess / max(
        count, 1
    )
