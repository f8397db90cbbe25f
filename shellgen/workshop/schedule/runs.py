"""Which parts are printed together, and for how long the printer then runs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shellgen.workshop.schedule.amounts import Params, ToPrint, WorkAmounts

GAP = 5.0
"""mm between two parts on the bed (chosen: room for their brims)."""
START = 1 / 6
"""Hours at the printer for each run, to start it and to empty the bed (common practice, no source)."""
DAY = 24.0


Shelf = tuple[float, float, float]
"""Lower edge, depth and used width, mm."""


@dataclass(frozen=True, slots=True)
class _Bed:
    """A run as it fills: its hours, and shelves across the bed."""

    hours: float = 0.0
    shelves: tuple[Shelf, ...] = ()

    def filled(self, hours: float, size: tuple[float, float], bed: tuple[float, float], most: float) -> _Bed | None:
        """With one part more; None if there is no time or room for it. An empty bed takes any part.

        Parts come by falling depth.
        """
        across, along = size[0] + GAP, size[1] + GAP
        if not self.shelves:
            return _Bed(hours, ((0.0, along, across),))
        if self.hours + hours > most:
            return None
        for k, (low, depth, used) in enumerate(self.shelves):
            if used + across <= bed[0] + GAP and along <= depth:
                longer = (low, depth, used + across)
                return _Bed(self.hours + hours, (*self.shelves[:k], longer, *self.shelves[k + 1 :]))
        top = self.shelves[-1][0] + self.shelves[-1][1]
        if top + along > bed[1] + GAP or across > bed[0] + GAP:
            return None
        return _Bed(self.hours + hours, (*self.shelves, (top, along, across)))


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
        for k, bed in enumerate([*beds, _Bed()]):
            if fuller := bed.filled(hours, part, size.bed, most):
                beds[k : k + 1] = [fuller]
                break
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
