"""The seam plan of a shell against the plans that draw their own lines: whether one of these saves much seam, or keeps
a stretch limit that the shell's own pieces exceed. Each plan that is named has been computed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from shellgen.core import registry
from shellgen.errors import ShellgenError
from shellgen.geom.curves import arc_length
from shellgen.model import Cut, Finding, Layout, Pattern, ShellMesh
from shellgen.pattern.plans import petals
from shellgen.pattern.plans._graph import line_lengths
from shellgen.pattern.plans._task import Ground

DEAR = 2.0
"""Seams this many times as long as those of another plan are named. Chosen."""

DOUBTFUL = 1.6
"""Seams this many times as long as the quick estimate are compared with computed plans. Chosen: on 8 domes the best of
these came to 0.96 to 1.2 of the estimate."""

SPACINGS = (2, 3, 4, 5, 6, 8, 11)
"""Rays from one dart of the estimate to the next."""

EXCEEDED = 1.001
"""Stretch over its limit from which it counts as exceeded: less is a rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """What the shell's own plan came to.

    length : of all seams, mm; stretch : the most of any flat piece; short : share of plate lines below the least neck
    """

    plan: str
    length: float
    stretch: float
    short: float


@dataclass(frozen=True, slots=True, eq=False)
class Other:
    """Another plan that keeps all limits; length : of all its seams, mm."""

    plan: str
    seams: int
    length: float


def chosen(layout: Layout, mesh: ShellMesh, cut: Cut, pattern: Pattern, *, plan: str, neck: float) -> Chosen:
    """What a plan came to. neck : the least neck, mm"""
    most = max(max(flat.stretch[:, 1].max() - 1, 1 - flat.stretch[:, 0].min()) for flat in pattern.flats)
    short = short_lines(layout, line_lengths(mesh, mesh.offset(pattern.mid_offset)), neck)
    return Chosen(plan, sum(seam.design_length for seam in cut.seams), float(most), short)


def findings(ground: Ground, own: Chosen) -> tuple[Finding, ...]:
    """What another plan would do better; nothing where none does, which a quick estimate mostly settles."""
    exceeded = own.stretch > EXCEEDED * ground.limits.stretch_limit
    if not exceeded and own.length <= DOUBTFUL * estimated_length(ground):
        return ()
    others = sorted(_others(ground, own.plan), key=lambda other: other.length)
    if exceeded:
        return (_kept_by(ground.limits.stretch_limit, own, others),)
    if others and own.length > DEAR * others[0].length:
        return (_dearer(own, others[0]),)
    return ()


def short_lines(layout: Layout, lengths: NDArray, neck: float) -> float:
    """The share of plate lines shorter than the least neck. lengths : (lines,) mm"""
    plate = np.array([line.kind == "plate" for line in layout.lines])
    return float((lengths[plate] < neck).mean()) if plate.any() else 0.0


def estimated_length(ground: Ground) -> float:
    """About the length, mm, of the darts if one piece has them evenly spaced and equally deep; nothing is laid flat.
    Endless if no such darts will do."""
    dome, net, judge = petals.stage(ground, 0.0)
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


def _others(ground: Ground, own: str) -> Iterator[Other]:
    for name in {"gores", "petals"} - {own}:
        plan = registry.load("shellgen.pattern.plans", name)
        try:
            curves = plan.curves(ground, plan.Params())
        except ShellgenError:
            continue  # this plan keeps the limits no better
        sides = [2 if curve[:, 1].any() else 1 for curve in curves]  # a curve off the midline has a mirror image
        lengths = [arc_length(ground.surface.points(curve, offset=ground.mid_offset))[-1] for curve in curves]
        yield Other(name, sum(sides), float(np.dot(sides, lengths)))


def _kept_by(limit: float, own: Chosen, others: list[Other]) -> Finding:
    most, least = _apart(100 * own.stretch, 100 * limit)
    raised = np.ceil(1000 * own.stretch) / 10
    text = f"Forming stretches or presses the pieces by up to {most} %, more than the limit of {least} %."
    if others:
        best = others[0]
        text += (
            f" The plan {best.plan} keeps the limit with {best.seams} seams, {_metres(best)} in all instead of "
            f"{_metres(own)} (seams: plan: {best.plan}). To keep these seams, raise stretch_limit to {raised:.1f} %."
        )
    else:
        text += (
            f" No other plan keeps it either. Raise stretch_limit to {raised:.1f} %, or make the dome flatter or its "
            "plates smaller."
        )
    return Finding("caution", "seams", text)


def _dearer(own: Chosen, best: Other) -> Finding:
    why = {"plates": " Every plate is a piece of its own.", "listed": "", "kept": "", "gores": "", "petals": ""}
    along = " Seams along the plates' lines turn at every corner; seams across the plates run straight."
    if own.short > 0.5:
        along = f" {own.short:.0%} of the plates' lines are shorter than least_neck and must be cut; lower it."
    text = (
        f"The seams are {_metres(own)} long in all; the plan {best.plan} needs {_metres(best)} on the same dome."
        f"{why.get(own.plan, along)} To change it: seams: plan: {best.plan}."
    )
    return Finding("caution", "seams", text)


def _apart(one: float, other: float) -> tuple[str, str]:
    """Two figures with as many decimals as show that they differ."""
    places = next(n for n in range(1, 10) if n == 9 or f"{one:.{n}f}" != f"{other:.{n}f}")
    return f"{one:.{places}f}", f"{other:.{places}f}"


def _metres(plan: Chosen | Other) -> str:
    return f"{plan.length / 1000:.2f} m"
