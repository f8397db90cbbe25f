"""The main figures of a shell, from its record."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shellgen.record import Record


@dataclass(frozen=True, slots=True)
class Fact:
    """`value` in the unit of `form`, such as "{:.1f} %"; `note` is a remark."""

    name: str
    value: float
    form: str
    note: str = ""

    @property
    def text(self) -> str:
        return self.form.format(self.value)


def size(record: Record) -> str:
    """Length, width and height of the finished shell."""
    return " × ".join(f"{side:.0f}" for side in record.dome.size_mm) + " mm"


def facts(record: Record) -> Iterator[Fact]:
    """What a maker wants to know first."""
    pieces, spikes = record.pieces, record.spikes
    yield Fact("Pieces", len(pieces), "{:.0f}")
    worst = max(pieces, key=lambda piece: piece.stretch_max)
    yield Fact("Largest stretch", 100 * worst.stretch_max, "{:.1f} %", f"in {worst.id}")
    yield Fact("Seams", sum(max(seam.length_mm) for seam in record.seams) / 1000, "{:.1f} m")
    yield Fact("Foam sheets", len(record.sheets), "{:.0f}")
    sizes = len({spike.master for spike in spikes})
    masters = "1 master" if sizes == 1 else f"{sizes} masters"
    yield Fact("Spikes", len(spikes), "{:.0f}", f"from {masters}" if spikes else "")
    yield Fact("Ring strip", sum(spike.ring_length_mm or 0 for spike in spikes) / 1000, "{:.2f} m")
    yield Fact("Rim", record.dome.rim_length_mm / 1000, "{:.2f} m")
    yield Fact("Mass", record.mass_g / 1000, "{:.2f} kg")


def changes(before: Record, after: Record) -> list[str]:
    """What has changed, in words."""
    lines = [] if size(before) == size(after) else [f"Size {size(before)} → {size(after)}"]
    for was, fact in zip(facts(before), facts(after), strict=True):
        if was.text != fact.text:
            lines.append(f"{fact.name} {was.text} → {fact.text}")
    return lines
