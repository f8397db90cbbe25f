"""The closing words of a build: what the pack holds in a dozen lines, cautions first among what follows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from shellgen import wear
from shellgen.cli import terminal
from shellgen.model.said import count
from shellgen.record import tables

SECTIONS = (
    *("name", "foam_thickness_mm", "dome", "plates", "pieces", "proof", "seams", "spikes", "prints", "clay_cm3"),
    *("ring_stock", "edging", "edging_stock", "materials", "cost", "mass_g", "mass_uncertainty_g", "mass_parts_g"),
    *("centre_of_mass_mm", "sheets", "sheets_at_least", "sheets_cost", "schedule", "plan", "joins", "tape", "heat"),
    *("paint", "wearer", "wear", "findings"),
)
"""The keys of a record, known before it is made."""

LEVELS = {"fault": "FAULT", "caution": "Caution"}


def text(record: Mapping[str, Any], folder: Path) -> str:
    """The summary of a pack's record, for a person at a terminal."""
    faults, cautions = (said(record["findings"], level) for level in LEVELS)
    warning = f", with {count(len(faults), 'fault')}. Mend what is wrong before you cut anything:" if faults else ""
    words = [f"{record['name']} is in {folder}{warning}", *faults, terminal.pairs(_figures(record)), *cautions]
    words += [f"Left out: {what}" for what in record["left_out"]]
    return "\n".join(words)


def checked(findings: Sequence[Mapping[str, Any]], path: Path) -> str:
    """What the checks found in the preset at `path`, faults first, and how many of each there are."""
    faults, cautions = (said(findings, level) for level in LEVELS)
    some = ", ".join(count(len(of), word) for of, word in ((faults, "fault"), (cautions, "caution")) if of)
    return "\n".join([*faults, *cautions, f"{path} has {some}." if some else f"{path} is good."])


def said(findings: Sequence[Mapping[str, Any]], level: str) -> list[str]:
    """Lines for the findings of one level."""
    return [f"{LEVELS[level]}: {of['text'][:1].upper()}{of['text'][1:]}" for of in findings if of["level"] == level]


def _figures(record: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    dome, pieces, seams, spikes = (record[name] for name in ("dome", "pieces", "seams", "spikes"))
    yield "size", " x ".join(f"{dome[f'{side}_mm']:.0f}" for side in ("length", "width", "height")) + " mm"
    if scan := dome["scan"]:
        off = f"{scan['noise_mm']:.1f} mm of noise and {scan['asymmetry_mm']:.1f} mm of lopsidedness taken off"
        yield "scan", f"{100 * scan['holes']:.1f} % filled in, {off}"
    if record["wearer"]:
        yield "on the wearer", "fits" if record["wearer"]["fits"] else "does not fit, see below"
    yield "plates", str(len(record["plates"]))
    yield "pieces", str(len(pieces))
    stretch = max(pieces, key=lambda piece: piece["stretch_max"])
    yield "largest stretch", f"{100 * stretch['stretch_max']:.1f} % in {stretch['id']}"
    yield (
        "seams",
        f"{len(seams)}, {sum(max(seam['length_mm']) for seam in seams) / 1000:.1f} m in all when flat",
    )
    glued, formed = (record["proof"][f"{state}distance_rms_mm"] for state in ("", "formed_"))
    yield "strays from dome", f"{glued:.1f} mm as glued, {formed:.1f} mm once formed (root mean square)"
    yield "foam sheets", str(len(record["sheets"]))
    sizes = len({spike["stl"] for spike in spikes})
    yield "spikes", f"{len(spikes)} from {sizes} {'master' if sizes == 1 else 'masters'}" if spikes else "none"
    yield "ring strip", f"{sum(spike['ring_length_mm'] or 0 for spike in spikes) / 1000:.2f} m"
    yield "rim", f"{dome['rim_length_mm'] / 1000:.2f} m"
    yield "mass", f"{record['mass_g'] / 1000:.2f} kg"


def harness(record: Mapping[str, Any]) -> str:
    """Anchors, straps, pulls and pressures, and what is said of them."""
    parts = [f"{table.name}\n{terminal.table(table)}" for table in wear.tables(record["wear"])]
    return "\n\n".join([*parts, *(f["text"] for f in record["findings"] if f["stage"] == "wear")])


def plan(record: Mapping[str, Any]) -> str:
    """What is to be done when, and what would save time."""
    of = record["plan"]
    if not of:
        return "There is no plan: give hours under schedule: weekday_hours or weekend_hours."
    whole = f"{of['hands_h']:.1f} hours of work in {of['days']} days"
    span = f", {of['begin'][:10]} to {of['ready'][:10]}, worn on {of['event']}" if of["event"] else ""
    ways = [(w["change"], f"begin {w['gained_days']} d later") for w in of["ways"]]
    parts = [whole + span, terminal.table(tables.plan(record))]
    parts += [f["text"] for f in record["findings"] if f["stage"] == "plan"]
    parts += [f"What would save time:\n{terminal.pairs(ways)}"] if ways else []
    return "\n\n".join(parts)
