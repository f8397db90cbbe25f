"""The tasks of one shell in order, and their longest chain.

References
----------
Kelley & Walker, Critical-Path Planning and Scheduling, Proc. Eastern Joint Computer Conference, 1959.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import ceil

from shellgen.model import Task
from shellgen.workshop.schedule.amounts import SHADING_DRY, Params, WorkAmounts
from shellgen.workshop.schedule.runs import START, runs

FIVE = 12
"""Steps in an hour: work is counted in whole five minutes (chosen: a calendar is read at a glance)."""

CUBE = "dry a test cube of clay"
MASKS = "cut out the masks and put them on"
SEAL, VARNISH = "seal the paint below the shading", "varnish"
TRIAL = "glue a patch to an offcut and hang the load on it"
SEW, HANG = "sew and glue the straps", "hang the shell by its straps"
TRY = "try it on"
HEAT = "form the pieces with heat"
"""Names of tasks."""
PAINTED = ("inside", "plates", "grooves", "rings", "spikes", "rim")
"""Zones in the order in which they are painted, as the coats have it."""
ZONE = {"rim": "edging"}
"""What a zone of the paint is called where it is not its name."""

MASKED = 1 / 15
"""Hours to cut out a mask and put it on: four minutes (common practice, no source)."""
SEALED, VARNISHED = 12.0, 4.0
"""Hours until clear varnish is dry through, for paint with solvents on it; and until it can be handled (common
practice, no source)."""
SET, HUNG, OVERNIGHT = 24.0, 1.0, 12.0
"""Hours in which the glue of a patch sets, for which the shell hangs by each strap, and a load on a patch on trial
(as the guide says)."""

HELP = 0.7
"""What each further person adds to the work of the first (common practice, no source)."""

BY_HAND = 0.2
"""Hours more for each spike that is modelled without a mould (common practice, no source)."""
FILED, FILED_DRY = 0.15, 2.0
"""Hours to glue, file and fill a printed spike, and until the filler is dry (common practice, no source)."""


def tasks(size: WorkAmounts, params: Params) -> tuple[Task, ...]:
    """The work in order. Hours at the bench are estimated from the shell's own figures (rates: common practice)."""
    listed = [
        Task("print and cut out templates", 0.5 + 0.1 * size.pieces, 0, ()),
        Task("cut the foam", 0.3 + size.cut_m / 6, 0, ("print and cut out templates",)),
        Task("burn or carve the score lines", 0.2 + size.score_m / 8, 0, ("cut the foam",)),
        Task(HEAT, 0.3 + 1.5 * size.area_m2, 0.5, ("burn or carve the score lines",)),
        Task("glue the seams", 0.3 + size.seam_m / 2, params.glue_dry, (HEAT,)),
        Task("fill the seams", 0.2 + size.seam_m / 6, 6, ("glue the seams",)),
        Task("glue the edging", 0.3 + size.rim_m / 2, params.glue_dry, ("fill the seams",)),
    ]
    fitted = ["glue the edging"]  # it holds the rim, and the dome lies crown down for it: so before any spike
    if size.spikes:
        listed += _spikes(size, params)
        on = "glue on the spikes"
        listed += [
            Task(on, 0.2 + size.spikes / 20, params.glue_dry, ("glue the edging", listed[-1].name)),
            Task("cut, chamfer and glue the rings", 0.2 + size.ring_m / 1.5, params.glue_dry, (on,)),
        ]
        fitted.append("cut, chamfer and glue the rings")
    listed += _coats("prime, coat", size.primer_coats, 0.15 + 0.5 * size.area_m2, params.primer_dry, fitted)
    listed += _paint(size, params, _last(listed))
    listed += _worn(size, _ends(listed))
    return tuple(replace(task, hands_h=_bench(task, params)) for task in listed)


def _paint(size: WorkAmounts, params: Params, after: tuple[str, ...]) -> list[Task]:
    """Masks, every coat of every zone, what seals it, the shading, and the varnish on all.

    One zone waits for the last coat of the one before, as its masks lie on that. Only the edging is far enough from
    spikes and rings to be painted between their coats.
    """
    made: list[Task] = []
    if size.masks:
        made.append(Task(MASKS, 0.2 + MASKED * size.masks, 0, after))
        after = _last(made)
    hours = {"inside": 0.1 + 0.8 * size.area_m2, "plates": 0.1 + 0.8 * size.area_m2, "grooves": 0.1 + size.score_m / 15,
             "rings": 0.1 + size.ring_m / 6, "spikes": 0.1 + size.spikes / 60, "rim": 0.1 + size.rim_m / 6}  # fmt: skip
    base = after
    for zone, coats in sorted(size.coats, key=lambda one: PAINTED.index(one[0])):
        if coats:
            word = f"paint the {ZONE.get(zone, zone)}, coat"
            made += _coats(word, coats, hours[zone], params.paint_dry, base if zone == "rim" else after)
            after = _last(made)
            base = after if zone in ("inside", "plates", "grooves") else base
    painted = _ends(made) or after
    each = 0.1 + 0.5 * size.area_m2
    if params.shading != "acrylic":  # solvents would lift the paint below
        made.append(Task(SEAL, each, SEALED, painted))
        painted = (SEAL,)
    made.append(Task("shade the grooves", 0.3 + size.score_m / 15, SHADING_DRY[params.shading], painted))
    return [*made, *_coats(f"{VARNISH}, coat", size.varnish_coats, each, VARNISHED, _last(made))]


