"""Spikes with few triangles, for a page: a printer needs a hundred times as many as a screen shows."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from shellgen.model import Solid, Spike
from shellgen.spikes.body import SpikeBody, make
from shellgen.spikes.solids import closed

AROUND, ROWS = 32, 11
"""Points around a section, and sections from base to tip (chosen: smooth at twice the usual size)."""
LEAST_ROWS = 6
"""Sections of a spike seen from afar (chosen: a curved horn still bends)."""

SUNK = 3.0
"""mm that the base is sunk into the shell; it is flat (chosen: hides the gap on the demos' domes)."""


def light(
    spikes: tuple[Spike, ...], *, sunk: float = SUNK, around: Callable[[Spike], int] = lambda _: AROUND
) -> tuple[Solid, ...]:
    """One solid per master, under its name and in the spike's own frame. around : points around a section of each"""
    masters = {spike.master: spike for spike in spikes}
    return tuple(_swept(name, make(spike.shape), sunk, around(spike)) for name, spike in masters.items())


def _swept(name: str, body: SpikeBody, sunk: float, around: int) -> Solid:
    ridged, count = body.shape.ridges, max(round(ROWS * around / AROUND), LEAST_ROWS)
    around = ridged * max(4, around // ridged) if ridged else around  # valleys and crests keep their points
    inner = body.rows[(body.rows > 0) & (body.rows < body.length)]
    rows = inner[np.unique(np.linspace(0, len(inner) - 1, count).astype(int))]
    foot = np.array([-sunk])
    side = body.points(np.r_[foot, rows][:, None], np.arange(around) * 2 * np.pi / around)
    tip = body.points(np.array([body.length]), np.zeros(1))[0]
    return closed(name, side, tip, side[:0], side[0].mean(axis=0))
