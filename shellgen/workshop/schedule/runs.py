"""Which parts are printed together, and for how long the printer then runs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from shellgen.workshop.schedule.amounts import Params, ToPrint, WorkAmounts

GAP = 5.0
"""mm between two parts on the bed (chosen: room for their brims)."""
START = 1 / 6
"""Hours at the printer for each run, to start it and to empty the bed (common practice, no source)."""
DAY = 24.0


@dataclass(slots=True)
class _Bed:
    """A run as it fills: hours, and shelves across the bed, each (lower edge, depth, used width)."""

    hours: float = 0.0
    shelves: list[tuple[float, float, float]] = field(default_factory=list)

    def take(self, hours: float, size: tuple[float, float], bed: tuple[float, float], most: float) -> bool:
        """Adds a part if there is time and room for it; parts come by falling depth. An empty bed takes any part."""
        across, along = size[0] + GAP, size[1] + GAP
        if self.shelves and self.hours + hours > most:
            return False
        for k, (low, depth, used) in enumerate(self.shelves):
            if used + across <= bed[0] + GAP and along <= depth:
                self.shelves[k] = (low, depth, used + across)
                self.hours += hours
                return True
        top = self.shelves[-1][0] + self.shelves[-1][1] if self.shelves else 0.0
        if self.shelves and (top + along > bed[1] + GAP or across > bed[0] + GAP):
            return False
        self.shelves.append((top, along, across))
        self.hours += hours
        return True


def parts(size: WorkAmounts) -> tuple[ToPrint, ...]:
    """The parts that are printed: every spike, or a master of each size and the moulds, or none."""
    if not size.spikes or size.way == "bought":
        return ()
    if size.way == "printed":
        return tuple(part for part in size.prints if not part.mould for _ in range(part.copies))
    return tuple(part for part in size.prints if size.moulds or not part.mould)


def runs(size: WorkAmounts, params: Params) -> tuple[tuple[float, ...], ...]:
    """Hours of each run, printer by printer, longest work first.

    Parts share a bed while they fit on it and the run fits into the hours of a day in which the printer may run. A part
    that takes longer is a run of its own. First fit by falling depth, on shelves; then the longest run to the printer
    with least to do (Graham, Bounds on multiprocessing timing anomalies, SIAM J. Appl. Math. 17, 1969).
    """
    listed = [(part.hours(size.infill, size.flow), _lying(part, size.bed)) for part in parts(size)]
    if not listed:
        return ()
    least = sum(hours for hours, _ in listed) / params.printers
    most = min(DAY if params.printer_hours >= DAY else params.printer_hours - START, max(least, listed[0][0]))
    beds: list[_Bed] = []
    for hours, part in sorted(listed, key=lambda one: (-one[1][1], -one[0])):
        if not any(bed.take(hours, part, size.bed, most) for bed in beds):
            beds.append(_Bed())
            beds[-1].take(hours, part, size.bed, most)
    return _shared(sorted((bed.hours for bed in beds), reverse=True), params.printers)


def _lying(part: ToPrint, bed: tuple[float, float]) -> tuple[float, float]:
    """Its longer side across the bed, if it fits so: shelves then are low."""
    short, long = sorted((part.across, part.along))
    return (long, short) if long <= bed[0] else (short, long)


def _shared(hours: Sequence[float], printers: int) -> tuple[tuple[float, ...], ...]:
    work: list[list[float]] = [[] for _ in range(printers)]
    for run in hours:
        min(work, key=sum).append(run)
    return tuple(tuple(own) for own in work if own)
