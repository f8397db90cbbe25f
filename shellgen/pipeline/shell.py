"""The finished shell: what every stage made of one preset."""

from __future__ import annotations

from dataclasses import dataclass

from numpy.typing import NDArray

from shellgen.core.flow import Flow
from shellgen.model import (
    Body,
    Cut,
    Finding,
    Layout,
    Mark,
    Materials,
    Paint,
    Pattern,
    Proof,
    Ring,
    Schedule,
    ShellMesh,
    Solid,
    Spike,
    Surface,
)
from shellgen.pattern import flatmap
from shellgen.pipeline import findings, finish, foam, wear, workshop
from shellgen.pipeline import spikes as standing
from shellgen.pipeline.dome import ground
from shellgen.preset import Preset
from shellgen.spikes.casting import Casting
from shellgen.spikes.solids import Master
from shellgen.trim.edging import Edging
from shellgen.trim.rings import Trims
from shellgen.wear import Wear
from shellgen.wear.wearer.fit import Fit
from shellgen.workshop.buying import Buying
from shellgen.workshop.nest import Nest
from shellgen.workshop.stock import CutList


@dataclass(frozen=True, slots=True, eq=False)
class Shell:
    """Everything computed for one preset, for those who draw it.

    thickness    : of the foam
    intervals    : per seam, (2, gaps) mm, as `marks.interval_lengths`
    bevels       : per seam, radians, half the angle between the neighbours as glued
    seats        : per piece, (spike name, closed flat outline or open part of one) where spikes stand
    """

    name: str
    surface: Surface
    layout: Layout
    mesh: ShellMesh
    cut: Cut
    pattern: Pattern
    thickness: float
    marks: tuple[Mark, ...]
    intervals: tuple[NDArray, ...]
    bevels: tuple[float, ...]
    spikes: tuple[Spike, ...]
    masters: tuple[Solid, ...]
    casts: tuple[Master, ...]
    casting: Casting
    rings: tuple[Ring, ...]
    trims: Trims
    ring_stock: CutList
    edging: Edging
    edging_stock: CutList
    proof: Proof
    materials: Materials
    nest: Nest
    plan: Schedule | None
    seats: tuple[tuple[tuple[str, NDArray], ...], ...]
    findings: tuple[Finding, ...]
    buying: Buying
    body: Body | None
    fit: Fit | None
    measures_shared: bool
    wear: Wear
    paint: Paint


def shell_of(preset: Preset, flow: Flow) -> Shell:
    """The finished shell."""
    on = ground(preset, flow)
    top = standing.standing(preset, flow, on)
    trim = standing.trimmed(preset, flow, on.surface, top.spikes)
    zones, shade = finish.zones(preset, flow, on, top, trim), finish.shade(preset, flow, on, top, trim)
    flat = foam.foam(preset, flow, on)
    compared = foam.compared(preset, flow, on, flat)
    cut = flat.cut
    nested = workshop.nested(preset, flow, flat)
    worn = wear.fitted(preset, flow, on, top.spikes)
    plan = workshop.plan(preset, flow, on, cut, top, trim.rings.rings, zones)
    stuff = workshop.stuff(preset, flow, on, flat, top, trim, zones)
    hung = wear.hung(preset, flow, on, cut, top.spikes, stuff, worn)
    paint = finish.painted(preset, flow, zones, shade, stuff)
    made = workshop.with_harness(stuff, hung)
    checked, corrected = foam.checked(preset, flow, on, flat), foam.correction(flat)
    proof = foam.proved(preset, flow, on, flat)
    cast = standing.cast(preset, flow, top)
    fit = worn.fit if worn.named else None
    return Shell(
        name=preset.name or "shell",
        surface=on.surface,
        layout=on.layout,
        mesh=on.mesh,
        cut=cut,
        pattern=flat.pattern,
        thickness=preset.foam.thickness,
        marks=flat.marks,
        intervals=flat.intervals,
        bevels=flat.bevels,
        spikes=top.spikes,
        masters=top.masters,
        casts=top.casts,
        casting=cast,
        rings=trim.rings.rings,
        trims=trim.rings,
        ring_stock=trim.ring_stock,
        edging=trim.edging,
        edging_stock=trim.edging_stock,
        proof=proof,
        materials=made,
        nest=nested,
        plan=plan,
        seats=flow.run(flatmap.seats, on.mesh, cut, flat.pattern, top.spikes),
        findings=findings.ordered(
            checked,
            compared.result(),
            corrected,
            proof,
            top,
            on.surface,
            cast,
            trim.rings,
            trim.edging,
            nested,
            plan,
            fit,
            hung,
            paint,
            unset=findings.unset(preset),
        ),
        buying=workshop.bought(preset, flow, made, nested, trim, cast),
        body=worn.body if worn.named else None,
        fit=fit,
        measures_shared=preset.wearer.share,
        wear=hung,
        paint=paint,
    )
