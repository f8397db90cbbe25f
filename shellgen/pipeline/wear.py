"""The wearer, how the dome fits them, and what it hangs on."""

from __future__ import annotations

from dataclasses import dataclass, replace

from shellgen import wear
from shellgen.core.flow import Flow
from shellgen.model import Body, Cut, Materials, Spike
from shellgen.pipeline.dome import Ground, foam_of
from shellgen.preset import Preset
from shellgen.wear import wearer
from shellgen.wear.wearer import fit


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """A body and the dome on it. named : whether the preset says who wears it, or it is a body that the dome fits"""

    body: Body
    fit: fit.Fit
    named: bool


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Worn:
    """How the shell is worn. body, fit : of the wearer that the preset names; share : whether others may read the
    measures"""

    body: Body | None
    fit: fit.Fit | None
    share: bool
    wear: wear.Wear


def fitted(preset: Preset, flow: Flow, on: Ground, spikes: tuple[Spike, ...]) -> Fitted:
    """The wearer as a pack may show them, and how the dome sits on them."""
    if preset.wearer.given:
        body = flow.named("wearer").run(wearer.shown, preset.wearer)
        notes = flow.run(wearer.remarks, preset.wearer, body)
        return Fitted(body, flow.named("fit").run(fit.build, body, on.mesh, spikes, notes=notes), named=True)
    body = flow.named("wearer").run(fit.wearer_of, replace(preset.wearer, share=False), on.mesh.points)
    return Fitted(body, flow.named("fit").run(fit.build, body, on.mesh, spikes), named=False)


def hung(
    preset: Preset, flow: Flow, on: Ground, cut: Cut, spikes: tuple[Spike, ...], made: Materials, worn: Fitted
) -> wear.Wear:
    """The harness."""
    return flow.named("harness").run(
        wear.build, on.surface, on.layout, on.mesh, cut, spikes, made, worn.body, preset.wear, foam_of(preset),
        neck=worn.fit.neck, back=worn.fit.back, adhesive=preset.materials.adhesive,
        assumed=not worn.named, said=preset.wearer.group is not None,
    )  # fmt: skip


def worn(preset: Preset, of: Fitted, hung: wear.Wear) -> Worn:
    """Without the body where the preset names no wearer."""
    return Worn(
        body=of.body if of.named else None, fit=of.fit if of.named else None, share=preset.wearer.share, wear=hung
    )
