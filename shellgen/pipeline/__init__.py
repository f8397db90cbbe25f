"""The flow from a preset to a finished shell: which stage gets what. Nothing is computed here.

`ground` : dome, plates, mesh and cut; `rooms` : what is made on it; `parts` : stages that take from more than one room
"""

from __future__ import annotations

from shellgen.core.flow import Flow, Made
from shellgen.pattern import flatmap, flatten, seams
from shellgen.pipeline import ground, parts, rooms
from shellgen.pipeline.ground import COARSE, asked, coarse_mesh, dome, seams_of
from shellgen.pipeline.shell import Shell
from shellgen.preset import Preset
from shellgen.spikes import casting

__all__ = ["COARSE", "asked", "coarse_mesh", "dome", "seams_of", "shell_of"]


SHOWN = ("spikes", "casts", "masters", "trims", "rings", "ring_stock", "edging", "edging_stock")
"""What a shell holds of what stands on it, as it is; the rest goes into other fields."""


def shell_of(preset: Preset, flow: Flow) -> Made:
    """The finished shell, as a Made whose value is a `Shell`."""
    surface, plates = dome(preset, flow)
    limits = ground.limits_of(preset, surface.value)
    meshed = ground.meshed(preset, flow, surface, plates)
    on = rooms.Ground(surface, meshed.layout, meshed.mesh)
    top = rooms.standing(preset, flow, on)
    cut, flat = _cut_and_flat(preset, flow, surface, meshed, limits)
    own = flow.run("own plan", parts.own_plan, *on[1:], cut, flat.pattern, preset.seams.name, limits.neck)
    compared = flow.start("other plans", parts.compared, surface, own, limits, preset.flatten, _offset(preset))
    body, fit = parts.fitted(preset, flow, on.mesh, top.spikes)
    plan = rooms.plan(preset, flow, on, cut, top)
    wear, stuff, paint = rooms.worn(preset, flow, on, cut, flat, top, body, fit)
    proof = rooms.proved(preset, flow, on.mesh, cut, flat, limits)
    cast = flow.run("casting", casting.together, top.casts, top.cores, top.clay, top.whole, top.moulds, preset.making)
    remarks = (flat.checked, compared, flat.corrected, proof, top.remarks)
    others = (surface, cast, top.trims, top.edging, flat.nest, plan, fit, wear, paint)
    return flow.run(
        "shell",
        Shell,
        name=preset.name,
        thickness=preset.foam.thickness,
        measures_shared=preset.wearer.share,
        **on._asdict(),
        cut=cut,
        **{name: getattr(flat, name) for name in ("pattern", "marks", "intervals", "bevels", "nest")},
        **{name: made for name, made in top._asdict().items() if name in SHOWN},
        casting=cast,
        proof=proof,
        plan=plan,
        body=body,
        fit=fit,
        wear=wear,
        materials=stuff,
        paint=paint,
        buying=rooms.bought(preset, flow, flat, top, cast, stuff),
        seats=flow.run("seats", flatmap.seats, on.mesh, cut, flat.pattern, top.spikes),
        findings=flow.run("findings", parts.findings, *remarks, *others, unset=parts.unset(preset)),
    )


SEARCHED = ("least", "kept")
"""Plans that can look for other seams."""

TRIES = 3
"""Searches for seams of which no piece overlaps itself. Chosen."""


def _cut_and_flat(
    preset: Preset, flow: Flow, surface: Made, meshed: ground.Meshed, limits: seams.Params
) -> tuple[Made, rooms.Flat]:
    """The cut and its flat pieces; where one overlaps itself, other seams are searched for."""
    avoid: ground.Avoid = ()
    while True:
        cut = ground.cut(preset, flow, surface, meshed, avoid)
        try:
            return cut, rooms.flat(preset, flow, meshed.mesh, cut, _offset(preset), limits)
        except flatten.OverlapError as error:
            if preset.seams.name not in SEARCHED or len(avoid) + 1 == TRIES:
                raise
            avoid += ((error.cell, cut.value.cut_lines),)


def _offset(preset: Preset) -> float:
    return flatten.mid_offset(preset.flatten, preset.foam.thickness)
