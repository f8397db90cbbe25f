"""The plan of the work in the record."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen.model import Schedule
from shellgen.record.rounding import rounded


@dataclass(frozen=True, slots=True)
class TaskEntry:
    """One task. Its times are null if the preset has no date for the event; only the numbers of the days are then
    known."""

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


@dataclass(frozen=True, slots=True)
class WayEntry:
    """A change that would save time."""

    change: str
    gained_days: int
    enough: bool


@dataclass(frozen=True, slots=True)
class PlanEntry:
    """The whole plan. event : the day on which the shell is worn; ready : when everything is dry"""

    event: str | None
    begin: str | None
    ready: str | None
    days: int
    hands_h: float
    longest_chain_h: float
    longest_chain: tuple[str, ...]
    ways: tuple[WayEntry, ...]


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
    )
