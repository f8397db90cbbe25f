"""When to do what: tasks with time at the bench and time to dry, laid backwards from the day of the event.

One pair of hands does one thing at a time, in the hours that are free; what dries, dries meanwhile.

References
----------
Kelley & Walker, Critical-Path Planning and Scheduling, Proc. Eastern Joint Computer Conference, 1959.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from math import ceil

from shellgen.errors import PresetError
from shellgen.fields import params as field
from shellgen.model import Finding, Job, Saving, Schedule, Task

SHADING_DRY = {"oil": 72.0, "alkyd": 24.0, "acrylic": 1.0}
"""Hours until shading may be touched. Oil up to three days in a thin film of fast colours, alkyd 12 to 48 hours
(makers of artists' colours), acrylic minutes; acrylic is given an hour here (common practice)."""

FIVE = 12
"""Steps in an hour: work is counted in whole five minutes (chosen: a calendar is read at a glance)."""

CUBE = "dry a test cube of clay"
"""Name of its task."""

SOME_DAY = date(2000, 1, 1)
"""A Saturday: a schedule without a day is computed backwards from it (chosen: most shows and parades fall on one)."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    event: date | None = field.date(None, "The day the shell is worn, YYYY-MM-DD; without it days are only counted.")
    start: date | None = field.date(None, "The first day there is time; left out, the plan only says when to begin.")
    weekday_hours: float = field.number(2.0, 0, 16, "Free hours on a working day.", "h")
    weekend_hours: float = field.number(5.0, 0, 16, "Free hours on a Saturday or Sunday.", "h")
    begin_at: float = field.number(18.0, 0, 23, "Hour of the day at which they begin.", "h")
    reserve: int = field.count(1, 0, 30, "Whole days kept free before the event.")
    shading: str = field.choice("oil", tuple(SHADING_DRY), "What the grooves are shaded with: oil dries longest.")
    pace: float = field.ratio(1.0, 0.3, 4.0, "Your pace: 2 if everything takes you twice as long as estimated.")
    glue_dry: float = field.number(12.0, 0, 96, "From gluing to full strength.", "h")
    clay_dry: float = field.number(36.0, 2, 240, "Foam clay from wet to dry: about a day, two in a mould.", "h")
    cube_dry: float = field.number(72.0, 12, 240, "The 40 mm test cube of foam clay from wet to dry: 2 to 5 days.", "h")
    primer_dry: float = field.number(1.5, 0.1, 48, "Between coats of PVA wood glue.", "h")
    paint_dry: float = field.number(1.0, 0.1, 48, "Between coats of acrylic paint.", "h")


@dataclass(frozen=True, slots=True, eq=False)
class WorkAmounts:
    """What there is to do: numbers, and metres along the lines.

    test_cube : whether the clay's shrinkage is still to be measured, which says how large masters and moulds are
    """

    pieces: int
    cut_m: float
    score_m: float
    seam_m: float
    spikes: int
    masters: int
    ring_m: float
    rim_m: float
    area_m2: float
    primer_coats: int
    paint_coats: int
    test_cube: bool = False


def tasks(size: WorkAmounts, params: Params, *, sculpted: bool = True) -> tuple[Task, ...]:
    """The work in order. Hours at the bench are estimated from the shell's own figures (rates: common practice).

    sculpted : False where spikes are bought ready
    """
    many = size.primer_coats, size.paint_coats
    listed = [
        Task("print and cut out templates", 0.5 + 0.1 * size.pieces, 0, ()),
        Task("cut the foam", 0.3 + size.cut_m / 6, 0, ("print and cut out templates",)),
        Task("burn or carve the score lines", 0.2 + size.score_m / 8, 0, ("cut the foam",)),
        Task("form the pieces with heat", 0.3 + 1.5 * size.area_m2, 0.5, ("burn or carve the score lines",)),
        Task("glue the seams", 0.3 + size.seam_m / 2, params.glue_dry, ("form the pieces with heat",)),
        Task("fill the seams", 0.2 + size.seam_m / 6, 6, ("glue the seams",)),
        Task("glue the edging", 0.3 + size.rim_m / 2, params.glue_dry, ("fill the seams",)),
    ]
    fitted = ["glue the edging"]  # it holds the rim, and the dome lies crown down for it: so before any spike
    if size.spikes:
        made = "make the spikes" if sculpted else "buy the spikes"
        hands, dry = (0.5 * size.masters + 0.1 * size.spikes, params.clay_dry) if sculpted else (0.5, 0)
        cube = [Task(CUBE, 0.75, params.cube_dry, ())] if size.test_cube and sculpted else []
        listed += [
            *cube,
            Task(made, hands, dry, tuple(task.name for task in cube)),
            Task("glue on the spikes", 0.2 + size.spikes / 20, params.glue_dry, ("glue the edging", made)),
            Task("cut, chamfer and glue the rings", 0.2 + size.ring_m / 1.5, params.glue_dry, ("glue on the spikes",)),
        ]
        fitted.append("cut, chamfer and glue the rings")
    listed += _coats("prime, coat", many[0], 0.15 + 0.5 * size.area_m2, params.primer_dry, fitted)
    listed += _coats("paint, coat", many[1], 0.3 + size.area_m2, params.paint_dry, _last(listed))
    listed += [
        Task("shade the grooves", 0.3 + size.score_m / 15, SHADING_DRY[params.shading], _last(listed)),
        Task("seal, fit the straps, try it on", 1.5, 4, ("shade the grooves",)),
    ]
    return tuple(replace(task, hands_h=ceil(task.hands_h * params.pace * FIVE - 1e-9) / FIVE) for task in listed)


def _coats(word: str, count: int, hands: float, dry: float, after: Sequence[str]) -> list[Task]:
    """Coats of one stuff, each when the last has dried."""
    made: list[Task] = []
    for k in range(1, count + 1):
        made.append(Task(f"{word} {k} of {count}", hands, dry, tuple(after) if k == 1 else (made[-1].name,)))
    return made


def _last(listed: Sequence[Task]) -> tuple[str, ...]:
    return (listed[-1].name,)


def critical(listed: Sequence[Task]) -> tuple[tuple[str, ...], float]:
    """The longest chain of tasks, drying counted, and its hours: no plan can be shorter, however many hands help."""
    finish: dict[str, float] = {}
    before: dict[str, str | None] = {}
    for task in listed:
        last = max(task.after, key=lambda name: finish[name], default=None)
        before[task.name] = last
        finish[task.name] = (finish[last] if last else 0.0) + task.hands_h + task.dry_h
    name: str | None = max(finish, key=lambda k: finish[k])
    hours, chain = finish[name or ""], []
    while name is not None:
        chain.append(name)
        name = before[name]
    return tuple(reversed(chain)), hours


def backward(listed: Sequence[Task], params: Params, event: date) -> tuple[Job, ...]:
    """Every task as late as it can be, so that all is dry `reserve` days before the event; ordered by their start.

    A task may be spread over several evenings; it dries from its last. There must be free hours in the week.
    """
    end = datetime.combine(event - timedelta(days=params.reserve), time())
    after: dict[str, list[str]] = {task.name: [] for task in listed}
    for task in listed:
        for name in task.after:
            after[name].append(task.name)
    tail = _tails(listed, after)
    begun: dict[str, datetime] = {}
    busy: list[tuple[datetime, datetime]] = []
    jobs: list[Job] = []
    left = {task.name: task for task in listed}
    while left:
        ready = [t for t in left.values() if all(name in begun for name in after[t.name])]
        due = {t.name: min((begun[n] for n in after[t.name]), default=end) - timedelta(hours=t.dry_h) for t in ready}
        task = max(ready, key=lambda t: (due[t.name], -tail[t.name], t.name))
        spans = _evenings(due[task.name], task.hands_h, busy, params)
        busy += spans
        begun[task.name] = spans[-1][0] if spans else due[task.name]
        stop = spans[0][1] if spans else due[task.name]
        jobs.append(Job(task, tuple(reversed(spans)), begun[task.name], stop, stop + timedelta(hours=task.dry_h)))
        del left[task.name]
    return tuple(sorted(jobs, key=lambda job: (job.begin, job.dry)))


def _tails(listed: Sequence[Task], after: Mapping[str, Sequence[str]]) -> dict[str, float]:
    """Hours from a task's beginning to the end of all, along its longest chain."""
    tail: dict[str, float] = {}
    for task in reversed(listed):
        tail[task.name] = task.hands_h + task.dry_h + max((tail[name] for name in after[task.name]), default=0.0)
    return tail


def _evenings(
    due: datetime, hours: float, busy: Sequence[tuple[datetime, datetime]], params: Params
) -> list[tuple[datetime, datetime]]:
    """Free stretches before `due` that make up `hours`, the latest first."""
    spans: list[tuple[datetime, datetime]] = []
    need, day = timedelta(hours=hours), due.date() + timedelta(days=1)
    while need > timedelta(seconds=1):
        day -= timedelta(days=1)
        free = params.weekend_hours if day.weekday() >= 5 else params.weekday_hours
        opens = datetime.combine(day, time()) + timedelta(hours=min(params.begin_at, 24 - free))
        for low, high in reversed(_gaps(opens, min(opens + timedelta(hours=free), due), busy)):
            take = min(high - low, need)
            spans.append((high - take, high))
            need -= take
            if need <= timedelta(seconds=1):
                break
    return spans


def _gaps(low: datetime, high: datetime, busy: Sequence[tuple[datetime, datetime]]) -> list[tuple[datetime, datetime]]:
    """What is left of one evening between the stretches already given away, earliest first."""
    gaps, at = [], low
    for begin, end in sorted(busy):
        if end <= at or begin >= high:
            continue
        if begin > at:
            gaps.append((at, begin))
        at = max(at, end)
    if at < high:
        gaps.append((at, high))
    return gaps


def build(size: WorkAmounts, params: Params) -> Schedule | None:
    """The plan back from the event; without an event back from SOME_DAY, so that its days tell how far they lie apart.

    None without an event and without a free hour in the week. PresetError with an event and no free hour.
    """
    if not (params.weekday_hours or params.weekend_hours):
        if params.event is None:
            return None
        remedy = "Give some hours here or in weekend_hours."
        raise PresetError("schedule.weekday_hours", "The week has no free hour.", remedy)
    listed = tasks(size, params)
    jobs = backward(listed, params, params.event or SOME_DAY)
    chain, hours = critical(listed)
    begin = min(job.begin for job in jobs)
    ways = _ways(size, params, begin)
    return Schedule(
        jobs, chain, hours, sum(t.hands_h for t in listed), begin, _findings(params, begin, ways),
        params.event, max(job.dry for job in jobs), ways,
    )  # fmt: skip


def _findings(params: Params, begin: datetime, ways: Sequence[Saving]) -> tuple[Finding, ...]:
    if params.event is None:
        return ()
    if params.start is not None and params.start > params.event:
        text = f"The start, {_date(params.start)}, is after the event, {_date(params.event)}: change one of them"
        return (Finding("fault", "plan", f"{text} (schedule: start, event)."),)
    first = f"Begin by {_date(begin)} to be ready for {_date(params.event)}"
    if params.start is None or begin.date() >= params.start:
        return (Finding("ok", "plan", f"{first}."),)
    enough = [f"{way.change} (gains {_days(way.gained_days)})" for way in ways if way.enough]
    help_ = f"Any of these makes it possible: {'; '.join(enough)}." if enough else _too_little(ways)
    return (Finding("fault", "plan", f"{first}. That is before your start, {_date(params.start)}. {help_}"),)


def _too_little(ways: Sequence[Saving]) -> str:
    best = max(ways, key=lambda way: way.gained_days, default=None)
    more = f" The most that you can gain is {_days(best.gained_days)}: {best.change}." if best else ""
    return f"No single change makes it possible.{more} Choose a later day or a smaller shell."


def _date(day: date) -> str:
    return f"{day:%A} {day.day} {day:%B %Y}"


def _days(count: int) -> str:
    return f"{count} day" if count == 1 else f"{count} days"


def _ways(size: WorkAmounts, params: Params, begin: datetime) -> tuple[Saving, ...]:
    """Every choice that gains a day or more, the plan laid again for each."""
    ways = []
    for change, (smaller, quicker, sculpted) in _choices(size, params).items():
        jobs = backward(tasks(smaller, quicker, sculpted=sculpted), quicker, params.event or SOME_DAY)
        later = min(job.begin for job in jobs).date()
        gained = (later - begin.date()).days
        if gained > 0:
            ways.append(Saving(change, gained, params.start is None or later >= params.start))
    return tuple(ways)


def _choices(size: WorkAmounts, params: Params) -> dict[str, tuple[WorkAmounts, Params, bool]]:
    """What a maker in a hurry may change; all of it together comes last."""
    shading = {name: replace(params, shading=name) for name in ("alkyd", "acrylic")}
    fewer = replace(size, primer_coats=min(3, size.primer_coats), paint_coats=min(2, size.paint_coats))
    more = {name: min(getattr(params, name) + 1, 16.0) for name in ("weekday_hours", "weekend_hours")}
    return {
        "shade with alkyd paint": (size, shading["alkyd"], True),
        "shade with acrylic paint": (size, shading["acrylic"], True),
        "three coats of primer": (replace(size, primer_coats=fewer.primer_coats), params, True),
        "two coats of paint": (replace(size, paint_coats=fewer.paint_coats), params, True),
        "buy the spikes": (size, params, not size.spikes),
        "no test cube, and spikes a little small": (replace(size, test_cube=False), params, True),
        "one more hour every day": (size, replace(params, **more), True),
        "acrylic shading, three coats of primer, two of paint and bought spikes together": (
            fewer, shading["acrylic"], not size.spikes,
        ),
    }  # fmt: skip
