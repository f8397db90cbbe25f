"""When to do what: tasks with time at the bench, at the printer and to dry, from the start to the day of the event.

Tasks are in `tasks`, their places in the calendar in `diary`, and what helps if there is too little time in `rescue`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from shellgen.errors import PresetError
from shellgen.model import Finding, Offer, Saving, Schedule
from shellgen.model.said import together
from shellgen.workshop.schedule import changes, rescue
from shellgen.workshop.schedule.amounts import Params, ToPrint, WorkAmounts
from shellgen.workshop.schedule.diary import backward, forward
from shellgen.workshop.schedule.rescue import SOME_DAY, Laid, laid
from shellgen.workshop.schedule.tasks import CUBE, HANG, MASKS, SEAL, SEW, TRIAL, TRY, VARNISH, ZONE, critical, tasks

__all__ = [
    "CUBE", "HANG", "MASKS", "SEAL", "SEW", "SOME_DAY", "TRIAL", "TRY", "VARNISH", "ZONE", "Params", "ToPrint",
    "WorkAmounts", "backward", "build", "critical", "forward", "tasks",
]  # fmt: skip


def build(size: WorkAmounts, params: Params) -> Schedule | None:
    """The plan; without an event for SOME_DAY, so that its days tell how far they lie apart.

    None without an event and without a free hour in the week. PresetError with an event and no free hour, and where
    there is no start from which to work early.
    """
    if not (params.weekday_hours or params.weekend):
        if params.event is None:
            return None
        remedy = "Give some hours here or in weekend_hours."
        raise PresetError("schedule.weekday_hours", "The week has no free hour.", remedy)
    if params.prefer == "early" and params.start is None and params.event is not None:
        remedy = "Write start, the first day there is time, or prefer: late."
        raise PresetError("schedule.prefer", "To work early, the plan needs a first day.", remedy)
    of = laid(size, params)
    chain, hours = critical(of.listed)
    late = params.event is not None and params.start is not None and params.start > params.event
    offers = () if of.fits or late else rescue.offers(size, params)
    earliest = None if of.fits or late or offers else _earliest(size, params)
    return Schedule(
        of.jobs, chain, hours, sum(task.hands_h for task in of.listed), of.begin,
        _findings(params, of, offers, earliest), params.event, of.ready, _ways(size, params, of), params.prefer,
        of.fits, offers, earliest,
    )  # fmt: skip


def _earliest(size: WorkAmounts, params: Params) -> tuple[date, date] | None:
    """The first possible day with every change, and without any."""
    new = changes.made(size, params, rescue.everything(changes.catalogue(size, params)))
    days = rescue.earliest(*new), rescue.earliest(size, params)
    return (days[0], days[1]) if days[0] and days[1] else None


def _findings(
    params: Params, of: Laid, offers: Sequence[Offer], earliest: tuple[date, date] | None
) -> tuple[Finding, ...]:
    if params.event is None:
        return ()
    day = _date(params.event)
    if params.start is not None and params.start > params.event:
        text = f"The start, {_date(params.start)}, is after the event, {day}: change one of them"
        return (Finding("fault", "plan", f"{text} (schedule: start, event)."),)
    early = params.prefer == "early"
    if of.fits:
        text = f"Begin on {_date(of.begin)}: all is ready on {_date(of.ready)}, for {day}"
        return (Finding("ok", "plan", f"{text if early else f'Begin by {_date(of.begin)} to be ready for {day}'}."),)
    first = f"Begin by {_date(of.begin)} to be ready for {day}. That is before your start, {_date(params.start or day)}"
    ready = f"If you begin on {_date(of.begin)}, all is ready on {_date(of.ready)}. That is too late for {day}"
    return (Finding("fault", "plan", f"{ready if early else first}. {_help(offers, earliest)}"),)


def _help(offers: Sequence[Offer], earliest: tuple[date, date] | None) -> str:
    if offers:
        sets = "; or ".join(together(change.change for change in offer.changes) for offer in offers)
        return f"Each of these is enough: {sets}. The plan shows the lines to paste and what each costs."
    if earliest is None:
        return "No change makes it possible within a year. Give more hours, or choose a smaller shell."
    least, plain = map(_date, earliest)
    days = f"With every change together, the earliest possible day is {least}; without any it is {plain}"
    return f"No change makes it possible. {days}. Choose a later day or a smaller shell."


def _date(day: date | str) -> str:
    return day if isinstance(day, str) else f"{day:%A} {day.day} {day:%B %Y}"


def _ways(size: WorkAmounts, params: Params, of: Laid) -> tuple[Saving, ...]:
    """Every single change that gains a day or more, the plan computed again for each."""
    ways = []
    for one in changes.catalogue(size, params):
        new_size, times = changes.made(size, params, (one,))
        if times.prefer != params.prefer:
            continue  # it moves the work, and saves none
        new = laid(new_size, times)
        gained = (
            of.ready.date() - new.ready.date() if params.prefer == "early" else new.begin.date() - of.begin.date()
        ).days
        if gained > 0:
            ways.append(Saving(one.words, gained, new.fits))
    return tuple(ways)
