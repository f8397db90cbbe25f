"""Hollow foam cores that save clay: a frustum of sheet foam inside the spike, given as the sector it is rolled from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.canvas import frozen_array
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.spikes.fit import Underside
from shellgen.spikes.solids import Master

NARROWEST = 1.5
"""Least outer radius of a core's top over the sheet's thickness: foam does not roll tighter (common practice)."""
LEAST = 12.0
"""mm: a core lower than this saves less clay than it costs foam (chosen)."""


@dataclass(frozen=True, slots=True, eq=False)
class Core:
    """A frustum of sheet foam, closed below by the shell and above by clay.

    bottom, top, height : its outer radii and its height over the middle of the base
    outline : (n, 2) mm, the sheet laid flat at its middle, its foot cut to the shell; it begins at the turning line and
              runs counter-clockwise: foot, edge, top, edge
    angle   : of the sector
    volume  : mm3 of clay that it saves
    strain  : of the sheet's faces where it is rolled tightest
    """

    bottom: float
    top: float
    height: float
    thickness: float
    outline: Floats
    angle: float
    volume: float
    strain: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "outline", frozen_array(self.outline))


def straight_and_round(master: Master) -> bool:
    """Whether a frustum can stand inside it."""
    return not master.body.shape.bend and master.body.oval == 1


@remembered
def core(master: Master, *, thickness: float, clay: float, scale: float = 1.0) -> Core | None:
    """The tallest core that leaves `clay` over it all round, in a straight round spike; None where it saves little.

    A side that is straight or bulges has every chord inside it, so a frustum that keeps clear of it at two levels does
    so between them.
    """
    body = master.body
    if not straight_and_round(master):
        return None
    s = np.linspace(0, body.length, 400)
    room = scale * body.radius(s) * (1 - body.depth(s)) - clay * np.hypot(1.0, np.gradient(body.radius(s), s))
    fits = np.flatnonzero((room >= NARROWEST * thickness) & (scale * s <= scale * body.length - clay))
    if not len(fits):
        return None
    bottom, top, height = float(room[0]), float(room[fits[-1]]), float(scale * s[fits[-1]])
    if height < LEAST or bottom <= top:
        return None
    return _rolled(master.under, bottom, top, height, thickness, scale)


def _rolled(under: Underside, bottom: float, top: float, height: float, thickness: float, scale: float) -> Core:
    """The core laid flat.

    References: developed frustum, sector angle 2 pi sin a at slant radii r / sin a (any handbook of sheet-metal work).
    """
    half = np.arctan2(bottom - top, height)
    foot, below = _foot(under, bottom, np.tan(half), scale)
    inward = 0.5 * thickness / np.cos(half)  # from the sheet's outer face to its middle, level
    apex = (bottom - inward) / np.tan(half)
    angle = 2 * np.pi * np.sin(half)
    turn = np.linspace(0, angle, len(foot) + 1)
    ray = np.column_stack([np.cos(turn), np.sin(turn)])
    outer = (apex - np.append(foot, foot[0])) / np.cos(half)
    inner = (apex - height) / np.cos(half)
    volume = np.pi * height * (bottom**2 + bottom * top + top**2) / 3 + below
    outline = np.vstack([outer[:, None] * ray, inner * ray[::-1]])
    strain = 0.5 * thickness * np.cos(half) / (top - inward)
    return Core(bottom, top, height, thickness, outline, angle, float(volume), float(strain))


def _foot(under: Underside, bottom: float, taper: float, scale: float) -> tuple[Floats, float]:
    """(n,) heights at which the core's outer face meets the underside, and mm3 of the core under the base plane."""
    rings = scale * np.concatenate([under.points, np.broadcast_to(under.middle, (1, *under.points.shape[1:]))])[::-1]
    reach, z = np.hypot(rings[..., 0], rings[..., 1]), rings[..., 2]
    beyond = reach - (bottom - z * taper)  # below 0 inside the core
    last = np.clip((beyond < 0).sum(axis=0), 1, len(rings) - 1)
    column = np.arange(z.shape[1])
    low, high = beyond[last - 1, column], beyond[last, column]
    share = np.clip(low / (low - high), 0, 1)
    edge = reach[last - 1, column] + share * (reach[last, column] - reach[last - 1, column])
    foot = z[last - 1, column] + share * (z[last, column] - z[last - 1, column])
    inside = np.minimum(reach, edge)
    depth = np.where(reach <= edge, z, foot)
    wedge = 0.5 * np.diff(inside**2, axis=0) * 0.5 * (depth[:-1] + depth[1:])
    return foot, float(-wedge.sum() * 2 * np.pi / z.shape[1])
