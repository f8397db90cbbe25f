"""What a chart to draw on shows: the dome, the plates that there are already, and where the wearer carries it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from shellgen.core.flow import Flow
from shellgen.geom.patches import polar_grid
from shellgen.model import Layout, Surface
from shellgen.pipeline.dome import asked, plated
from shellgen.preset import Preset
from shellgen.wear import places, wearer
from shellgen.wear.wearer import fit


@dataclass(frozen=True, slots=True, eq=False)
class Charted:
    """layout : None where no lines are wanted"""

    surface: Surface
    layout: Layout | None
    worn: tuple[places.WornPlace, ...]


def charted(preset: Preset, flow: Flow, *, lines: bool) -> Charted:
    """lines : whether the plates are wanted too; a chart without them can be had while their drawing has a mistake"""
    layout = None
    if lines:
        surface, layout = plated(preset, flow)
    else:
        surface = asked(replace(preset, plates=type(preset)().plates), flow)[0]
    shares, spokes = np.linspace(0, 1, 25), 72
    outside = surface.points(polar_grid(shares, spokes))
    if preset.wearer.given:
        body = flow.named("wearer").run(wearer.shown, preset.wearer)
    else:
        body = flow.named("wearer").run(fit.wearer_of, replace(preset.wearer, share=False), outside)
    neck = fit.neck_of(body, outside)
    return Charted(surface, layout, flow.run(places.places, surface, body, preset.wear, neck=neck))
