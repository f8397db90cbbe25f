"""A curved horn: it tapers straight along a spine that winds ever tighter to the tip, as horns grow."""

from __future__ import annotations

from functools import partial

import numpy as np
from scipy.optimize import brentq

from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError
from shellgen.model import SpikeShape
from shellgen.spikes.body import SpikeBody
from shellgen.spikes.profiles._taper import Taper, check_tip

USES = ("tip_radius", "bend")
ROWS = 40
ALONG, BALL = 200, np.radians(np.arange(-89.0, 90.5, 0.5))
"""Sections in which the highest point is looked for: so many up the side, and angles over the ball (chosen: with 0.5
degrees it is found to within 0.001 mm)."""
BLUNTEST = 0.9
"""Greatest radius of the tip over that of the base: a horn must taper to wind (chosen)."""


def spine(s: Floats, side: Taper, winding: float) -> tuple[Floats, Floats, Floats]:
    """x, z and angle from z at the distances `s`. With w = r(s) / R the angle is -b ln w: every part of the curve is
    like every other, scaled. Straight below the base and along the ball of the tip.

    References: the equiangular spiral of horns, D'Arcy Thompson, On Growth and Form, 1917, chapter XI;
    integrals of sin(b ln w) and cos(b ln w) in closed form.
    """
    apex = side.radius / np.tan(side.half_angle)
    on = np.clip(s, 0.0, side.end)
    w = 1 - on / apex
    turn = winding * np.log(w)
    scale = apex / (1 + winding**2)
    x = scale * (winding + w * (np.sin(turn) - winding * np.cos(turn)))
    z = scale * (1 - w * (np.cos(turn) + winding * np.sin(turn)))
    beyond = s - on
    return x - beyond * np.sin(turn), z + beyond * np.cos(turn), -turn


def _bent(half_angle: float, shape: SpikeShape) -> tuple[Taper, float]:
    """The taper of a half angle, and how tightly the spine must wind to turn by the whole bend at its end."""
    radius, tip = shape.diameter / 2, shape.tip_radius
    side = Taper(radius, half_angle, tip, radius / np.tan(half_angle) - tip / np.sin(half_angle))
    return side, shape.bend / -np.log(tip * np.cos(half_angle) / radius)


def _top(half_angle: float, shape: SpikeShape) -> float:
    """Height over the base of what stands highest: the end of a straight horn, the back of the ball of a bent one.

    The highest point of a section at angle t from upright, its half breadth along the bend being e, lies e sin t over
    its middle; of all sections the highest counts.
    """
    side, winding = _bent(half_angle, shape)
    s = np.concatenate([np.linspace(0, side.end, ALONG), side.centre + side.ball * np.sin(BALL[-half_angle < BALL])])
    _, z, heading = spine(s, side, winding)
    turn = shape.twist * s / side.length
    along = side(s) * np.hypot(np.cos(turn), shape.width / shape.diameter * np.sin(turn))
    return float((z + along * np.sin(heading)).max())


def body(shape: SpikeShape) -> SpikeBody:
    """The taper whose highest point comes to the height asked."""
    check_tip(shape)
    if shape.tip_radius > BLUNTEST * shape.diameter / 2:
        raise GeometryError(
            f"a horn's tip of radius {shape.tip_radius:g} mm leaves no taper on a base {shape.diameter:g} mm wide: "
            f"make it at most {BLUNTEST * shape.diameter / 2:g} mm"
        )
    angles = np.linspace(np.radians(1.5), np.radians(60), 118)
    heights = np.array([_top(a, shape) for a in angles]) - shape.height
    change = np.flatnonzero((heights[:-1] >= 0) & (heights[1:] < 0))
    if not len(change):
        raise GeometryError(
            f"a horn {shape.diameter:g} mm wide cannot be {shape.height:g} mm high with a bend of "
            f"{np.degrees(shape.bend):.0f} degrees and a tip of radius {shape.tip_radius:g} mm: higher or straighter"
        )
    half = brentq(lambda a: _top(a, shape) - shape.height, angles[change[0]], angles[change[0] + 1], xtol=1e-13)
    side, winding = _bent(half, shape)
    wound = partial(spine, side=side, winding=winding)
    return SpikeBody(shape, side.length, side, side.rows(ROWS), shape.tip_radius, (side.end,), wound)
