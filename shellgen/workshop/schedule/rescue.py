"""A day that cannot be moved: the least painful sets of changes with which the work is done before it.

References
----------
The sets are taken in the order of their points, as uniform-cost search does: Russell & Norvig, Artificial Intelligence.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from itertools import groupby

from shellgen.model import Concession, Job, Offer, Task
from shellgen.workshop.schedule import changes as change
from shellgen.workshop.schedule.amounts import Params, WorkAmounts
from shellgen.workshop.schedule.changes import Change
from shellgen.workshop.schedule.diary import backward, forward, last_moment
from shellgen.workshop.schedule.tasks import critical, tasks

SOME_DAY = date(2000, 1, 1)
"""A Saturday: a schedule without a day is computed backwards from it (chosen: most shows and parades fall on one)."""

MOST_OFFERS = 3
MOST_PLANS = 1500
"""Plans computed in the search, a millisecond each (chosen: few searches need 500). After them all changes are thinned
out instead."""
MOST_TRIES = 400
"""Days tried for the earliest event (chosen: more than a year)."""


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """A plan in the calendar. fits : whether it begins no sooner than the start, and ends in time"""

    listed: tuple[Task, ...]
    jobs: tuple[Job, ...]
    begin: datetime
    ready: datetime
    fits: bool


def laid(size: WorkAmounts, params: Params) -> Laid:
    """The plan as the maker prefers it."""
    listed = tasks(size, params)
    early = params.prefer == "early"
    first, event = params.start or SOME_DAY, params.event or SOME_DAY
    jobs = forward(listed, params, first) if early else backward(listed, params, event)
    begin, ready = min(job.begin for job in jobs), max(job.dry for job in jobs)
    if params.event is None:
        fits = True
    elif early:
        fits = ready <= last_moment(params, event)
    else:
        fits = params.start is None or begin.date() >= params.start
    return Laid(listed, jobs, begin, ready, fits)


def offers(size: WorkAmounts, params: Params) -> tuple[Offer, ...]:
    """At most three sets of changes with which the work is done in time, the least painful first, none within another.

    A set is not followed up where even all that can be added to it is not enough.
    """
    listed = change.catalogue(size, params)
    if not _possible(*change.made(size, params, everything(listed))):
        return ()
    found: list[tuple[Change, ...]] = []
    plans = 0
    heap: list[tuple[int, int, tuple[int, ...]]] = [(0, 0, ())]  # points, number, places in the list
    while heap and len(found) < MOST_OFFERS and plans < MOST_PLANS:
        points, count, places = heapq.heappop(heap)
        chosen = tuple(listed[k] for k in places)
        if any(_contains(chosen, other) for other in found):
            continue
        plans += 1
        if _enough(size, params, chosen):
            found.append(chosen)
            continue
        later = [k for k in range(places[-1] + 1 if places else 0, len(listed)) if listed[k].key not in _keys(chosen)]
        plans += 1
        if _enough(size, params, (*chosen, *everything([listed[k] for k in later]))):
            for k in later:
                heapq.heappush(heap, (points + listed[k].points, count + 1, (*places, k)))
    found += _large(size, params, listed, MOST_OFFERS - len(found), found)
    return tuple(_offer(size, params, chosen) for chosen in found)


def earliest(size: WorkAmounts, params: Params) -> date | None:
    """The first day, from that of the preset on, that the event could be on; None if it is more than a year off."""
    day = params.event or SOME_DAY
    if params.start is not None:
        soon = max(job.dry for job in forward(tasks(size, params), params, params.start))
        day = max(day, _whole(soon) + timedelta(days=params.reserve)) if params.prefer == "early" else day
    for _ in range(MOST_TRIES):
        if laid(size, replace(params, event=day)).fits:
            return day
        day += timedelta(days=1)
    return None


def _whole(at: datetime) -> date:
    """The first day that begins no sooner."""
    return at.date() + timedelta(days=at.time() > time())


def everything(listed: Sequence[Change]) -> tuple[Change, ...]:
    """Every change as far as it goes."""
    return tuple(list(levels)[-1] for _, levels in groupby(listed, key=lambda one: one.key))


def _keys(chosen: Sequence[Change]) -> set[str]:
    return {one.key for one in chosen}


def _enough(size: WorkAmounts, params: Params, chosen: Sequence[Change]) -> bool:
    new = change.made(size, params, chosen)
    return _possible(*new) and laid(*new).fits


def _contains(chosen: Sequence[Change], other: Sequence[Change]) -> bool:
    """Whether a set goes as far as another in all that the other changes."""
    level = {one.key: one.level for one in chosen}
    return all(level.get(one.key, 0) >= one.level for one in other)


def _possible(size: WorkAmounts, params: Params) -> bool:
    """Whether there is time for the longest chain, and for all the work: quicker to see than a whole plan."""
    if params.event is None or params.start is None:
        return True
    listed, end = tasks(size, params), last_moment(params, params.event)
    room = (end - datetime.combine(params.start, time())).total_seconds() / 3600
    if critical(listed)[1] > room:
        return False
    free = sum(params.free(params.start + timedelta(days=k)) for k in range((end.date() - params.start).days))
    return sum(task.hands_h for task in listed) <= free + 1e-6


def _large(
    size: WorkAmounts, params: Params, listed: Sequence[Change], most: int, known: Sequence[Sequence[Change]]
) -> list[tuple[Change, ...]]:
    """At most so many sets, found from the other end: all changes, or all but one, of which is taken out or made
    smaller whatever is not needed. For a plan so short of time that only large sets help."""
    if not most:
        return []
    whole = everything(listed)
    starts = [whole, *(tuple(other for other in whole if other is not one) for one in whole)]
    thin = [found for start in starts if (found := _thinned(size, params, start, listed))]
    new: list[tuple[Change, ...]] = []
    for one in sorted(thin, key=_points):
        if not any(_contains(one, other) for other in (*known, *new)):
            new.append(one)
    return new[:most]


def _thinned(
    size: WorkAmounts, params: Params, whole: Sequence[Change], listed: Sequence[Change]
) -> tuple[Change, ...]:
    """What is left of a set when all that is not needed is taken out or made smaller, the most painful first."""
    left = tuple(whole)
    if not _enough(size, params, left):
        return ()
    for one in sorted(whole, key=lambda one: -one.points):
        rest = tuple(other for other in left if other is not one)
        smaller = ((*rest, other) for other in listed if other.key == one.key and other.level < one.level)
        left = next((fewer for fewer in (rest, *smaller) if _enough(size, params, fewer)), left)
    return left


def _points(chosen: Sequence[Change]) -> int:
    return sum(one.points for one in chosen)


def _offer(size: WorkAmounts, params: Params, chosen: Sequence[Change]) -> Offer:
    of = laid(*change.made(size, params, chosen))
    given = tuple(Concession(one.words, one.cost, one.points) for one in chosen)
    return Offer(given, change.lines(chosen), _points(chosen), of.begin, of.ready)
