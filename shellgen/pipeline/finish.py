"""Where paint goes, how much of it, and where the shade lies."""

from __future__ import annotations

from shellgen.core.flow import Flow
from shellgen.finish import paint, scores
from shellgen.model import Materials, Paint, Shading, Zone
from shellgen.pipeline.dome import Ground, foam_of
from shellgen.pipeline.spikes import Standing, Trim
from shellgen.preset import Preset
from shellgen.trim import edging


def zones(preset: Preset, flow: Flow, on: Ground, top: Standing, trim: Trim) -> tuple[Zone, ...]:
    """The zones with their areas and paint."""
    return flow.named("zones").run(
        paint.zoned, on.surface, on.layout, on.mesh, top.spikes, top.masters, trim.rings.rings, preset.paint,
        foam_of(preset), rim=trim.edging.length, edging=edging.face(preset.edging),
        groove=scores.groove(preset.scores, preset.foam.thickness), coats=preset.materials.paint_coats,
        coverage=preset.materials.paint,
    )  # fmt: skip


def shade(preset: Preset, flow: Flow, on: Ground, top: Standing, trim: Trim) -> Shading:
    """The shade on the outer face."""
    how = preset.paint  # colours and coats leave the shade as it is
    return flow.named("shading").run(
        paint.shaded, on.surface, on.layout, on.mesh, top.spikes, top.masters, trim.rings.rings,
        paint.Params(reach=how.reach, brush=how.brush, middle=how.middle, dark=how.dark),
        groove=scores.groove(preset.scores, preset.foam.thickness),
    )  # fmt: skip


def painted(preset: Preset, flow: Flow, zones: tuple[Zone, ...], shade: Shading, stuff: Materials) -> Paint:
    """Paint and its order."""
    kind = preset.schedule.shading
    amount = next(a.amount for a in stuff.amounts if a.item == f"{kind} paint for shading")
    return flow.named("paint").run(
        paint.build, zones, shade, kind=kind, shade_ml=amount, spray_grooves=preset.paint.spray_grooves
    )
