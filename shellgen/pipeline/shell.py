"""The finished shell: what every stage made of one preset."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen.core.flow import Flow
from shellgen.model import Finding, Paint, Proof
from shellgen.pattern import flatmap
from shellgen.pipeline import findings, finish, foam, plans, remedies, wear, workshop
from shellgen.pipeline import spikes as standing
from shellgen.pipeline.dome import Ground, ground
from shellgen.pipeline.foam import Foam
from shellgen.pipeline.spikes import Top, Trim
from shellgen.pipeline.wear import Worn
from shellgen.pipeline.workshop import Work
from shellgen.preset import Preset


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Shell:
    """Everything computed for one preset, in the groups that those who draw and write ask for."""

    name: str
    ground: Ground
    foam: Foam
    proof: Proof
    top: Top
    trim: Trim
    paint: Paint
    work: Work
    worn: Worn
    findings: tuple[Finding, ...]


def shell_of(preset: Preset, flow: Flow) -> Shell:
    """The finished shell."""
    with plans.naming_another(preset, flow):
        on = ground(preset, flow)
    top = standing.standing(preset, flow, on)
    trim = standing.trimmed(preset, flow, on.surface, top.spikes)
    zones, shade = finish.zones(preset, flow, on, top, trim), finish.shade(preset, flow, on, top, trim)
    with plans.naming_another(preset, flow):
        tried = foam.foam(preset, flow, on)
        compared = plans.compared(preset, flow, on, tried)
        flat = tried.foam
        nested = workshop.nested(preset, flow, flat)
    fitted = wear.fitted(preset, flow, on, top.spikes)
    stuff = workshop.stuff(preset, flow, on, flat, top, trim, zones)
    hung = wear.hung(preset, flow, on, flat.cut, top.spikes, stuff, fitted)
    paint = finish.painted(preset, flow, zones, shade, stuff)
    made = workshop.with_harness(stuff, hung)
    checked, corrected = foam.checked(preset, flow, on, tried), foam.correction(tried)
    proof = foam.proved(preset, flow, on, tried)
    deviations = remedies.deviations(preset, flow, proof)
    cast = standing.cast(preset, flow, top)
    plan = workshop.plan(preset, flow, on, flat.cut, top, trim.rings.rings, zones, hung)
    worn = wear.worn(preset, fitted, hung)
    seats = flow.run(flatmap.seats, on.mesh, flat.cut, flat.pattern, top.spikes)
    under = standing.stood_over(preset, flow, on, flat.cut, top.spikes)
    remedied = (*compared.result(), *deviations.result())
    results = (proof, top, under, on.surface, cast, trim.rings, trim.edging, nested, plan, worn.fit, hung, paint)
    return Shell(
        name=preset.name or "shell",
        ground=on,
        foam=flat,
        proof=proof,
        top=Top(spikes=top.spikes, casts=top.casts, casting=cast, seats=seats, beneath=under),
        trim=trim,
        paint=paint,
        work=workshop.Work(made, nested, plan, workshop.bought(preset, flow, made, nested, trim, cast)),
        worn=worn,
        findings=findings.ordered(checked, remedied, corrected, *results, stated=findings.stated(preset)),
    )
