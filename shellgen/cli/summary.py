"""The summary at the end of a build: faults, a dozen figures of the pack, cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from shellgen.canvas import Table
from shellgen.canvas.rule import Rule
from shellgen.cli import terminal
from shellgen.model.said import count, together
from shellgen.record import Record, tables, wear
from shellgen.record.findings import FindingEntry
from shellgen.record.plan import NoPlanEntry, PlanEntry

LEVELS = {"fault": "FAULT", "caution": "Caution"}


def text(record: Record, folder: Path, rule: Rule) -> str:
    """The summary of a pack's record, for a person at a terminal."""
    faults, cautions = (said(record.findings, level, rule) for level in LEVELS)
    warning = f", with {count(len(faults), 'fault')}. Correct this before you cut anything:" if faults else ""
    words = [f"{record.name} is in {folder}{warning}", *faults, terminal.pairs(_figures(record, rule)), *cautions]
    words += in_time(record.plan)
    words += [f"Left out: {what}" for what in record.left_out or ()]
    return "\n".join(words)


def checked(record: Record, path: Path, rule: Rule) -> str:
    """Findings for the preset at `path`, faults first, what would get the work done in time, and their number."""
    findings = record.findings
    faults, cautions = (said(findings, level, rule) for level in LEVELS)
    some = ", ".join(count(len(of), word) for of, word in ((faults, "fault"), (cautions, "caution")) if of)
    last = f"{path} has {some}." if some else f"{path} has no faults or cautions."
    return "\n".join([*faults, *cautions, *in_time(record.plan), last])


def preset(figures: Table, rule: Rule) -> str:
    """Every figure of a preset."""
    rows = tuple(tuple(rule.both(str(cell)) for cell in row) for row in figures.rows)
    return terminal.table(replace(figures, rows=rows))


def in_time(of: PlanEntry | NoPlanEntry) -> list[str]:
    """Sets of changes with which the work is done before the event, with their lines; none if they are not needed."""
    if isinstance(of, NoPlanEntry) or not of.offers:
        return []
    words = ["To be ready in time, paste one of these at the end of the preset:"]
    for number, offer in enumerate(of.offers, 1):
        words += ["", f"{number}. {together(one.change for one in offer.changes)}"]
        words += [f"   {one.change}: {one.cost}" for one in offer.changes]
        words += [f"     {line}" for line in offer.lines.splitlines()]
    return [*words, ""]


def said(findings: Sequence[FindingEntry], level: str, rule: Rule) -> list[str]:
    """Lines for the findings of one level."""
    return [f"{LEVELS[level]}: {rule.both(of.sentence)}" for of in findings if of.level == level]


def _figures(record: Record, rule: Rule) -> Iterator[tuple[str, str]]:
    dome, pieces, seams, spikes = record.dome, record.pieces, record.seams, record.spikes
    yield "size", rule.size(dome.size_mm).replace("×", "x")  # as any terminal shows it
    if scan := dome.scan:
        off = f"{scan.noise_mm:.1f} mm of noise and {scan.asymmetry_mm:.1f} mm of asymmetry removed"
        yield "scan", rule.both(f"{100 * scan.holes:.1f} % of holes filled, {off}")
    if record.wearer:
        yield "on the wearer", "fits" if record.wearer.fits else "does not fit, see below"
    yield "plates", str(len(record.plates))
    yield "pieces", str(len(pieces))
    stretch = max(pieces, key=lambda piece: piece.stretch_max)
    yield "largest stretch", f"{100 * stretch.stretch_max:.1f} % in {stretch.id}"
    yield (
        "seams",
        f"{len(seams)}, {rule.metres(sum(max(seam.length_mm) for seam in seams))} in all when flat",
    )
    glued, formed = record.proof.distance_rms_mm, record.proof.formed_distance_rms_mm
    off = f"{glued:.1f} mm as glued, {formed:.1f} mm when formed (root mean square)"
    yield "deviates from the dome", rule.both(off)
    yield "foam sheets", str(len(record.sheets))
    sizes = len({spike.stl for spike in spikes})
    yield "spikes", f"{len(spikes)} from {sizes} {'master' if sizes == 1 else 'masters'}" if spikes else "none"
    yield "ring strip", rule.metres(sum(spike.ring_length_mm or 0 for spike in spikes))
    yield "rim", rule.metres(dome.rim_length_mm)
    yield "mass", rule.both(f"{record.mass_g / 1000:.2f} kg")


def harness(record: Record, rule: Rule) -> str:
    """Anchors, straps, pulls and pressures, and the findings about them."""
    parts = [f"{table.name}\n{terminal.table(table)}" for table in wear.tables(record.wear)]
    return "\n\n".join([*parts, *(rule.both(f.text) for f in record.findings if f.stage == "wear")])


def plan(record: Record) -> str:
    """The tasks with their days, and what would save time."""
    of = record.plan
    if isinstance(of, NoPlanEntry):
        return "There is no plan. Set weekday_hours or weekend_hours under schedule."
    printer = f" and {of.printer_h:.1f} hours of printing" if of.printer_h else ""
    whole = f"{of.hands_h:.1f} hours of work{printer} in {count(of.days, 'day')}"
    span = f", {of.begin[:10]} to {of.ready[:10]}, worn on {of.event}" if of.begin and of.ready else ""
    gain = "ready {} sooner" if of.prefer == "early" else "start {} later"
    ways = [(w.change, gain.format(count(w.gained_days, "day"))) for w in of.ways]
    parts = [whole + span, terminal.table(tables.plan(record))]
    parts += [f.text for f in record.findings if f.stage == "plan"]
    parts += ["\n".join(in_time(of)).strip()] if of.offers else []
    parts += [f"What would save time:\n{terminal.pairs(ways)}"] if ways else []
    return "\n\n".join(parts)
