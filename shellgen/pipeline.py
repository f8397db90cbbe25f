"""The flow from a preset to a finished shell: which stage gets what. Nothing is computed here."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from operator import attrgetter, itemgetter
from typing import Any

from shellgen import (
    bevels,
    bounds,
    buying,
    checks,
    edging,
    flatmap,
    flatten,
    marks,
    materials,
    mesh,
    nest,
    paint,
    proof,
    registry,
    schedule,
    seams,
    shape,
    stock,
    trims,
    wear,
    wearer,
)
from shellgen.errors import FitError
from shellgen.flow import Flow, Made
from shellgen.geom.curves import length
from shellgen.geom.triangles import areas
from shellgen.layouts._overlay import overlay
from shellgen.model import (
    Cut,
    Finding,
    Layout,
    Materials,
    Paint,
    Pattern,
    Ring,
    Shading,
    ShellMesh,
    Solid,
    Spike,
    Surface,
    Zone,
)
from shellgen.params import Chosen
from shellgen.plans._task import Ground, Task
from shellgen.preset import Preset
from shellgen.shell import Shell
from shellgen.spikes import casting, place, solids
from shellgen.wearer import fit

COARSE = 2.5
"""Edges of the mesh that seam plans search on, over those of the mesh itself (chosen)."""


def shell_of(preset: Preset, flow: Flow) -> Made:
    """The finished shell, as a Made whose value is a `Shell`."""
    run, limits, thickness = flow.run, _limits(preset), preset.foam.thickness
    offset = flatten.mid_offset(preset.flatten, thickness)
    surface, plates = dome(preset, flow)
    layout, grid, cut = _cut(preset, flow, surface, plates, offset, limits)
    shares = run("marks", marks.along, cut, grid, offset, preset.marks)
    flat = run("flat pieces", flatten.build, grid, cut, preset.flatten, thickness=thickness, intervals=shares)
    corrected = run(
        "correction",
        _corrected,
        *(grid, cut, flat, shares, thickness),
        *(preset.shape, preset.flatten, preset.proof, limits.stretch_limit),
    )
    pattern = run("pattern", flatten.measured, grid, cut, run("best", attrgetter("pattern"), corrected))
    intervals = run("intervals", marks.interval_lengths, grid, cut, pattern, shares)
    built = run(
        "virtual build",
        proof.build,
        grid,
        cut,
        pattern,
        preset.proof,
        thickness=thickness,
        stretch_limit=limits.stretch_limit,
    )
    spikes, standing = _spikes(preset, flow, surface, grid, layout)
    casts = run("masters", solids.masters, surface, spikes, glue_line=preset.making.glue_line)
    masters = run("solids", _solids, casts)
    body, worn = _worn(preset, flow, grid, spikes)
    trimmed = run("rings", trims.build, surface, spikes, preset.rings)
    rings = run("strips", attrgetter("rings"), trimmed)
    cast = run("moulds", casting.build, casts, preset.making)
    edged = run("edging", edging.build, surface, preset.edging, foam=thickness)
    zones, shade = _zones(preset, flow, surface, layout, grid, spikes, masters, rings, edged)
    size = run("size of the work", _size, layout, grid, cut, spikes, rings, zones, preset.materials)
    plan = run("plan", schedule.build, size, preset.schedule)
    sheets = run("nest", _nested, cut, pattern, preset.nest, thickness)
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
    ring_stock = run("ring stock", _ring_stock, trimmed, preset.rings)
    edging_stock = run("edging stock", _edging_stock, edged, preset.edging)
    stuff = run(
        "materials",
        materials.build,
        *(layout, grid, cut, pattern, spikes, masters, rings, zones, preset.materials),
        thickness=thickness,
        shading=preset.schedule.shading,
        clay_wet=run("wet clay", attrgetter("clay.wet"), cast),
        clay_dry=run("dry clay", attrgetter("clay.dry"), cast),
    )
    hung = _hung(preset, flow, body, worn, surface, layout, grid, cut, spikes, stuff)
    painted = run("paint", _painted, zones, shade, stuff, preset.schedule.shading)
    stuff = run("materials with harness", _with_harness, stuff, hung)
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
        bevels=run("bevels", _bevels, grid, cut, pattern, preset.foam.formed),
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
            _findings,
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


def seams_of(preset: Preset, flow: Flow) -> tuple[Made, Made, Made]:
    """Layout, mesh and cut of a preset, without what follows from them."""
    surface, plates = dome(preset, flow)
    return _cut(
        preset, flow, surface, plates, flatten.mid_offset(preset.flatten, preset.foam.thickness), _limits(preset)
    )


def asked(preset: Preset, flow: Flow) -> tuple[Made, Made]:
    """The dome's surface and what the preset comes to on it. PresetError if that is more than can be done."""
    surface = flow.run("surface", _chosen, "shellgen.surfaces", preset.dome)
    return surface, flow.run("bounds", bounds.hold, preset, surface)


