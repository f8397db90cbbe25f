"""The plan as entries of a calendar: every stretch of work, and the day it is worn."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from shellgen.canvas import Calendar, CalendarEntry
from shellgen.model import Job, Schedule


def agenda(name: str, title: str, plan: Schedule) -> Calendar | None:
    """None where the plan has no day to end on."""
    if plan.event is None:
        return None
    entries = [entry for job in plan.jobs for entry in _stretches(title, job)]
    day = plan.event
    entries.append(CalendarEntry("event", day, day + timedelta(days=1), f"{title}: the day it is worn"))
    return Calendar(name, datetime.combine(day, time()), tuple(entries))


def _stretches(title: str, job: Job) -> list[CalendarEntry]:
    count, words = len(job.spans), _words(job)
    return [
        CalendarEntry(
            f"{job.task.name}/{number}",
            *span,
            f"{title}: {job.task.name}" + (f" ({number} of {count})" if count > 1 else ""),
            words,
        )
        for number, span in enumerate(job.spans, 1)
    ]


def _words(job: Job) -> str:
    needs = f"Dry before you begin: {'; '.join(job.task.after)}. " if job.task.after else ""
    then = f"Dry by {job.dry:%A %d %B, %H:%M}. " if job.task.dry_h else ""
    return f"{needs}{then}Drying times are customary; the label of your product has the last word."
