"""The rooms of a shell, each made from the preset and the rooms before it. Fields are named as in `Shell`."""

from __future__ import annotations

from operator import attrgetter
from typing import NamedTuple

from shellgen import buying, checks, edging, flatten, marks, materials, proof, schedule, seams, trims
from shellgen.flow import Flow, Made
from shellgen.pipeline import parts
from shellgen.preset import Preset
from shellgen.spikes import casting, solids


class Base(NamedTuple):
    """What all else lies on."""

    surface: Made
    layout: Made
    mesh: Made
    cut: Made


class Flat(NamedTuple):
    """The flat pieces; `checked` and `corrected` : what is to be said of them."""

    pattern: Made
    marks: Made
    intervals: Made
    bevels: Made
    proof: Made
    nest: Made
    checked: Made
    corrected: Made


class Standing(NamedTuple):
    """What stands on the foam and goes round it; `remarks` : what is to be said of the spikes."""

    spikes: Made
    casts: Made
    masters: Made
    casting: Made
    trims: Made
    rings: Made
    ring_stock: Made
    edging: Made
    edging_stock: Made
    remarks: Made


class Work(NamedTuple):
    """zones, shade : where paint goes; plan : what is to be done and when"""

    zones: Made
    shade: Made
    plan: Made


def flat(preset: Preset, flow: Flow, base: Base, offset: float, limits: seams.Params) -> Flat:
    run, thickness, mesh, cut = flow.run, preset.foam.thickness, base.mesh, base.cut
    shares = run("marks", marks.along, cut, mesh, offset, preset.marks)
    first = run("flat pieces", flatten.build, mesh, cut, preset.flatten, thickness=thickness, intervals=shares)
    corrected = run(
        "correction",
        parts.corrected,
        *(mesh, cut, first, shares, thickness),
        *(preset.shape, preset.flatten, preset.proof, limits.stretch_limit),
    )
    pattern = run("pattern", flatten.measured, mesh, cut, run("best", attrgetter("pattern"), corrected))
    place = run("place as glued", attrgetter("place"), corrected)
    intervals = run("intervals", marks.interval_lengths, mesh, cut, pattern, shares)
    stretch = {"stretch_limit": limits.stretch_limit}
    room = {"sheet": (limits.sheet_length, limits.sheet_width), "least_neck": limits.least_neck}
    built = (mesh, cut, pattern, preset.proof)
    return Flat(
        pattern=pattern,
        intervals=intervals,
        proof=flow.start("virtual build", proof.build, *built, thickness=thickness, start=place, **stretch),
        marks=run("numbered marks", marks.build, mesh, cut, pattern, shares),
        bevels=run("bevels", parts.bevelled, mesh, cut, pattern, preset.foam.formed),
        nest=run("nest", parts.nested, cut, pattern, preset.nest, thickness),
        checked=run("checks", checks.build, cut, pattern, intervals, **stretch, **room),
        corrected=corrected,
    )


def standing(preset: Preset, flow: Flow, base: Base) -> Standing:
    run = flow.run
    spikes, remarks = parts.spiked(preset, flow, base.surface, base.mesh, base.layout)
    casts = run("masters", solids.masters, base.surface, spikes, glue_line=preset.making.glue_line)
    trimmed = run("rings", trims.build, base.surface, spikes, preset.rings)
    edged = run("edging", edging.build, base.surface, preset.edging, foam=preset.foam.thickness)
    return Standing(
        spikes=spikes,
        casts=casts,
        masters=run("solids", parts.solids_of, casts),
        casting=run("moulds", casting.build, casts, preset.making),
        trims=trimmed,
        rings=run("strips", attrgetter("rings"), trimmed),
        ring_stock=run("ring stock", parts.ring_stock, trimmed, preset.rings),
        edging=edged,
        edging_stock=run("edging stock", parts.edging_stock, edged, preset.edging),
        remarks=remarks,
    )


def work(preset: Preset, flow: Flow, base: Base, top: Standing) -> Work:
    zones, shade = parts.zoned(
        preset, flow, base.surface, base.layout, base.mesh, top.spikes, top.masters, top.rings, top.edging
    )
    sized = base.layout, base.mesh, base.cut, top.spikes, top.rings, zones, preset.materials
    size = flow.run("size of the work", parts.size_of, *sized, shrinkage=preset.making.shrinkage)
    return Work(zones, shade, flow.run("plan", schedule.build, size, preset.schedule))


def worn(
    preset: Preset, flow: Flow, base: Base, flat: Flat, top: Standing, work: Work, body: Made | None, fit: Made | None
) -> tuple[Made, Made, Made, Made]:
    """Harness, materials, paint, and what is to be bought."""
    run, shading = flow.run, preset.schedule.shading
    stuff = run(
        "materials",
        materials.build,
        *(base.layout, base.mesh, base.cut, flat.pattern, top.spikes, top.masters, top.rings, work.zones),
        preset.materials,
        thickness=preset.foam.thickness,
        edging=(preset.edging.width, preset.edging.thickness),
        shading=shading,
        clay_wet=run("wet clay", attrgetter("clay.wet"), top.casting),
        clay_dry=run("dry clay", attrgetter("clay.dry"), top.casting),
        clay_cube=run("clay to try", attrgetter("clay.cube"), top.casting),
    )
    hung = parts.hung(preset, flow, body, fit, *base, top.spikes, stuff)
    painted = run("paint", parts.painted, work.zones, work.shade, stuff, shading)
    stuff = run("materials with harness", parts.with_harness, stuff, hung)
    amounts = run("amounts", attrgetter("amounts"), stuff)
    stock = flat.nest, top.ring_stock, top.edging_stock, top.casting
    return hung, stuff, painted, run("buying", buying.build, amounts, *stock, preset.prices, preset.materials.spare)
