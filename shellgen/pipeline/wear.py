"""The wearer, how the dome fits them, and what it hangs on."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen import wear
from shellgen.core.flow import Flow
from shellgen.model import Body, Cut, Materials, Spike
from shellgen.pipeline.dome import Ground
from shellgen.preset import Preset
from shellgen.wear import wearer
from shellgen.wear.wearer import fit


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """A body and the dome on it. named : whether the preset says who wears it, or it is a grown body of middle size"""

    body: Body
    fit: fit.Fit
    named: bool


def fitted(preset: Preset, flow: Flow, on: Ground, spikes: tuple[Spike, ...]) -> Fitted:
    named = preset.wearer.given
    params = preset.wearer if named else wearer.Params()
    body = flow.named("wearer").run(wearer.body, params)
    notes = flow.run(wearer.remarks, params, body) if named else ()
    return Fitted(body, flow.named("fit").run(fit.build, body, on.mesh, spikes, notes=notes), named)


def hung(
    preset: Preset, flow: Flow, on: Ground, cut: Cut, spikes: tuple[Spike, ...], made: Materials, worn: Fitted
) -> wear.Wear:
    """The harness."""
    return flow.named("harness").run(
        wear.build, on.surface, on.layout, on.mesh, cut, spikes, made, worn.body, preset.wear,
        thickness=preset.foam.thickness, neck=worn.fit.neck, back=worn.fit.back, assumed=not worn.named,
    )  # fmt: skip
