"""The plan as a picture: a row for each task, a column for each day; work as boxes, printing and drying hatched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import groupby

import numpy as np

from shellgen.canvas import Colour, Drawing, Path, Text, lettering
from shellgen.core.arrays import Floats
from shellgen.model import Job, Schedule
from shellgen.model.said import count

BORDER = 12.0
NAMES = 62.0
"""Width in mm for the names of the tasks."""
WORK: Colour = (214, 222, 226)
WEEKEND: Colour = (242, 243, 241)
HATCH = 1.6
"""mm between the strokes of the hatching."""
DAY = timedelta(days=1)
Items = list[Path | Text]


@dataclass(frozen=True, slots=True, eq=False)
class _CalendarGrid:
    """Places of days and rows, mm."""

    first: date
    days: int
    left: float
    top: float
    day: float
    row: float

    def x(self, at: datetime) -> float:
        return self.left + self.day * ((at - datetime.combine(self.first, time())) / DAY)

    def y(self, row: int) -> float:
        """Upper edge of a row."""
        return self.top - row * self.row

    @property
    def right(self) -> float:
        return self.left + self.days * self.day


def plan_picture(title: str, plan: Schedule, paper: tuple[float, float]) -> Drawing:
    """One sheet of paper (width and height when upright, mm), in landscape."""
    across, up = max(paper), min(paper)
    rows = [(name, tuple(jobs)) for name, jobs in groupby(sorted_by_row(plan), key=lambda job: row_name(job))]
    end = plan.ready.date() if plan.event is None else plan.event
    days = (end - plan.begin.date()).days + 1
    foot = _foot(plan, across - 2 * BORDER)
    room = up - 2 * BORDER - 32.0 - 4.2 * len(foot)
    day = (across - 2 * BORDER - NAMES) / days
    grid = _CalendarGrid(plan.begin.date(), days, BORDER + NAMES, up - BORDER - 26.0, day, min(9.0, room / len(rows)))
    items = [*_days(grid, plan, len(rows)), *_heading(title, plan, up)]
    names = [name + (f", {len(jobs)} {_kind(jobs[0])}s" if len(jobs) > 1 else "") for name, jobs in rows]
    height = min(lettering.fit(name, NAMES - 7.0, most=min(3.5, 0.5 * grid.row)) or 1.8 for name in names)
    for number, (name, (_, jobs)) in enumerate(zip(names, rows, strict=True)):
        items.append(Text(name, (BORDER + 5.0, grid.y(number) - (grid.row + height) / 2), height))
        items += _row(grid, number, jobs, any(job.task.name in plan.chain for job in jobs))
    y = grid.y(len(rows)) - 6.0
    items += [Text(line, (BORDER, y - 4.2 * k), 2.5, layer="note") for k, line in enumerate(foot)]
    return Drawing("plan", across, up, tuple(items), f"{title}: plan")


def row_name(job: Job) -> str:
    """Coats of one material share a row, and so do runs of the printers."""
    return job.task.name.partition(f", {_kind(job)} ")[0]


def _kind(job: Job) -> str:
    return "run" if job.task.printer_h else "coat"


def sorted_by_row(plan: Schedule) -> list[Job]:
    """Jobs by their start, grouped by row."""
    first: dict[str, int] = {}
    for k, job in enumerate(plan.jobs):
        first.setdefault(row_name(job), k)
    return sorted(plan.jobs, key=lambda job: (first[row_name(job)], job.begin))


def _heading(title: str, plan: Schedule, up: float) -> Items:
    if plan.event is None:
        when = "No day of the event is set (schedule: event), so the plan is for a Saturday"
    else:
        when = f"{plan.begin:%A %d %B} to {plan.event:%A %d %B %Y}"
    lines = (
        (f"{title}: plan", 5.0),
        (f"{when}. {count(round(plan.hands_h), 'hour')} of work, {plan.chain_h / 24:.1f} days at least.", 3.5),
    )
    return [Text(text, (BORDER, up - BORDER - 5.0 - 7.0 * k), height, layer="note") for k, (text, height) in
            enumerate(lines)]  # fmt: skip


def _days(grid: _CalendarGrid, plan: Schedule, rows: int) -> Items:
    """Columns with tinted weekends, named by day of the month, or counted if there is no date."""
    foot = grid.y(rows)
    items: Items = []
    step = next(k for k in (1, 7, 14, 28, 10**6) if k * grid.day >= 4.0)
    for k in range(grid.days):
        of, low = grid.first + k * DAY, grid.left + k * grid.day
        if of.weekday() >= 5:
            items.append(Path(_box(low, foot, low + grid.day, grid.top), "fill", closed=True, fill=WEEKEND))
        if k % step == 0:
            items.append(Path(np.array([(low, foot), (low, grid.top)]), "guide"))
            number = str(k + 1 if plan.event is None else of.day)
            height = lettering.fit(number, step * grid.day - 0.8, most=2.5)
            if height:
                middle = low + grid.day / 2 if step == 1 else low + 0.4
                anchor = "middle" if step == 1 else "start"
                items.append(Text(number, (middle, grid.top + 1.2), height, anchor=anchor, layer="note"))
                if step == 1:
                    items.append(Text("MTWTFSS"[of.weekday()], (middle, grid.top + 5.5), 1.8, anchor=anchor))
    items += _months(grid) if plan.event else [Text("day", (grid.left - 2, grid.top + 1.2), 2.5, anchor="end")]
    if plan.event:
        worn = (grid.right - grid.day / 2 + 1.0, foot + 2.0)
        items.append(Text("worn", worn, 2.5 if grid.day >= 3 else 1.8, np.pi / 2, layer="note"))
    return [*items, *(Path(np.array([(BORDER, y), (grid.right, y)]), "guide") for y in map(grid.y, range(rows + 1)))]


def _months(grid: _CalendarGrid) -> Items:
    """The month above its first day shown, if there is room."""
    items: Items = []
    at = -np.inf
    for k in range(grid.days):
        of = grid.first + k * DAY
        x = grid.left + k * grid.day
        word = f"{of:%B}"
        if (k == 0 or of.day == 1) and x > at and x + lettering.width(word, 2.5) <= grid.right:
            items.append(Text(word, (x + 0.4, grid.top + 8.8), 2.5, layer="note"))
            at = x + lettering.width(word, 2.5) + 2
    return items


def _row(grid: _CalendarGrid, number: int, jobs: Sequence[Job], critical: bool) -> Items:
    top, row = grid.y(number), grid.row
    items: Items = []
    if critical:
        middle = np.array([BORDER + 2.0, top - row / 2])
        diamond = middle + 1.3 * np.array([(1, 0), (0, 1), (-1, 0), (0, -1)])
        items.append(Path(diamond, "cut", closed=True, fill=(0, 0, 0)))
    floor = top - 0.94 * row
    bench = top - 0.6 * row
    for begin, end in _merged([(job.end, job.dry) for job in jobs if job.dry > job.end]):
        items += _hatched(grid.x(begin), floor, grid.x(end), bench, upright=jobs[0].task.printer_h > 0)
    hours: dict[int, float] = {}
    for start, stop in (span for job in jobs for span in job.spans):
        k = (start.date() - grid.first).days
        hours[k] = hours.get(k, 0.0) + (stop - start).total_seconds() / 3600
    for k, spent in sorted(hours.items()):
        low = grid.left + k * grid.day
        box = _box(low, bench, low + grid.day, top - 0.06 * row)
        items += [
            Path(box, "fill", closed=True, fill=WORK),
            Path(box, "cut", closed=True, data={"hours": f"{spent:g}"}),
        ]
        word = f"{spent:.1f}".removesuffix(".0")
        fit = lettering.fit(word, grid.day - 1.0, most=min(2.5, 0.4 * row))
        if fit and spent >= 0.05:
            items.append(Text(word, (low + grid.day / 2, (bench + top) / 2 - fit / 2), fit, anchor="middle"))
    return items


def _merged(spans: Sequence[tuple[datetime, datetime]]) -> list[tuple[datetime, datetime]]:
    """Periods, joined where they touch or overlap."""
    merged: list[tuple[datetime, datetime]] = []
    for low, high in sorted(spans):
        if merged and low <= merged[-1][1]:
            merged[-1] = merged[-1][0], max(high, merged[-1][1])
        else:
            merged.append((low, high))
    return merged


def _hatched(x0: float, y0: float, x1: float, y1: float, *, upright: bool) -> Items:
    """A box with diagonal strokes where something dries, and upright ones where a printer runs, clipped to it."""
    tall = y1 - y0
    lines: Items = [Path(_box(x0, y0, x1, y1), "note", closed=True, data={"printing" if upright else "drying": "yes"})]
    if upright:
        return lines + [Path(np.array([(x, y0), (x, y1)]), "note") for x in np.arange(x0 + HATCH / 2, x1, HATCH / 2)]
    for start in np.arange(x0 - tall + HATCH / 2, x1, HATCH):
        low, high = max(0.0, x0 - start), min(tall, x1 - start)
        if high - low > 0.1:
            lines.append(Path(np.array([(start + low, y0 + low), (start + high, y0 + high)]), "note"))
    return lines


def _box(x0: float, y0: float, x1: float, y1: float) -> Floats:
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def _foot(plan: Schedule, across: float) -> list[str]:
    notes = [
        "Boxes: hours of work that day. Slanted lines: drying. Upright lines: a 3D printer runs by itself. Diamond: on "
        "the critical path; a delay here delays everything. Drying times are typical values: the labels of your "
        "products come first.",
        *(finding.text for finding in plan.findings),
    ]
    ways = "; ".join(f"{w.change} ({count(w.gained_days, 'day')})" for w in plan.ways)
    if ways:
        notes.append(f"What saves days: {ways}.")
    return [line for text in notes for line in lettering.wrapped(text, across, 2.5)]