def _worn(size: WorkAmounts, after: tuple[str, ...]) -> Iterator[Task]:
    """The straps, until the wearer has tried them."""
    if size.straps:
        if size.trial:
            yield Task(TRIAL, 0.5, SET + OVERNIGHT, ("cut the foam",))
        yield Task(SEW, 0.5 + 0.5 * size.straps, SET, (*after, *((TRIAL,) if size.trial else ())))
        yield Task(HANG, 0.2 * size.straps, HUNG * size.straps, (SEW,))
    yield Task(TRY, 0.5, 0, (HANG,) if size.straps else after)


def _ends(listed: Sequence[Task]) -> tuple[str, ...]:
    """Tasks that no other waits for."""
    needed = {name for task in listed for name in task.after}
    return tuple(task.name for task in listed if task.name not in needed)


def _bench(task: Task, params: Params) -> float:
    """Hours at the bench in whole steps, at the maker's pace; what several people share is done sooner."""
    alone = task.printer_h or task.name in (CUBE, HEAT, TRIAL, TRY)  # one bed, one cube, one heat gun, one wearer
    shared = 1.0 if alone else 1 + HELP * (params.hands - 1)
    return ceil(task.hands_h * params.pace / shared * FIVE - 1e-9) / FIVE


def _spikes(size: WorkAmounts, params: Params) -> list[Task]:
    """From the test cube to finished spikes, which the last task makes."""
    if size.way == "bought":
        return [Task("buy the spikes", 0.5, 0, ())]
    cube = [Task(CUBE, 0.75, params.cube_dry, ())] if size.test_cube and size.way == "clay" else []
    printed, last = _prints(size, params, tuple(task.name for task in cube))
    after = last or tuple(task.name for task in cube)
    if size.way == "printed":
        return [*printed, Task("finish the printed spikes", FILED * size.spikes, FILED_DRY, after)]
    each = 0.1 if size.moulds else 0.1 + BY_HAND
    made = Task("make the spikes", 0.5 * size.masters + each * size.spikes, params.clay_dry, after)
    return [*cube, *printed, made]


def _prints(size: WorkAmounts, params: Params, after: tuple[str, ...]) -> tuple[list[Task], tuple[str, ...]]:
    """A task for each run of a printer, which begins when the printer's last has ended; and the last of each."""
    what = "the spikes" if size.way == "printed" else "masters and moulds" if size.moulds else "masters"
    work = runs(size, params)
    many, made, last = sum(map(len, work)), list[Task](), list[str]()
    for own in work:
        before = after
        for hours in own:
            name = f"print {what}, run {len(made) + 1} of {many}"
            made.append(Task(name, START, 0, before, ceil(hours * FIVE - 1e-9) / FIVE))
            before = (name,)
        last += before
    return made, tuple(last)


def _coats(word: str, count: int, hands: float, dry: float, after: Sequence[str]) -> list[Task]:
    """Coats of one stuff, each when the last has dried."""
    made: list[Task] = []
    for k in range(1, count + 1):
        made.append(Task(f"{word} {k} of {count}", hands, dry, tuple(after) if k == 1 else (made[-1].name,)))
    return made


def _last(listed: Sequence[Task]) -> tuple[str, ...]:
    return (listed[-1].name,)


def critical(listed: Sequence[Task]) -> tuple[tuple[str, ...], float]:
    """The longest chain of tasks, printing and drying counted, and its hours: no plan can be shorter, however many
    hands help."""
    finish: dict[str, float] = {}
    before: dict[str, str | None] = {}
    for task in listed:
        last = max(task.after, key=lambda name: finish[name], default=None)
        before[task.name] = last
        finish[task.name] = (finish[last] if last else 0.0) + task.hands_h + task.wait_h
    name: str | None = max(finish, key=lambda k: finish[k])
    hours, chain = finish[name or ""], []
    while name is not None:
        chain.append(name)
        name = before[name]
    return tuple(reversed(chain)), hours
