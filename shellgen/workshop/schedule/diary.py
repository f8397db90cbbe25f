"""Tasks in the calendar: as late as they can be before a day, or as early as they can be from a day.

One pair of hands, or one team, does one thing at a time, in the hours that are free; what dries and what the printer
makes goes on meanwhile, by night too.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, time, timedelta

from shellgen.model import Job, Task
from shellgen.workshop.schedule.amounts import Params
from shellgen.workshop.schedule.runs import DAY

Span = tuple[datetime, datetime]
Busy = dict[date, list[Span]]
"""By day, what is given away."""
BRIEF = 0.25
"""Hours: no shorter stretch of a long job, except its last (chosen: less is not worth taking the tools out)."""
SECOND = timedelta(seconds=1)


def backward(listed: Sequence[Task], params: Params, event: date) -> tuple[Job, ...]:
    """Every task as late as it can be, so that all is dry `reserve` days before the event; ordered by their start.

    There must be free hours in the week.
    """
    end = last_moment(params, event)
    after = _followers(listed)
    tail = _tails(listed, after)
    begun: dict[str, datetime] = {}
    busy: Busy = {}
    jobs: list[Job] = []
    left = {task.name: task for task in listed}
    while left:
        ready = [t for t in left.values() if all(name in begun for name in after[t.name])]
        due = {t.name: min((begun[n] for n in after[t.name]), default=end) - timedelta(hours=t.wait_h) for t in ready}
        task = max(ready, key=lambda t: (due[t.name], -tail[t.name], t.name))
        spans = _stretches(task, due[task.name], busy, params, late=True)
        jobs.append(_job(task, spans[::-1], due[task.name]))
        begun[task.name] = jobs[-1].begin
        _give(busy, spans)
        del left[task.name]
    return _ordered(jobs)


def forward(listed: Sequence[Task], params: Params, start: date) -> tuple[Job, ...]:
    """Every task as early as it can be from a day on, the one with most to follow first; ordered by their start."""
    first = datetime.combine(start, time())
    tail = _tails(listed, _followers(listed))
    dry: dict[str, datetime] = {}
    busy: Busy = {}
    jobs: list[Job] = []
    left = {task.name: task for task in listed}
    while left:
        ready = [t for t in left.values() if all(name in dry for name in t.after)]
        task = max(ready, key=lambda t: (tail[t.name], t.name))
        opens = max((dry[name] for name in task.after), default=first)
        spans = _stretches(task, opens, busy, params, late=False)
        jobs.append(_job(task, spans, opens))
        dry[task.name] = jobs[-1].dry
        _give(busy, spans)
        del left[task.name]
    return _ordered(jobs)


def last_moment(params: Params, event: date) -> datetime:
    """When all must be dry."""
    return datetime.combine(event - timedelta(days=params.reserve), time())


def _ordered(jobs: Sequence[Job]) -> tuple[Job, ...]:
    return tuple(sorted(jobs, key=lambda job: (job.begin, job.dry)))


def _job(task: Task, spans: Sequence[Span], at: datetime) -> Job:
    """at : when a task without work is done"""
    begin, end = (spans[0][0], spans[-1][1]) if spans else (at, at)
    return Job(task, tuple(spans), begin, end, end + timedelta(hours=task.wait_h))


def _followers(listed: Sequence[Task]) -> dict[str, list[str]]:
    after: dict[str, list[str]] = {task.name: [] for task in listed}
    for task in listed:
        for name in task.after:
            after[name].append(task.name)
    return after


def _tails(listed: Sequence[Task], after: Mapping[str, Sequence[str]]) -> dict[str, float]:
    """Hours from a task's beginning to the end of all, along its longest chain."""
    tail: dict[str, float] = {}
    for task in reversed(listed):
        tail[task.name] = task.hands_h + task.wait_h + max((tail[name] for name in after[task.name]), default=0.0)
    return tail


def _give(busy: Busy, spans: Sequence[Span]) -> None:
    for span in spans:
        busy.setdefault(span[0].date(), []).append(span)
        busy[span[0].date()].sort()


def _stretches(task: Task, bound: datetime, busy: Busy, params: Params, *, late: bool) -> list[Span]:
    """Free stretches that make up a task, the latest before `bound` first, or the earliest from it on.

    A job that fits into one evening is done in one; a longer one is spread over several.
    """
    need, spans = timedelta(hours=task.hands_h), list[Span]()
    whole = task.hands_h <= params.evening + 1e-9
    brief = timedelta(hours=min(BRIEF, params.evening))
    if need <= SECOND:
        return spans
    for low, high in _gaps(task, bound, busy, params, late=late):
        room = high - low
        if room < (need if whole else min(brief, need)) - SECOND:
            continue
        take = min(room, need)
        spans.append((high - take, high) if late else (low, low + take))
        need -= take
        if need <= SECOND:
            break
    return spans


def _gaps(task: Task, bound: datetime, busy: Busy, params: Params, *, late: bool) -> Iterator[Span]:
    """Every free gap before or after `bound`, day by day without end."""
    day, step = bound.date(), timedelta(days=-1 if late else 1)
    while True:
        free = params.free(day)
        if free:
            opens = datetime.combine(day, time()) + timedelta(hours=min(params.begin_at, 24 - free))
            closes = opens + timedelta(hours=min(free, _latest(task, params)))
            low, high = (opens, min(closes, bound)) if late else (max(opens, bound), closes)
            yield from _between(low, high, busy.get(day, ()), late=late)
        day += step


def _latest(task: Task, params: Params) -> float:
    """Hours after the day's opening by which a run must be started to end while the printer may run.

    A run that is longer than this goes on beyond it: plastic that cools in the middle of a print is lost.
    """
    left = params.printer_hours - task.printer_h
    return left if task.printer_h and params.printer_hours < DAY and left >= task.hands_h else DAY


def _between(low: datetime, high: datetime, busy: Sequence[Span], *, late: bool) -> Iterator[Span]:
    """What is left from `low` to `high` between the sorted stretches already given away."""
    gaps, at = list[Span](), low
    for begin, end in busy:
        if end <= at or begin >= high:
            continue
        if begin > at:
            gaps.append((at, begin))
        at = max(at, end)
    if at < high:
        gaps.append((at, high))
    yield from reversed(gaps) if late else gaps
