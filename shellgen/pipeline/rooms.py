"""The rooms of a shell, each made from the preset and the rooms before it. Fields are named as in `Shell`."""

from __future__ import annotations

from operator import attrgetter
from typing import NamedTuple

from shellgen.core.flow import Flow, Made
from shellgen.pattern import checks, flatten, marks, proof, seams
from shellgen.pattern.proof import rest
from shellgen.pipeline import parts
from shellgen.preset import Preset
from shellgen.spikes import casting, clay, solids
from shellgen.trim import edging, rings
from shellgen.workshop import buying, materials, schedule


class Ground(NamedTuple):
    """What all else lies on."""

    surface: Made
    layout: Made
    mesh: Made


class Flat(NamedTuple):
    """The flat pieces.

    glued, formed, flawless : where they come to rest; checked, corrected : what is to be said of them
    """

    pattern: Made
    marks: Made
    intervals: Made
    bevels: Made
    nest: Made
    glued: Made
    formed: Made
    flawless: Made
    checked: Made
    corrected: Made


class Standing(NamedTuple):
    """What stands on the foam and goes round it.

    cores, clay, whole, moulds : of `casting`, each as soon as it can be
    remarks : what is to be said of the spikes; zones, shade : where paint goes
    """

    spikes: Made
    casts: Made
    masters: Made
    cores: Made
    clay: Made
    whole: Made
    moulds: Made
    trims: Made
    rings: Made
    ring_stock: Made
    edging: Made
    edging_stock: Made
    remarks: Made
    zones: Made
    shade: Made


def flat(preset: Preset, flow: Flow, mesh: Made, cut: Made, offset: float, limits: seams.Params) -> Flat:
    run, thickness = flow.run, preset.foam.thickness
    shares = run("marks", marks.along, cut, mesh, offset, preset.marks)
    first = run("flat pieces", flatten.build, mesh, cut, preset.flatten, thickness=thickness, intervals=shares)
    corrected = run(
        "correction",
        parts.corrected,
        *(mesh, cut, first, shares, thickness),
        *(preset.shape, preset.flatten, preset.proof, limits.stretch_limit),
    )
    pattern = run("pattern", flatten.measured, mesh, cut, run("best", attrgetter("pattern"), corrected))
    intervals = run("intervals", marks.interval_lengths, mesh, cut, pattern, shares)
    stretch = {"stretch_limit": limits.stretch_limit}
    room = {"sheet": (limits.sheet_length, limits.sheet_width), "least_neck": limits.neck}
    of, foam = (mesh, cut, pattern, preset.proof), {"thickness": thickness}
    glued = run("as glued", attrgetter("glued"), corrected)
    formed = flow.start("as formed", rest.form, *of, glued, **foam, limits=_both(limits))
    return Flat(
        pattern=pattern,
        intervals=intervals,
        glued=glued,
        formed=formed,
        flawless=flow.start("without flaw", rest.flawless, *of, glued, **foam),
        marks=run("numbered marks", marks.build, mesh, cut, pattern, shares),
        bevels=run("bevels", parts.bevelled, mesh, cut, pattern, preset.foam.formed),
        nest=run("nest", parts.nested, cut, pattern, preset.nest, thickness),
        checked=run("checks", checks.build, cut, pattern, intervals, **stretch, **room),
        corrected=corrected,
    )


def proved(preset: Preset, flow: Flow, mesh: Made, cut: Made, flat: Flat, limits: seams.Params) -> Made:
    """The virtual build, measured."""
    of, rests = (mesh, cut, flat.pattern, preset.proof), (flat.glued, flat.flawless, flat.formed)
    return flow.run("virtual build", proof.judge, *of, *rests, limits=_both(limits))


def _both(limits: seams.Params) -> tuple[float, float]:
    """Forming may press the foam in as far as it may stretch it."""
    return limits.stretch_limit, limits.stretch_limit


def standing(preset: Preset, flow: Flow, on: Ground) -> Standing:
    """Begun before the foam is cut: what is heavy here can be made beside that."""
    run = flow.run
    spikes, remarks = parts.spiked(preset, flow, *on)
    casts = run("masters", solids.masters, on.surface, spikes, glue_line=preset.making.glue_line)
    moulds = flow.start("moulds", casting.moulds_of, casts, preset.making)
    whole = flow.start("printed masters", casting.masters_of, casts, preset.making)
    cores = run("cores", casting.cores_of, casts, preset.making)
    masters = run("solids", parts.solids_of, casts)
    trimmed = run("rings", rings.build, on.surface, spikes, preset.rings)
    strips = run("strips", attrgetter("rings"), trimmed)
    edged = run("edging", edging.build, on.surface, preset.edging, foam=preset.foam.thickness)
    zones, shade = parts.zoned(preset, flow, *on, spikes, masters, strips, edged)
    return Standing(
        spikes=spikes,
        casts=casts,
        masters=masters,
        cores=cores,
        clay=run("clay", clay.amount, casts, cores, preset.making.shrinkage),
        whole=whole,
        moulds=moulds,
        trims=trimmed,
        rings=strips,
        ring_stock=run("ring stock", parts.ring_stock, trimmed, preset.rings),
        edging=edged,
        edging_stock=run("edging stock", parts.edging_stock, edged, preset.edging),
        remarks=remarks,
        zones=zones,
        shade=shade,
    )


def plan(preset: Preset, flow: Flow, on: Ground, cut: Made, top: Standing) -> Made:
    """What is to be done and when."""
    sized = on.layout, on.mesh, cut, top.spikes, top.rings, top.zones, preset.materials
    size = flow.run("size of the work", parts.size_of, *sized, shrinkage=preset.making.shrinkage)
    return flow.run("plan", schedule.build, size, preset.schedule)


def worn(
    preset: Preset, flow: Flow, on: Ground, cut: Made, flat: Flat, top: Standing, body: Made | None, fit: Made | None
) -> tuple[Made, Made, Made]:
    """Harness, materials and paint."""
    run, shading = flow.run, preset.schedule.shading
    stuff = run(
        "materials",
        materials.build,
        *(on.layout, on.mesh, cut, flat.pattern, top.spikes, top.masters, top.rings, top.zones),
        preset.materials,
        thickness=preset.foam.thickness,
        edging=(preset.edging.width, preset.edging.thickness),
        shading=shading,
        clay_wet=run("wet clay", attrgetter("wet"), top.clay),
        clay_dry=run("dry clay", attrgetter("dry"), top.clay),
        clay_cube=run("clay to try", attrgetter("cube"), top.clay),
    )
    hung = parts.hung(preset, flow, body, fit, *on, cut, top.spikes, stuff)
    painted = run("paint", parts.painted, top.zones, top.shade, stuff, shading)
    stuff = run("materials with harness", parts.with_harness, stuff, hung)
    return hung, stuff, painted


def bought(preset: Preset, flow: Flow, flat: Flat, top: Standing, cast: Made, stuff: Made) -> Made:
    """What is to be bought."""
    amounts = flow.run("amounts", attrgetter("amounts"), stuff)
    stock = flat.nest, top.ring_stock, top.edging_stock, cast
    return flow.run("buying", buying.build, amounts, *stock, preset.prices, preset.materials.spare)
