"""Small shells to set spikes on: a flat plate, a hemisphere, a whole dome with plates."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polar

from shellgen.core import registry
from shellgen.dome.surfaces import plan
from shellgen.model import Spike, SpikeShape
from shellgen.spikes import body, fit, place

FIGURES = {"tip_radius": 5.0, "bend": np.radians(55), "ridges": 8, "ridge_depth": 0.14}
"""What a profile may ask for beyond base, height and twist."""


def shapes() -> dict[str, SpikeShape]:
    """One spike, 40 mm wide and 60 mm high, of every profile there is."""
    members = {name: registry.load(body.PROFILES, name) for name in registry.names(body.PROFILES)}
    return {
        name: SpikeShape(name, 40.0, 40.0, 60.0, **{figure: FIGURES[figure] for figure in member.USES})
        for name, member in members.items()
    }


@dataclass(frozen=True)
class Plate:
    """A flat disc of the given radius, as a Surface."""

    radius: float = 300.0

    def points(self, uv, *, offset=0.0):
        return np.column_stack([self.radius * uv, np.full(len(uv), offset)])

    def normals(self, uv):
        return np.tile([0.0, 0.0, 1.0], (len(uv), 1))

    def tangents(self, uv, *, offset=0.0):
        return np.tile(self.radius * np.eye(3)[:, :2], (len(uv), 1, 1))


def ball(radius=250.0):
    """A hemisphere."""
    return plan.build(
        plan.Params(2 * radius, 2 * radius, radius, taper=0.0, squareness=0.0, fullness=0.0, keel=0.0, flare=0.0)
    )


def dome():
    """The default dome with ring-shaped rows of plates: surface, layout, mesh."""
    surface = plan.build(plan.Params())
    rows = [
        (0.25, []),
        (0.6, [2, 8, 14, 20, 26, 34, 40, 46, 52, 58]),
        (0.85, list(range(0, 60, 6))),
        (1.0, list(range(0, 60, 4))),
    ]
    layout, mesh = polar.shell(lambda uv: (surface.points(uv), surface.normals(uv)), rows, around=60, steps=4)
    return surface, layout, mesh


def spike(surface, shape: SpikeShape, *, uv=(0.0, 0.0), lean=0.0, towards="rear", name="spike") -> Spike:
    """One spike, fitted, its own master."""
    uv = np.array(uv)
    frame = place.frame(surface, uv, lean=lean, towards=towards)
    bare = Spike(name, 0, uv, frame, lean, np.zeros((0, 3)), np.zeros((0, 2)), name, shape)
    return fit.fitted(surface, [bare])[0]
