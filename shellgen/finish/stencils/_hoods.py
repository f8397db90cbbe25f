"""Hoods: cones of paper over a spike and its ring."""

from __future__ import annotations

import numpy as np
from scipy.optimize import minimize_scalar

from shellgen.canvas import frozen_array
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.finish.stencils._mask import AROUND, Mask, foot
from shellgen.geom.closest_parameters import closest_parameters
from shellgen.model import Ring, Solid, Spike, Surface

PLAY = 1.5
"""mm between a hood and what it covers (chosen)."""


@remembered
def hood(surface: Surface, solid: Solid, group: list[Spike], ring: Ring | None) -> Mask:
    """The cone of least area over spike and ring, standing on the shell, laid flat.

    References: developed cone, sector angle 2 pi sin a (any handbook of sheet-metal work).
    """
    spike = group[0]
    normal = surface.normals(spike.uv[None])[0]
    ahead = spike.frame[:3, 0] - (spike.frame[:3, 0] @ normal) * normal
    ahead /= np.linalg.norm(ahead)
    axes = np.stack([ahead, np.cross(normal, ahead), normal], axis=1)
    place = spike.frame[:3, :3] @ solid.vertices.T
    covered = [place.T + spike.frame[:3, 3]]
    standing = foot(surface, spike, ring)
    if ring is not None:
        covered += [standing, standing + ring.width * surface.normals(spike.seat_uv)]
    local = (np.vstack(covered) - spike.frame[:3, 3]) @ axes
    middle = local[local[:, 2] < local[:, 2].max() / 2][:, :2].mean(axis=0)
    top = local[np.argmax(local[:, 2]), :2]
    lean = (top - middle) / max(local[:, 2].max(), 1.0) / 2  # the hood's axis leans half way to the tip
    reach = np.linalg.norm(local[:, :2] - middle - local[:, 2:] * lean, axis=1) + PLAY
    height = np.maximum(local[:, 2], 0.0)

    def wide(slope: float) -> float:
        return float((reach + slope * height).max())

    def area(slope: float) -> float:
        return float(np.pi * wide(slope) ** 2 / slope * np.hypot(1.0, slope))

    slope = float(minimize_scalar(area, bounds=(0.05, 5.0), method="bounded").x)
    base = wide(slope)
    half = np.arctan(slope)
    turn = np.linspace(0, 2 * np.pi, AROUND, endpoint=False)
    drop = _drops(surface, spike, axes, base, slope, turn)
    slant = (base / slope + drop) / np.cos(half)
    sector = np.linspace(0, 2 * np.pi * np.sin(half), AROUND + 1)
    rim = np.append(slant, slant[0])[:, None] * np.stack([np.cos(sector), np.sin(sector)], axis=1)
    outline = np.vstack([[0.0, 0.0], rim])
    names = tuple(s.name for s in group)
    return Mask("hood", spike.master, frozen_array(outline), (), (), 0.0, names)


def _drops(surface: Surface, spike: Spike, axes: Floats, base: float, slope: float, turn: Floats) -> Floats:
    """(n,) mm by which the shell lies below the plane of the spike's foot where a cone about it meets the shell."""
    drop = np.zeros(len(turn))
    uv = spike.seat_uv[np.linspace(0, len(spike.seat_uv), len(turn), endpoint=False).astype(int)]
    for _ in range(4):
        ring = (base + slope * drop)[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        points = spike.frame[:3, 3] + ring @ axes[:, :2].T - drop[:, None] * axes[:, 2]
        uv = closest_parameters(surface, points, uv)
        drop = drop - ((surface.points(uv) - points) @ axes[:, 2])
    return np.maximum(drop, 0.0)