def dome(preset: Preset, flow: Flow) -> tuple[Made, Made]:
    """The surface and the plates on it."""
    surface, _ = asked(preset, flow)
    return surface, flow.run("plates", _chosen, "shellgen.layouts", preset.plates, surface)


def _coarse_mesh(preset: Preset, flow: Flow, surface: Made, plates: Made) -> Made:
    how = replace(preset.mesh, edge=COARSE * preset.mesh.edge)
    return flow.run("coarse mesh", mesh.build, surface, plates, how)


def _limits(preset: Preset) -> seams.Params:
    """What a piece may be like: no larger than the bed, nor than the largest sheet of this foam has room for."""
    limits, how = preset.seams.common, preset.nest
    rooms = [
        sorted(side - how.separation - how.kerf for side in stock.room(how.margin))
        for stock in how.sheets
        if stock.thickness in (None, preset.foam.thickness) and stock.count != 0
    ]
    if not rooms:
        raise FitError(f"nest.sheets names no sheet of {preset.foam.thickness:g} mm foam; allowed: at least one")
    width, length = max(rooms, key=lambda room: room[0] * room[1])
    bed = sorted((limits.sheet_length, limits.sheet_width))
    return replace(limits, sheet_length=min(bed[1], length), sheet_width=min(bed[0], width))


def _cut(
    preset: Preset, flow: Flow, surface: Made, plates: Made, offset: float, limits: seams.Params
) -> tuple[Made, Made, Made]:
    """Layout, mesh and cut by the seam plan: one that draws its own lines adds them to the plates' before meshing."""
    run, chosen = flow.run, replace(preset.seams, common=limits)
    plan = registry.load("shellgen.plans", chosen.name)
    lay_flat = partial(flatten.alone, params=preset.flatten)
    if hasattr(plan, "curves"):

        def draw(surface: Surface, net: Layout, chosen: Chosen, *_: Any) -> Any:
            ground = Ground(surface, offset, chosen.common, lay_flat)
            return overlay(surface, net, plan.curves(ground, chosen.own))

        drawn = run("seam plan", draw, surface, plates, chosen, preset.flatten, offset)
        layout = run("plates and seams", itemgetter(0), drawn)
        grid = run("mesh", mesh.build, surface, layout, preset.mesh)
        lines = run("cut lines", _with_mirror_images, drawn)
    else:

        def choose(net: Layout, grid: ShellMesh, coarse: ShellMesh, chosen: Chosen, *_: Any) -> Any:
            return plan.choose(Task(net, grid, coarse, offset, chosen.common, lay_flat), chosen.own)

        layout = plates
        grid = run("mesh", mesh.build, surface, layout, preset.mesh)
        coarse = _coarse_mesh(preset, flow, surface, plates)
        lines = run("seam plan", choose, layout, grid, coarse, chosen, preset.flatten, offset)
    return layout, grid, run("seams", seams.cut, grid, layout, lines, mid_offset=offset)


def _with_mirror_images(drawn: tuple[Layout, tuple[tuple[int, ...], ...]]) -> tuple[int, ...]:
    layout, chains = drawn
    left = {line for chain in chains for line in chain}
    return tuple(sorted(left | {layout.lines[line].mirror for line in left}))


def _chosen(package: str, chosen: Chosen, *before: Any) -> Any:
    """What a family's chosen member builds."""
    return registry.load(package, chosen.name).build(*before, chosen.own)


def _corrected(
    grid: ShellMesh, cut: Cut, flat: Pattern, shares: Any, thickness: float,
    how: shape.Params, flattening: flatten.Params, building: proof.Params, limit: float,
) -> shape.Corrected:  # fmt: skip
    return shape.correct(
        grid,
        cut,
        flat,
        how,
        thickness=thickness,
        flatten=lambda moved: flatten.build(moved, cut, flattening, thickness=thickness, intervals=shares),
        glue=lambda made, start: proof.glue(grid, cut, made, building, thickness=thickness, start=start),
        stretch_limit=limit,
    )


def _spikes(preset: Preset, flow: Flow, surface: Made, grid: Made, layout: Made) -> tuple[Made, Made]:
    """The spikes, and what is to be said of them."""
    placed = flow.run(
        "places of spikes",
        place.build,
        surface,
        grid,
        layout,
        preset.spikes,
        ring_thickness=preset.rings.thickness,
        tip_floor=preset.making.tip_floor,
        base_agreement=preset.making.base_agreement,
    )
    return flow.run("spikes", itemgetter(0), placed), flow.run("remarks on spikes", itemgetter(1), placed)


def _worn(preset: Preset, flow: Flow, grid: Made, spikes: Made) -> tuple[Made | None, Made | None]:
    """The wearer and how the dome sits on them; neither if the preset names nobody."""
    if not preset.wearer.given:
        return None, None
    body = flow.run("wearer", wearer.body, preset.wearer)
    notes = flow.run("remarks on the wearer", wearer.remarks, preset.wearer, body)
    return body, flow.run("fit", fit.build, body, grid, spikes, notes=notes)


