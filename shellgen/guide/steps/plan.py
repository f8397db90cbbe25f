"""The days: what is done when, and what helps if there are too few."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from shellgen.guide.kit import Kit, plural
from shellgen.guide.leaf import Block, Lines, Step, Words
from shellgen.guide.steps._cautions import WATCHED
from shellgen.record.plan import NoPlanEntry, PlanEntry

PLACE = 15


def steps(kit: Kit) -> Iterator[Step]:
    plan = kit.figures.plan
    if isinstance(plan, NoPlanEntry):
        return
    yield kit.step(
        "plan",
        "Plan your days",
        needs=("checked size",),
        makes=(),
        blocks=(
            Words(_whole(plan)),
            Words(_files(kit, plan)),
            *_printer(plan),
            *_in_time(plan),
        ),
    )


def _whole(plan: PlanEntry) -> str:
    printer = f" and {plan.printer_h:.0f} hours of printing" if plan.printer_h else ""
    days = f"{plan.hands_h:.0f} hours of work{printer}, in {plural(plan.days, 'day')}"
    if not (plan.begin and plan.ready and plan.event):
        return f"{days}. Write the day of the event into the preset (schedule: event), and every step gets its date."
    first, last, worn = (_day(time) for time in (plan.begin, plan.ready, plan.event))
    return f"{days}: begin on {first}, and all is ready on {last}. The shell is worn on {worn}."


def _day(time: str) -> str:
    day = date.fromisoformat(time[:10])
    return f"{day:%A} {day.day} {day:%B}"


def _files(kit: Kit, plan: PlanEntry) -> str:
    calendar = " plan.ics brings it into your calendar." if plan.event else ""
    return (
        f"plan-{kit.preset.print.paper}.pdf shows every day on one page.{calendar} Jobs that fit into one evening are "
        "never split over two. Drying times are typical values: the labels of your products come first."
    )


def _printer(plan: PlanEntry) -> tuple[Block, ...]:
    if not plan.printer_h:
        return ()
    text = (
        "The printer runs by itself while you work, sleep or wait. Stay until the first layer holds, and empty the bed "
        "when the run has ended."
    )
    return WATCHED, Words(text)


def _in_time(plan: PlanEntry) -> Iterator[Block]:
    """The sets of changes, each with its lines."""
    if plan.offers:
        yield Words(
            "To be ready in time, paste the lines of one of these sets at the end of the preset, and build again."
        )
    for number, offer in enumerate(plan.offers, 1):
        yield Words(f"Set {number}. " + " ".join(f"{one.change.capitalize()}: {one.cost}" for one in offer.changes))
        yield Lines(offer.lines)
