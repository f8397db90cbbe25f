"""The flow from a preset to a finished shell: which stage gets what. Nothing is computed here.

`ground` : dome, plates, mesh and cut; `rooms` : what is made on it; `parts` : stages that take from more than one room
"""

from __future__ import annotations

from shellgen import flatmap, flatten
from shellgen.flow import Flow, Made
from shellgen.pipeline import ground, parts, rooms
from shellgen.pipeline.ground import COARSE, asked, coarse_mesh, dome, seams_of
from shellgen.preset import Preset
from shellgen.shell import Shell

__all__ = ["COARSE", "asked", "coarse_mesh", "dome", "seams_of", "shell_of"]


def shell_of(preset: Preset, flow: Flow) -> Made:
    """The finished shell, as a Made whose value is a `Shell`."""
    offset = flatten.mid_offset(preset.flatten, preset.foam.thickness)
    limits = ground.limits_of(preset)
    surface, plates = dome(preset, flow)
    layout, mesh, cut = ground.cut(preset, flow, surface, plates, offset, limits)
    base = rooms.Base(surface, layout, mesh, cut)
    flat = rooms.flat(preset, flow, base, offset, limits)
    top = rooms.standing(preset, flow, base)
    body, fit = parts.fitted(preset, flow, mesh, top.spikes)
    work = rooms.work(preset, flow, base, top)
    wear, stuff, paint, buying = rooms.worn(preset, flow, base, flat, top, work, body, fit)
    remarks = (flat.checked, flat.corrected, flat.proof, top.remarks)
    others = (surface, top.casting, top.trims, top.edging, flat.nest, work.plan, fit, wear, paint)
    return flow.run(
        "shell",
        Shell,
        name=preset.name,
        thickness=preset.foam.thickness,
        measures_shared=preset.wearer.share,
        **base._asdict(),
        **{name: made for name, made in flat._asdict().items() if name not in ("checked", "corrected")},
        **{name: made for name, made in top._asdict().items() if name != "remarks"},
        plan=work.plan,
        body=body,
        fit=fit,
        wear=wear,
        materials=stuff,
        paint=paint,
        buying=buying,
        seats=flow.run("seats", flatmap.seats, mesh, cut, flat.pattern, top.spikes),
        findings=flow.run("findings", parts.findings, *remarks, *others),
    )
