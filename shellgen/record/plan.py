"""The plan of the work in the record."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen.model import Offer, Schedule
from shellgen.record.rounding import rounded


@dataclass(frozen=True, slots=True)
class TaskEntry:
    """One task. Its times are null if the preset has no date for the event; only the numbers of the days are then
    known. printer_h : hours for which a 3D printer then runs by itself; dry is when that has ended, too
    """

    task: str
    begin: str | None
    end: str | None
    dry: str | None
    hands_h: float
    dry_h: float
    critical: bool
    day: int
    dry_day: int
    after: tuple[str, ...]
    printer_h: float


@dataclass(frozen=True, slots=True)
class WayEntry:
    """A change that would save time. gained_days : later that work may begin, or sooner that it ends"""

    change: str
    gained_days: int
    enough: bool


@dataclass(frozen=True, slots=True)
class ConcessionEntry:
    """One change of a set. cost : in looks or money; points : how painful it is"""

    change: str
    cost: str
    points: int


@dataclass(frozen=True, slots=True)
class OfferEntry:
    """Changes that are enough together. lines : YAML that makes them at the end of the preset; points : of all"""

    changes: tuple[ConcessionEntry, ...]
    lines: str
    points: int
    begin: str
    ready: str


@dataclass(frozen=True, slots=True)
class EarliestEntry:
    """The first possible days of the event."""

    with_every_change: str
    without_changes: str


@dataclass(frozen=True, slots=True)
class PlanEntry:
    """The whole plan. event : the day on which the shell is worn; ready : when everything is dry

    prefer   : "late" or "early"; printer_h : hours of all printers; fits : whether the work is done in time
    offers   : sets of changes with which it is, if it is not; the least painful first, none contains another
    earliest : if there are none, the first day on which the event could be, with every change; without any otherwise
    """

    event: str | None
    begin: str | None
    ready: str | None
    days: int
    hands_h: float
    longest_chain_h: float
    longest_chain: tuple[str, ...]
    ways: tuple[WayEntry, ...]
    prefer: str
    printer_h: float
    fits: bool
    offers: tuple[OfferEntry, ...]
    earliest: EarliestEntry | None


@dataclass(frozen=True, slots=True)
class NoPlanEntry:
    """The preset has no hours of work."""


def schedule(plan: Schedule | None) -> tuple[TaskEntry, ...]:
    """The tasks by their start; without a date for the event, only the numbers of the days."""
    if plan is None:
        return ()
    dated = plan.event is not None
    return tuple(
        TaskEntry(
            task=job.task.name,
            begin=job.begin.isoformat(timespec="minutes") if dated else None,
            end=job.end.isoformat(timespec="minutes") if dated else None,
            dry=job.dry.isoformat(timespec="minutes") if dated else None,
            hands_h=rounded(job.task.hands_h, 2),
            dry_h=rounded(job.task.dry_h, 2),
            critical=job.task.name in plan.chain,
            day=plan.day(job.begin),
            dry_day=plan.day(job.dry),
            after=tuple(job.task.after),
            printer_h=rounded(job.task.printer_h, 2),
        )
        for job in plan.jobs
    )


def plan(of: Schedule | None) -> PlanEntry | NoPlanEntry:
    """The whole plan, and what would save time."""
    if of is None:
        return NoPlanEntry()
    dated = of.event is not None
    return PlanEntry(
        event=of.event.isoformat() if of.event else None,
        begin=of.begin.isoformat(timespec="minutes") if dated else None,
        ready=of.ready.isoformat(timespec="minutes") if dated else None,
        days=of.day(of.ready),
        hands_h=rounded(of.hands_h, 2),
        longest_chain_h=rounded(of.chain_h, 2),
        longest_chain=tuple(of.chain),
        ways=tuple(WayEntry(way.change, way.gained_days, way.enough) for way in of.ways),
        prefer=of.prefer,
        printer_h=rounded(sum(job.task.printer_h for job in of.jobs), 2),
        fits=of.fits,
        offers=tuple(map(_offer, of.offers)),
        earliest=EarliestEntry(*(day.isoformat() for day in of.earliest)) if of.earliest else None,
    )


def _offer(of: Offer) -> OfferEntry:
    changes = tuple(ConcessionEntry(one.change, one.cost, one.points) for one in of.changes)
    begin, ready = (at.isoformat(timespec="minutes") for at in (of.begin, of.ready))
    return OfferEntry(changes, of.lines, of.points, begin, ready)
