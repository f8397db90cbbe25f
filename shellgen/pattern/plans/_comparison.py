"""Compares the seam plan of a shell with others: whether one of these needs much less seam, or keeps a stretch limit
that the shell's own pieces exceed. Every plan that a message names has been computed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.model import Cut, Finding, Layout, Pattern, ShellMesh
from shellgen.model.said import count
from shellgen.pattern import checks
from shellgen.pattern.limits import Limits
from shellgen.pattern.plans import petals
from shellgen.pattern.plans._graph import line_lengths
from shellgen.pattern.plans._problem import CurveProblem

MUCH_LONGER = 2.0
"""If the seams are this many times as long as those of another plan, a caution names it. Chosen."""

WORTH_COMPARING = 1.6
"""Seams this many times as long as the quick estimate are compared with computed plans. Chosen: on 8 domes the best of
these came to 0.96 to 1.2 of the estimate."""

SPACINGS = (2, 3, 4, 5, 6, 8, 11)
"""Rays from one dart of the estimate to the next."""


@dataclass(frozen=True, slots=True, eq=False)
class OwnPlan:
    """The result of the shell's own plan.

    length : of all seams, mm; stretch : the most of any flat piece; short : share of plate lines below the least neck
    over   : the finding of stretch over its limit
    """

    plan: str
    length: float
    stretch: float
    short: float
    over: Finding | None


@dataclass(frozen=True, slots=True, eq=False)
class Other:
    """Another plan that keeps all limits; length : of all its seams, mm."""

    plan: str
    seams: int
    length: float

    def __str__(self) -> str:
        return f"{count(self.seams, 'seam')}, {_metres(self)} in all (seams: plan: {self.plan})"


def own_plan(layout: Layout, mesh: ShellMesh, cut: Cut, pattern: Pattern, limits: Limits) -> OwnPlan:
    """The result of the plan named in `limits`."""
    lengths = line_lengths(mesh, mesh.offset(pattern.mid_offset))
    return OwnPlan(
        plan=limits.plan,
        length=sum(seam.design_length for seam in cut.seams),
        stretch=max(checks.largest_stretch(pattern)),
        short=short_lines(layout, lengths, limits.neck),
        over=next(checks.stretched(cut, pattern, limits.stretch_limit), None),
    )


def findings(problem: CurveProblem, own: OwnPlan, others: Iterable[Other]) -> tuple[Finding, ...]:
    """What another plan would do better; empty if none is better, which a quick estimate usually shows.

    others : computed one by one as they are asked for: the first that does better is named
    """
    if own.over:
        return (_plan_within_limit(own, own.over, next(iter(others), None)),)
    if own.length <= WORTH_COMPARING * estimated_length(problem):
        return ()
    shorter = next((other for other in others if own.length > MUCH_LONGER * other.length), None)
    return (_shorter_plan(own, shorter),) if shorter else ()


def short_lines(layout: Layout, lengths: Floats, neck: float) -> float:
    """The share of plate lines shorter than the least neck. lengths : (lines,) mm"""
    plate = np.array([line.kind == "plate" for line in layout.lines])
    return float((lengths[plate] < neck).mean()) if plate.any() else 0.0


def estimated_length(problem: CurveProblem) -> float:
    """The estimated length, mm, of the darts if one piece has them evenly spaced and equally deep; nothing is
    flattened. Infinite if no such darts are enough."""
    dome, net, judge = petals.prepared(problem, 0.0)
    choices, rows = petals.by_ray(dome, net), len(dome.radii)
    least = np.inf
    for step in SPACINGS:
        for start, depth in product(range(step), range(rows)):
            chosen = np.zeros(len(net.choices), dtype=bool)
            chosen[choices[start::step, rows - depth :]] = True
            length = net.length(chosen)
            if length < least and judge.load(net.parts(chosen)[0]) <= 1:
                least = length
    return least


def _plan_within_limit(own: OwnPlan, over: Finding, other: Other | None) -> Finding:
    if other:
        remedy = f"The plan {other.plan} keeps the limit: {other}. The seams chosen are {_metres(own)} long."
    else:
        remedy = "No other plan keeps the limit."
    return replace(over, text=f"{over.text} {remedy} These pieces need a limit of {_percent_up(own.stretch)}.")


def _shorter_plan(own: OwnPlan, other: Other) -> Finding:
    if own.plan == "plates":
        why = " Every plate is a piece of its own."
    elif own.plan != "least":
        why = ""
    elif own.short > 0.5:
        why = f" {own.short:.0%} of the plates' lines are shorter than least_neck and must be cut."
    else:
        why = " Seams along the plates' lines turn at every corner; seams across the plates run straight."
    remedy = f"The plan {other.plan} needs shorter seams on this dome: {other}."
    return Finding("caution", "seams", f"The seams are {_metres(own)} long in all.{why} {remedy}")


def _percent_up(share: float) -> str:
    """Rounded up to a tenth, so that what is shown is enough."""
    return f"{np.ceil(1000 * share) / 10:.1f} %"


def _metres(plan: OwnPlan | Other) -> str:
    return f"{plan.length / 1000:.2f} m"
