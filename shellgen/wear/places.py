"""Where a wearer's shoulders and straps come to lie on the outer face, before there are any plates."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core import registry
from shellgen.core.arrays import Floats
from shellgen.fields.params import Chosen
from shellgen.geom import patches
from shellgen.model import Body, Surface
from shellgen.wear import _torso

INSET = 0.9
"""Share of the way from crown to rim beyond which nothing is fastened here. Chosen: there must be room for a patch."""


@dataclass(frozen=True, slots=True, eq=False)
class WornPlace:
    """A place of the wearer on the outer face. name : such as "shoulder strap"; uv : (2,) on the left half"""

    name: str
    uv: Floats


def places(surface: Surface, body: Body, chosen: Chosen, *, neck: float) -> tuple[WornPlace, ...]:
    """Each end of the harness where it would best be fastened, and the tip of the shoulder if it lies under the shell.

    neck : x of the bone at the base of the neck, mm

    The anchors of the finished shell keep clear of seams, grooves and spikes, and so lie near these places.
    """
    turn = np.linspace(0, np.pi, 181)
    rim = surface.points(np.column_stack([np.cos(turn), np.sin(turn)]))
    torso = _torso.torso_behind(body, neck, 0.0, float(rim[:, 0].min()))
    tip = _below(surface, np.array([torso.shoulder_top(torso.shoulder_half), torso.shoulder_half]), reach=1.0)
    found = list[tuple[str, Floats]]()
    for strand in registry.load("shellgen.wear.harnesses", chosen.name).strands(torso, chosen.own):
        found += [(f"{strand.name}, {end.role}" if end.role not in strand.name else strand.name, end.wanted[:2])
                  for end in strand.ends]  # fmt: skip
    held = [WornPlace(name, _below(surface, at, reach=INSET)) for name, at in found]
    return (*held, *([] if np.hypot(*tip) > 1 - 1e-9 else [WornPlace("tip of the shoulder", tip)]))


def _below(surface: Surface, plan: Floats, *, reach: float) -> Floats:
    """uv of the place that stands over a point of the rim's plane, or of the nearest within `reach`: 1 is the rim.
    Newton's method."""
    grid = patches.polar_grid(np.linspace(0, reach, 25), 180)
    at = surface.points(grid)[:, :2]
    nearest = uv = grid[np.hypot(*(at - plan).T).argmin()]
    for _ in range(30):
        away = plan - surface.points(uv[None])[0, :2]
        uv = uv + np.linalg.solve(surface.tangents(uv[None])[0, :2], away)
        if np.hypot(*uv) > reach:
            return np.asarray(nearest)
    return np.asarray(uv)
