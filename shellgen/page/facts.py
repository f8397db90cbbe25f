"""The main figures of a shell, from its record."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shellgen.canvas.rule import Rule
from shellgen.record import Record


@dataclass(frozen=True, slots=True)
class Fact:
    """`note` is a remark."""

    name: str
    text: str
    note: str = ""


def size(record: Record, rule: Rule) -> str:
    """Length, width and height of the finished shell."""
    return rule.size(record.dome.size_mm)


def facts(record: Record, rule: Rule) -> Iterator[Fact]:
    """What a maker wants to know first."""
    pieces, spikes = record.pieces, record.spikes
    yield Fact("Pieces", str(len(pieces)))
    worst = max(pieces, key=lambda piece: piece.stretch_max)
    yield Fact("Largest stretch", f"{100 * worst.stretch_max:.1f} %", f"in {worst.id}")
    yield Fact("Seams", rule.metres(sum(max(seam.length_mm) for seam in record.seams)))
    yield Fact("Foam sheets", str(len(record.sheets)))
    sizes = len({spike.master for spike in spikes})
    masters = "1 master" if sizes == 1 else f"{sizes} masters"
    yield Fact("Spikes", str(len(spikes)), f"from {masters}" if spikes else "")
    yield Fact("Ring strip", rule.metres(sum(spike.ring_length_mm or 0 for spike in spikes)))
    yield Fact("Rim", rule.metres(record.dome.rim_length_mm))
    yield Fact("Mass", rule.both(f"{record.mass_g / 1000:.2f} kg"))


def changes(before: Record, after: Record, rule: Rule) -> list[str]:
    """What has changed, in words."""
    sizes = size(before, rule), size(after, rule)
    lines = [] if sizes[0] == sizes[1] else [f"Size {sizes[0]} → {sizes[1]}"]
    for was, fact in zip(facts(before, rule), facts(after, rule), strict=True):
        if was.text != fact.text:
            lines.append(f"{fact.name} {was.text} → {fact.text}")
    return lines
