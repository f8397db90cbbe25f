"""Lines across a dome from ridge to rim, and points between them, for layouts in rows.

On the hemisphere that every dome is mapped to, the lines are the circles of latitude about the axis from neck to tail:
they leave the ridge and reach the rim at right angles and never cross. Along the ridge and along the rim they stand at
the same share of the length. Swept lines keep their place on the ridge and move along the rim.
"""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.geom.curves import arc_length
from shellgen.model import Surface

SAMPLES = 401
"""Points on ridge and rim. Chosen: about 2 mm apart on an adult's shell."""
DOWN = 121
"""Points on a line where its length is measured. Chosen: about 3 mm apart on an adult's shell."""


class Across:
    """Places on the left half by their share of the ridge and of the way down to the rim."""

    def __init__(self, surface: Surface, sweep: float) -> None:
        """sweep : how far lines move along the rim, as a share of it, at most a quarter of this; above 0 to the tail"""
        self.surface, self.sweep = surface, sweep
        turn = np.linspace(0, np.pi, SAMPLES)
        self._turn = turn
        ridge = np.column_stack([1 - 2 * turn / np.pi, np.zeros(SAMPLES)])
        self._ridge, self._rim = (
            along / along[-1]
            for along in (
                arc_length(surface.points(ridge)),
                arc_length(surface.points(np.column_stack([np.cos(turn), np.sin(turn)]))),
            )
        )

    def places(self, along: Floats, turn: Floats) -> Floats:
        """(n, 2) uv.

        along : (n,) share of the ridge's length, from the neck, of the line that each place lies on
        turn  : (n,) radians about the axis, from 0 on the ridge to pi / 2 on the rim
        """
        on_rim = np.interp(along + self.sweep * along * (1 - along), self._rim, self._turn)
        on_ridge = np.interp(along, self._ridge, self._turn)
        fall = 1 - np.cos(turn)
        angle = on_ridge + (on_rim - on_ridge) * fall
        up = np.sin(angle) * np.cos(turn)
        flat = np.column_stack([np.cos(angle), np.sin(angle) * np.sin(turn)])
        radius = 2 / np.pi * np.arccos(np.clip(up, 0, 1))
        return np.asarray(flat * (radius / np.maximum(np.hypot(*flat.T), 1e-12))[:, None])

    def turns(self, along: float, down: Floats) -> Floats:
        """(n,) radians about the axis of the places at shares `down` (n,) of the length of one line."""
        turn = np.linspace(0, np.pi / 2, DOWN)
        length = arc_length(self.surface.points(self.places(np.full(DOWN, along), turn)))
        return np.interp(down, length / length[-1], turn)

    def on_rim(self, along: Floats) -> Floats:
        """(n, 2) uv exactly on the rim."""
        uv = self.places(along, np.full(len(along), np.pi / 2))
        return np.asarray(uv / np.linalg.norm(uv, axis=1, keepdims=True))
