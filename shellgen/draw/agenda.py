"""The plan as entries of a calendar: every period of work, and the day of the event."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from shellgen.canvas import Calendar, CalendarEntry
from shellgen.model import Job, Schedule


def agenda(name: str, title: str, plan: Schedule) -> Calendar | None:
    """None if the plan has no date."""
    if plan.event is None:
        return None
    entries = [entry for job in plan.jobs for entry in _entries(title, job)]
    day = plan.event
    entries.append(CalendarEntry("event", day, day + timedelta(days=1), f"{title}: day of the event"))
    return Calendar(name, datetime.combine(day, time()), tuple(entries))


def _entries(title: str, job: Job) -> list[CalendarEntry]:
    count, words = len(job.spans), _description(job)
    return [
        CalendarEntry(
            f"{job.task.name}/{number}",
            *span,
            f"{title}: {job.task.name}" + (f" ({number} of {count})" if count > 1 else ""),
            words,
        )
        for number, span in enumerate(job.spans, 1)
    ]


def _description(job: Job) -> str:
    run = f"The printer then runs by itself until {job.dry:%A %d %B, %H:%M}. " if job.task.printer_h else ""
    if run:
        return f"{_needs(job)}{run}Stay within reach of the first layer, and follow the printer's own rules for safety."
    then = f"It is dry by {job.dry:%A %d %B, %H:%M}. " if job.task.dry_h else ""
    return f"{_needs(job)}{then}Drying times are typical values; the label of your product comes first."


def _needs(job: Job) -> str:
    return f"These must be done and dry before you begin: {'; '.join(job.task.after)}. " if job.task.after else ""