def _hung(preset: Preset, flow: Flow, body: Made | None, worn: Made | None, *shell: Made) -> Made:
    """The harness; on a grown body of middle size where the preset names nobody."""
    assumed = body is None
    body = body or flow.run("usual wearer", wearer.body, wearer.Params())
    worn = worn or flow.run("usual fit", fit.build, body, shell[2], shell[4])
    return flow.run(
        "harness",
        wear.build,
        *(*shell, body, preset.wear),
        thickness=preset.foam.thickness,
        neck=flow.run("neck", attrgetter("neck"), worn),
        back=flow.run("back", attrgetter("back"), worn),
        assumed=assumed,
    )


def _with_harness(stuff: Materials, hung: wear.Wear) -> Materials:
    """What the shell is made of, and what it hangs on."""
    return replace(stuff, amounts=wear.together(stuff.amounts, hung.amounts))


def _bevels(grid: ShellMesh, cut: Cut, pattern: Pattern, formed: bool) -> tuple[float, ...]:
    return tuple(bevel.mean for bevel in bevels.build(grid, cut, pattern, formed=formed))


def _size(
    layout: Layout,
    grid: ShellMesh,
    cut: Cut,
    spikes: tuple[Spike, ...],
    rings: tuple[Ring, ...],
    zones: tuple[Zone, ...],
    stuff: materials.Params,
) -> schedule.Size:
    """What there is to do, in the units of the plan."""
    along = dict.fromkeys(("plate", "rim", "midline", "seam"), 0.0)
    for line, vertices in zip(layout.lines, grid.line_vertices, strict=True):
        along[line.kind] += length(grid.points[vertices]) / 1000
    joined = sum(seam.length for seam in cut.seams) / 1000
    return schedule.Size(
        pieces=len(cut.pieces),
        cut_m=2 * joined + along["rim"],
        score_m=along["plate"],
        seam_m=joined,
        spikes=len(spikes),
        masters=len({spike.master for spike in spikes}),
        ring_m=sum(ring.neutral_length for ring in rings) / 1000,
        rim_m=along["rim"],
        area_m2=float(areas(grid.points, grid.faces).sum()) / 1e6,
        primer_coats=stuff.primer_coats,
        paint_coats=max(zone.coats for zone in zones),
    )


def _zones(
    preset: Preset, flow: Flow, surface: Made, layout: Made, grid: Made, spikes: Made, masters: Made, rings: Made,
    edged: Made,
) -> tuple[Made, Made]:  # fmt: skip
    """The zones with their areas and paint, and the shade on the outer face."""
    parts = surface, layout, grid, spikes, masters, rings, preset.paint
    groove = preset.scores.width, preset.scores.depth
    zones = flow.run(
        "zones",
        paint.zoned,
        *parts,
        rim=flow.run("length of the edging", attrgetter("length"), edged),
        edging=preset.edging.width,
        groove=groove,
        thickness=preset.foam.thickness,
        coats=preset.materials.paint_coats,
        coverage=preset.materials.paint,
    )
    return zones, flow.run("shading", paint.shaded, *parts, groove=groove)


def _painted(zones: tuple[Zone, ...], shade: Shading, stuff: Materials, kind: str) -> Paint:
    shade_ml = next(a.amount for a in stuff.amounts if a.item == f"{kind} paint for shading")
    return paint.build(zones, shade, kind=kind, shade_ml=shade_ml)


def _nested(cut: Cut, pattern: Pattern, how: nest.Params, thickness: float) -> nest.Nest:
    return nest.build(nest.pieces(cut, pattern, thickness), how, thickness=thickness)


def _findings(
    checked: tuple[Finding, ...], corrected: shape.Corrected, built: Any, standing: tuple[Finding, ...], *others: Any
) -> tuple[Finding, ...]:
    """All that is to be said; `others` are results, some with findings of their own, or None."""
    brought = checks.corrected([made.rms for made in corrected.rounds], corrected.kept)
    more = (finding for other in others for finding in getattr(other, "findings", ()))
    return (*checked, *brought, *built.findings, *standing, *more)


def _solids(casts: tuple[solids.Master, ...]) -> tuple[Solid, ...]:
    return tuple(master.solid for master in casts)


def _ring_stock(trimmed: trims.Trims, how: trims.Params) -> stock.CutList:
    lengths = {ring.spike: ring.neutral_length for ring in trimmed.rings}
    return stock.cut_list(lengths, stock=how.stock, kerf=how.kerf, lost=trimmed.lost)


def _edging_stock(edged: edging.Edging, how: edging.Params) -> stock.CutList:
    return stock.cut_list({piece.name: piece.length for piece in edged.pieces}, stock=how.stock, kerf=how.kerf)
