"""What a maker in a hurry may change, how painful each change is, and the lines that make it in the preset."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from shellgen.fields.yamltree import INSTEAD
from shellgen.workshop.schedule.amounts import SHADING_DRY, Params, WorkAmounts
from shellgen.workshop.schedule.runs import parts

LEAST_PRIMER, LEAST_PAINT = 3, 2
"""Coats below which foam drinks the paint, or shows through it (common practice, no source)."""
SPARSE = 0.05
"""Share of the inside that holds up the top of a print (common practice, no source)."""
MOST_HOURS = 16.0

Values = Mapping[str, Any]


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """One change of the plan.

    key, level : what it changes, and how far; a higher level of the same key gains more and costs more
    points     : how painful it is
    words, cost : what to do, and what it costs in looks or money
    size, times : new values of the amounts and of the maker's hours
    lines       : the same in the preset, by section and key
    """

    key: str
    level: int
    points: int
    words: str
    cost: str
    size: Values
    times: Values
    lines: Mapping[str, Values]


def made(size: WorkAmounts, params: Params, changes: Sequence[Change]) -> tuple[WorkAmounts, Params]:
    """Amounts and hours with all the changes."""
    sizes = {key: value for change in changes for key, value in change.size.items()}
    times = {key: value for change in changes for key, value in change.times.items()}
    return replace(size, **sizes), replace(params, **times)


def catalogue(size: WorkAmounts, params: Params) -> tuple[Change, ...]:
    """Every change that does something to this plan.

    Points (chosen): 1, nobody sees it and it costs nothing; 2, one has to look closely, or borrow something; 3, it
    shows, or takes more of somebody's time; 4 and more, the shell becomes another one or costs clearly more.
    What gains most stands first, for the search.
    """
    return (
        *_time(params), *_shading(params), *_reserve(params), *_primer(size), *_spikes(size), *_order(params),
        *_paint(size), *_printing(size, params),
    )  # fmt: skip


def _times(key: str, level: int, points: int, words: str, cost: str, **times: Any) -> Change:
    """A change of the section schedule alone."""
    return Change(key, level, points, words, cost, {}, times, {"schedule": times})


def _order(params: Params) -> Iterator[Change]:
    if params.prefer == "late" and params.start is not None:
        cost = "It costs nothing; the work begins on the first day, and spare days come before the event."
        yield _times("order", 1, 1, "work early, from the start", cost, prefer="early")
    if params.prefer == "early":
        cost = "It costs nothing, but no spare days are left before the event."
        yield _times("order", 1, 1, "work as late as possible", cost, prefer="late")


def _reserve(params: Params) -> Iterator[Change]:
    if params.reserve:
        cost = "No day is left before the event for repairs and for paint that dries slowly."
        yield _times("reserve", 1, 3, "keep no day free before the event", cost, reserve=0)


def _shading(params: Params) -> Iterator[Change]:
    costs = {
        "alkyd": "It costs about as much as oil and blends for hours instead of days.",
        "acrylic": "It is cheaper, but dries while you work, so the tones run into each other less softly.",
    }
    for level, (name, cost) in enumerate(costs.items(), 1):
        if SHADING_DRY[name] < SHADING_DRY[params.shading]:
            yield _times("shading", level, level, f"shade with {name} paint", cost, shading=name)


def _primer(size: WorkAmounts) -> Iterator[Change]:
    words = {3: "three", 4: "four"}
    for level, coats in enumerate((LEAST_PRIMER + 1, LEAST_PRIMER), 1):
        if coats < size.primer_coats:
            cost = "The foam's grain shows a little more, and the skin under the paint is thinner."
            new = {"primer_coats": coats}
            yield Change("primer", level, level, f"{words[coats]} coats of primer", cost, new, {}, {"materials": new})


def _paint(size: WorkAmounts) -> Iterator[Change]:
    if max((coats for _, coats in size.coats), default=0) > LEAST_PAINT:
        fewer = {zone: LEAST_PAINT for zone, coats in size.coats if coats > LEAST_PAINT}
        left = tuple((zone, min(coats, LEAST_PAINT)) for zone, coats in size.coats)
        cost = "A pale colour may cover unevenly, and the paint wears through sooner."
        yield Change("paint", 1, 2, "two coats of paint", cost, {"coats": left}, {}, {"paint": {"coats": fewer}})


def _time(params: Params) -> Iterator[Change]:
    if params.hands == 1:
        cost = "Somebody must help you all the time, with a second set of tools."
        yield _times("hands", 1, 3, "two people at work", cost, hands=2)
    for level, more in enumerate((1, 2), 1):
        wanted = {
            "weekday_hours": round(min(params.weekday_hours + more, MOST_HOURS), 6),
            "weekend_hours": round(min(params.weekend + more, MOST_HOURS), 6),
        }
        if wanted["weekday_hours"] > params.weekday_hours or wanted["weekend_hours"] > params.weekend:
            word = "one more hour" if more == 1 else "two more hours"
            cost = f"It costs neither looks nor money, only {word} of your time every day."
            yield _times("hours", level, 3 * level - 1, f"{word} every day", cost, **wanted)


def _printing(size: WorkAmounts, params: Params) -> Iterator[Change]:
    if not parts(size):
        return
    if params.printer_hours < 24:
        cost = "The printer runs while you sleep or are out, which its maker must allow."
        yield _times("printer-hours", 1, 2, "let the printer run day and night", cost, printer_hours=24)
    if params.printers == 1:
        cost = "You pay its owner for the power and the wear; the filament is the same."
        yield _times("printers", 1, 2, "borrow a second printer", cost, printers=2)
    if size.infill > SPARSE:
        cost = "It saves filament, but masters and moulds yield when you press hard."
        new = {"infill": SPARSE}
        yield Change("infill", 1, 1, "print with 5 % infill", cost, new, {}, {"making": {"printer": new}})


def _spikes(size: WorkAmounts) -> Iterator[Change]:
    """Quicker spikes."""
    if not size.spikes or size.way == "bought":
        return

    def change(level: int, points: int, words: str, cost: str, **new: Any) -> Change:
        return Change("spikes", level, points, words, cost, new, {}, {"making": new})

    if size.way == "clay":
        if size.test_cube:
            text = "The spikes come out smaller than drawn, by what your clay shrinks, and the rings fit loosely."
            lines = {"making": {"shrinkage": 0}}
            yield Change("cube", 1, 3, "no test cube", text, {"test_cube": False}, {}, lines)
        if size.moulds:
            yield change(
                1, 3, "no moulds", "You model each spike by hand, so no two look quite the same.", moulds=False
            )
        if any(not part.mould for part in size.prints):
            text = (
                "They are harder and heavier, show their layers until you sand them, and filament costs more than clay."
            )
            yield change(2, 4, "print the spikes themselves", text, way="printed")
    text = "You pay for each spike, and take the shapes that shops have; rings and seats must be fitted to them."
    yield change(3, 5, "buy the spikes", text, way="bought")


def lines(changes: Sequence[Change]) -> str:
    """The changes as YAML, to paste at the end of a preset."""
    whole: dict[str, Any] = {}
    for change in changes:
        _join(whole, change.lines)
    return "\n".join([f"{INSTEAD}:", *_written(whole, "  ")]) + "\n"


def _join(whole: dict[str, Any], more: Mapping[str, Any]) -> None:
    for key, value in more.items():
        if isinstance(value, Mapping):
            _join(whole.setdefault(key, {}), value)
        else:
            whole[key] = value


def _written(values: Mapping[str, Any], indent: str) -> Iterator[str]:
    for key, value in values.items():
        if isinstance(value, Mapping):
            yield f"{indent}{key}:"
            yield from _written(value, f"{indent}  ")
        else:
            text = ("yes" if value else "no") if isinstance(value, bool) else f"{value}"
            yield f"{indent}{key}: {text.removesuffix('.0')}"
