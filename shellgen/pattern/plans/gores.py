"""Plain gores: seams along meridians from the crown to the rim.

The gores are as wide as the stretch allows: they are wider where the dome is flatter, so that all have the same
strain, and their number is the least that stays under the limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.errors import FitError
from shellgen.fields.params import count
from shellgen.pattern.plans._graph import PieceBits, SeamGraph, line_lengths
from shellgen.pattern.plans._judge import Judge
from shellgen.pattern.plans._problem import ChoiceProblem, CurveProblem
from shellgen.pattern.plans._rosette import RAY, direction, evenly, rosette

MOST = 40
RAYS, ROWS = 40, 10
"""Approximate numbers of rays, and of rows on each, with which gores are tested."""

LEAP = 0.8
"""Share of the step to the number that the strain requires; strain falls with the square of the number. Chosen."""

ROUNDS = 4
"""Times the widths are adjusted; the strain of a gore grows with the square of its width, so this converges fast."""

EVENING = 0.4
"""Power of the strain by which a gore's width is adjusted; 0.5 would be a full step. Chosen for stable convergence."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    gores: int | None = count(
        None, 2, MOST, "How many gores; if left out, the fewest that stay under the stretch limit."
    )


def curves(problem: CurveProblem, params: Params) -> tuple[Floats, ...]:
    """Each seam of the left half or the midline from the rim to the crown, (n, 2) uv."""
    number = 2 if params.gores is None else params.gores
    while number <= MOST:
        worst, turns = min((_trial(problem, seams) for seams in _families(number)), key=lambda trial: trial[0])
        if worst <= 1.0 or params.gores is not None:
            return tuple(_seam(float(turn)) for turn in turns)
        number = max(number + 1, int(LEAP * number * worst**0.5))
    raise FitError(f"even {MOST} gores stretch more than the limit of {100 * problem.limits.stretch_limit:.2g} %")


def _families(number: int) -> list[tuple[bool, bool, int]]:
    """(seam at the head, seam at the tail, seams on the left between) of each way to arrange this number of gores."""
    ways = [(head, tail, number - head - tail) for head, tail in product((False, True), repeat=2)]
    return [(head, tail, rest // 2) for head, tail, rest in ways if rest >= 0 and rest % 2 == 0]


def _trial(problem: CurveProblem, family: tuple[bool, bool, int]) -> tuple[float, Floats]:
    """Largest load of a gore, and the turns of the seams on the left half, once the gores have equal strain."""
    head, tail, between = family
    rim = evenly(problem.surface, RAYS, offset=problem.mid_offset)[: RAYS // 2 + 1]
    widths = np.ones(between + 1)
    widths[0] *= 1.0 if head else 0.5  # half a gore, the other half is on the right
    widths[-1] *= 1.0 if tail else 0.5
    for _ in range(ROUNDS):
        shares = np.append(0.0, np.cumsum(widths)) / widths.sum()
        ends = np.interp(shares, np.linspace(0.0, 1.0, len(rim)), rim)
        judge, gores = _cut(problem, ends, head, tail)
        loads = np.maximum([judge.load(gore) for gore in gores], 1e-3)
        widths = widths * (loads.mean() / loads) ** EVENING
    judge.measure(gores)
    seams = ends[0 if head else 1 : None if tail else -1]
    return max(judge.load(gore) for gore in gores), seams


def _cut(problem: CurveProblem, ends: Floats, head: bool, tail: bool) -> tuple[Judge, tuple[PieceBits, ...]]:
    """The gores between `ends` on the left half, from head to tail."""
    counts = np.maximum(np.round(np.diff(ends) * RAYS / (2 * np.pi)).astype(int), 2)
    left = np.concatenate(
        [*(np.linspace(a, b, n, endpoint=False) for a, b, n in zip(ends, ends[1:], counts, strict=False)), ends[-1:]]
    )
    turns = np.concatenate([left, 2 * np.pi - left[-2:0:-1]])
    dome = rosette(problem.surface, turns, ROWS, offset=problem.mid_offset)
    choices = ChoiceProblem(dome.layout, dome.fine, dome.mesh, problem.mid_offset, problem.limits, problem.flatten)
    net = SeamGraph(dome.layout, line_lengths(dome.mesh, dome.mesh.offset(problem.mid_offset)), kinds=(RAY,))
    starts = np.append(0, np.cumsum(counts))
    cut = starts[0 if head else 1 : None if tail else -1]
    chosen = np.array([choice[0] % len(turns) in cut or choice[-1] % len(turns) in cut for choice in net.choices])
    parts = net.part_of_cells(net.cut(chosen))
    return Judge(choices, net), tuple(parts[int(start)] for start in starts[:-1])


def _seam(turn: float) -> Floats:
    uv = np.linspace(1.0, 0.0, 33)[:, None] * direction(turn)
    return uv * (1, 0) if turn in (0.0, np.pi) else uv
