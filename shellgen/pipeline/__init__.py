"""The flow from a preset to a finished shell: which stage gets what. Nothing is computed here."""

from __future__ import annotations

from operator import attrgetter

from shellgen import (
    buying,
    checks,
    edging,
    flatmap,
    flatten,
    marks,
    materials,
    proof,
    schedule,
    trims,
)
from shellgen.flow import Flow, Made
from shellgen.pipeline import ground, parts
from shellgen.pipeline.ground import COARSE, asked, dome, seams_of
from shellgen.preset import Preset
from shellgen.shell import Shell
from shellgen.spikes import casting, solids

__all__ = ["COARSE", "asked", "dome", "seams_of", "shell_of"]


def shell_of(preset: Preset, flow: Flow) -> Made:
    """The finished shell, as a Made whose value is a `Shell`."""
    run, limits, thickness = flow.run, ground.limits_of(preset), preset.foam.thickness
    offset = flatten.mid_offset(preset.flatten, thickness)
    surface, plates = dome(preset, flow)
    layout, grid, cut = ground.cut(preset, flow, surface, plates, offset, limits)
    shares = run("marks", marks.along, cut, grid, offset, preset.marks)
    flat = run("flat pieces", flatten.build, grid, cut, preset.flatten, thickness=thickness, intervals=shares)
    corrected = run(
        "correction",
        parts.corrected,
        *(grid, cut, flat, shares, thickness),
        *(preset.shape, preset.flatten, preset.proof, limits.stretch_limit),
    )
    pattern = run("pattern", flatten.measured, grid, cut, run("best", attrgetter("pattern"), corrected))
    intervals = run("intervals", marks.interval_lengths, grid, cut, pattern, shares)
    built = flow.start(
        "virtual build",
        proof.build,
        grid,
        cut,
        pattern,
        preset.proof,
        thickness=thickness,
        stretch_limit=limits.stretch_limit,
    )
    spikes, standing = parts.spiked(preset, flow, surface, grid, layout)
    casts = run("masters", solids.masters, surface, spikes, glue_line=preset.making.glue_line)
    masters = run("solids", parts.solids_of, casts)
    body, worn = parts.fitted(preset, flow, grid, spikes)
    trimmed = run("rings", trims.build, surface, spikes, preset.rings)
    rings = run("strips", attrgetter("rings"), trimmed)
    cast = run("moulds", casting.build, casts, preset.making)
    edged = run("edging", edging.build, surface, preset.edging, foam=thickness)
    zones, shade = parts.zoned(preset, flow, surface, layout, grid, spikes, masters, rings, edged)
    sized = layout, grid, cut, spikes, rings, zones, preset.materials
    size = run("size of the work", parts.size_of, *sized, shrinkage=preset.making.shrinkage)
    plan = run("plan", schedule.build, size, preset.schedule)
    sheets = run("nest", parts.nested, cut, pattern, preset.nest, thickness)
    checked = run(
        "checks",
        checks.build,
        cut,
        pattern,
        intervals,
        stretch_limit=limits.stretch_limit,
        sheet=(limits.sheet_length, limits.sheet_width),
        least_neck=limits.least_neck,
    )
    ring_stock = run("ring stock", parts.ring_stock, trimmed, preset.rings)
    edging_stock = run("edging stock", parts.edging_stock, edged, preset.edging)
    stuff = run(
        "materials",
        materials.build,
        *(layout, grid, cut, pattern, spikes, masters, rings, zones, preset.materials),
        thickness=thickness,
        shading=preset.schedule.shading,
        clay_wet=run("wet clay", attrgetter("clay.wet"), cast),
        clay_dry=run("dry clay", attrgetter("clay.dry"), cast),
    )
    hung = parts.hung(preset, flow, body, worn, surface, layout, grid, cut, spikes, stuff)
    painted = run("paint", parts.painted, zones, shade, stuff, preset.schedule.shading)
    stuff = run("materials with harness", parts.with_harness, stuff, hung)
    amounts = run("amounts", attrgetter("amounts"), stuff)
    shop = preset.prices, preset.materials.spare
    bought = run("buying", buying.build, amounts, sheets, ring_stock, edging_stock, cast, *shop)
    return run(
        "shell",
        Shell,
        name=preset.name,
        surface=surface,
        layout=layout,
        mesh=grid,
        cut=cut,
        pattern=pattern,
        thickness=thickness,
        marks=run("numbered marks", marks.build, grid, cut, pattern, shares),
        intervals=intervals,
        bevels=run("bevels", parts.bevelled, grid, cut, pattern, preset.foam.formed),
        spikes=spikes,
        masters=masters,
        casts=casts,
        casting=cast,
        rings=rings,
        trims=trimmed,
        ring_stock=ring_stock,
        edging=edged,
        edging_stock=edging_stock,
        proof=built,
        materials=stuff,
        nest=sheets,
        plan=plan,
        seats=run("seats", flatmap.seats, grid, cut, pattern, spikes),
        findings=run(
            "findings",
            parts.findings,
            *(checked, corrected, built, standing),
            *(surface, cast, trimmed, edged, sheets, plan, worn, hung, painted),
        ),
        buying=bought,
        body=body,
        fit=worn,
        measures_shared=preset.wearer.share,
        wear=hung,
        paint=painted,
    )
