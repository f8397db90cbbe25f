"""Stages that take their values from more than one room, each put together here and nowhere else."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from operator import attrgetter, itemgetter
from typing import Any

from shellgen import wear
from shellgen.canvas import lettering
from shellgen.core.flow import Flow, Made
from shellgen.finish import paint
from shellgen.geom.triangles import areas
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
from shellgen.pattern import bevels, checks, flatten, proof, seams, shape
from shellgen.pattern.plans._comparison import Chosen, short_lines
from shellgen.pattern.plans._comparison import findings as comparison
from shellgen.pattern.plans._graph import line_lengths
from shellgen.pattern.plans._task import Ground
from shellgen.preset import Preset
from shellgen.spikes import place, solids
from shellgen.trim import edging, rings
from shellgen.wear import wearer
from shellgen.wear.wearer import fit
from shellgen.workshop import materials, nest, schedule, stock

LEVELS = ("fault", "caution", "ok")


def corrected(
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


def spiked(preset: Preset, flow: Flow, surface: Made, layout: Made, grid: Made) -> tuple[Made, Made]:
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


def fitted(preset: Preset, flow: Flow, grid: Made, spikes: Made) -> tuple[Made | None, Made | None]:
    """The wearer as a pack may show them, and how the dome sits on them; neither if the preset names nobody."""
    if not preset.wearer.given:
        return None, None
    body = flow.run("wearer", wearer.shown, preset.wearer)
    notes = flow.run("remarks on the wearer", wearer.remarks, preset.wearer, body)
    return body, flow.run("fit", fit.build, body, grid, spikes, notes=notes)


def hung(preset: Preset, flow: Flow, body: Made | None, worn: Made | None, *shell: Made) -> Made:
    """The harness; on a body that the dome would fit where the preset names nobody."""
    assumed = body is None
    points = flow.run("outer face", attrgetter("points"), shell[2])
    body = body or flow.run("usual wearer", fit.wearer_of, replace(preset.wearer, share=False), points)
    worn = worn or flow.run("usual fit", fit.build, body, shell[2], shell[4])
    return flow.run(
        "harness",
        wear.build,
        *(*shell, body, preset.wear),
        thickness=preset.foam.thickness,
        neck=flow.run("neck", attrgetter("neck"), worn),
        back=flow.run("back", attrgetter("back"), worn),
        assumed=assumed,
        said=preset.wearer.group is not None,
    )


def with_harness(stuff: Materials, hung: wear.Wear) -> Materials:
    """What the shell is made of, and what it hangs on."""
    return replace(stuff, amounts=wear.together(stuff.amounts, hung.amounts))


def own_plan(layout: Layout, grid: ShellMesh, cut: Cut, pattern: Pattern, plan: str, neck: float) -> Chosen:
    most = max(max(flat.stretch[:, 1].max() - 1, 1 - flat.stretch[:, 0].min()) for flat in pattern.flats)
    short = short_lines(layout, line_lengths(grid, grid.offset(pattern.mid_offset)), neck)
    return Chosen(plan, sum(seam.length for seam in cut.seams), float(most), short)


def compared(
    surface: Surface, own: Chosen, limits: seams.Params, flattening: flatten.Params, offset: float
) -> tuple[Finding, ...]:
    """What is to be said of other seam plans."""
    ground = Ground(surface, offset, limits, partial(flatten.alone, params=flattening))
    return comparison(ground, own)


def bevelled(grid: ShellMesh, cut: Cut, pattern: Pattern, formed: bool) -> tuple[float, ...]:
    return tuple(bevel.mean for bevel in bevels.build(grid, cut, pattern, formed=formed))


def size_of(
    layout: Layout,
    grid: ShellMesh,
    cut: Cut,
    spikes: tuple[Spike, ...],
    rings: tuple[Ring, ...],
    zones: tuple[Zone, ...],
    stuff: materials.Params,
    *,
    shrinkage: float | None,
) -> schedule.Size:
    """What there is to do, in the units of the plan. shrinkage : of the clay, None if it is still to be measured"""
    along = materials.lengths(layout, grid)
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
        test_cube=shrinkage is None,
    )


def zoned(
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
        edging=edging.face(preset.edging),
        groove=groove,
        thickness=preset.foam.thickness,
        coats=preset.materials.paint_coats,
        coverage=preset.materials.paint,
    )
    how = preset.paint  # colours and coats leave the shade as it is
    shades = paint.Params(reach=how.reach, brush=how.brush, middle=how.middle, dark=how.dark)
    return zones, flow.run("shading", paint.shaded, *parts[:-1], shades, groove=groove)


def painted(zones: tuple[Zone, ...], shade: Shading, stuff: Materials, kind: str) -> Paint:
    shade_ml = next(a.amount for a in stuff.amounts if a.item == f"{kind} paint for shading")
    return paint.build(zones, shade, kind=kind, shade_ml=shade_ml)


def nested(cut: Cut, pattern: Pattern, how: nest.Params, thickness: float) -> nest.Nest:
    return nest.build(nest.pieces(cut, pattern, thickness), how, thickness=thickness)


def findings(
    checked: tuple[Finding, ...],
    compared: tuple[Finding, ...],
    corrected: shape.Corrected,
    built: Any,
    standing: tuple[Finding, ...],
    *others: Any,
    unset: tuple[Finding, ...] = (),
) -> tuple[Finding, ...]:
    """All that is to be said, what may hurt and what is wrong first; `others` are results, some with findings of their
    own, or None. What the virtual build or the nesting finds wrong is not said again of the flat pieces."""
    brought = checks.corrected([made.rms for made in corrected.rounds], corrected.kept)
    more = (finding for other in others for finding in getattr(other, "findings", ()))
    later = (*compared, *brought, *built.findings, *standing, *more, *unset)
    faults = {finding.stage for finding in later if finding.level == "fault"}
    once = (finding for finding in checked if finding.stage not in faults)
    return tuple(sorted((*once, *later), key=lambda finding: (LEVELS.index(finding.level), not finding.safety)))


def unset(preset: Preset) -> tuple[Finding, ...]:
    """A word where a title cannot be set on paper."""
    missing = lettering.unset(" ".join(filter(None, (preset.title, preset.share.about, preset.share.by))))
    if not missing:
        return ()
    text = (
        f"The sheets have no letters for {' '.join(missing)} in the title or under share: they print as boxes. Pages "
        "in the browser show them. Write it in Latin, Greek, Cyrillic, Armenian or Georgian letters for paper."
    )
    return (Finding("caution", "title", text),)


def solids_of(casts: tuple[solids.Master, ...]) -> tuple[Solid, ...]:
    return tuple(master.solid for master in casts)


def ring_stock(trimmed: rings.Trims, how: rings.Params) -> stock.CutList:
    lengths = {ring.spike: ring.neutral_length for ring in trimmed.rings}
    return stock.cut_list(lengths, stock=how.stock, kerf=how.kerf, lost=trimmed.lost)


def edging_stock(edged: edging.Edging, how: edging.Params) -> stock.CutList:
    return stock.cut_list({piece.name: piece.length for piece in edged.pieces}, stock=how.stock, kerf=how.kerf)
