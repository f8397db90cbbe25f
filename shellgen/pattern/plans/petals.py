"""One piece with darts from the rim towards the crown: gores that stay joined at the crown.

How many darts, where and how deep is searched on rays from the crown, for the least total length under the limit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.errors import FitError
from shellgen.fields.params import count
from shellgen.model.said import shares_apart
from shellgen.pattern.plans._anneal import Change, Proposal, anneal
from shellgen.pattern.plans._graph import PieceBits, SeamGraph, line_lengths
from shellgen.pattern.plans._judge import Judge
from shellgen.pattern.plans._problem import ChoiceProblem, CurveProblem
from shellgen.pattern.plans._rosette import RAY, Rosette, direction, evenly, rosette
from shellgen.pattern.plans._search import Walk, shortest

RAYS, ROWS = 32, 10
"""Rays around the dome and rows on each. Chosen: darts may be 50 mm apart and end every 35 mm on an adult's shell."""

TRIALS = 4
"""Halvings in search of the row's fraction at which all darts may end."""

STEPS, MEND_STEPS = 2500, 600
HOT, COLD = 1.5, 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    walks: int = count(3, 1, 20, "How many searches are run: more may find shorter darts, but take longer.")


def curves(problem: CurveProblem, params: Params) -> tuple[Floats, ...]:
    """Each dart of the left half from its mouth on the rim to its tip, (n, 2) uv. FitError if no darts are enough."""
    dome, net, judge = prepared(problem, 0.0)
    columns = by_ray(dome, net)
    safest, start = np.zeros((2, len(net.choices)), dtype=bool)
    safest[columns[:, 1:]] = start[columns[::3, ROWS // 2 :]] = True
    most = net.parts(safest)
    if not judge.measure(most) and judge.limit < judge.measured[most[0]].stretch < np.inf:  # fewer darts stretch more
        raise FitError(_why(judge, most[0], problem))
    chosen = shortest(net, judge, safest, *_walks(net, judge, columns), walks=params.walks, start=start)
    if chosen is safest and not judge.confirm(most):
        raise FitError(_why(judge, most[0], problem))
    dome = _shortened(problem, net.parts(chosen))
    return tuple(_dart(dome, ray, int(depth)) for ray, depth in enumerate(chosen[columns].sum(axis=1)) if depth)


def _why(judge: Judge, part: PieceBits, problem: CurveProblem) -> str:
    """Why the piece exceeds the limits even with every possible dart."""
    found, limits = judge.measured[part], problem.limits
    if found.size > 1:
        return (
            f"in one piece the dome is {found.size:.2f} times too large for a sheet of {limits.sheet_length:.0f} x "
            f"{limits.sheet_width:.0f} mm"
        )
    if found.neck > 1:
        return f"in one piece the dome has a neck narrower than {limits.neck:.0f} mm"
    if found.stretch <= judge.limit:
        return "in one piece with darts the dome stretches too far or overlaps itself on a finer mesh"
    by, allowed = shares_apart(found.stretch / judge.limit * limits.stretch_limit, limits.stretch_limit)
    return f"even with {RAYS} darts the dome stretches {by} in one piece; the limit is {allowed}"


def prepared(problem: CurveProblem, shift: float) -> tuple[Rosette, SeamGraph, Judge]:
    turns = evenly(problem.surface, RAYS, offset=problem.mid_offset)
    dome = rosette(problem.surface, turns, ROWS, offset=problem.mid_offset, shift=shift)
    choices = ChoiceProblem(dome.layout, dome.fine, dome.mesh, problem.mid_offset, problem.limits, problem.flatten)
    net = _Whole(dome.layout, line_lengths(dome.mesh, dome.mesh.offset(problem.mid_offset)), kinds=(RAY,))
    return dome, net, Judge(choices, net)


def _shortened(problem: CurveProblem, parts: Sequence[PieceBits]) -> Rosette:
    """The rosette with its rings as far out as the limits allow: all darts end slightly earlier."""
    low, high = 0.0, 0.9
    for _ in range(TRIALS):
        middle = 0.5 * (low + high)
        allowed = prepared(problem, middle)[2].confirm(parts)
        low, high = (middle, high) if allowed else (low, middle)
    return prepared(problem, low)[0]


class _Whole(SeamGraph):
    """A net that no choice divides, since no dart reaches the crown."""

    def part_at(self, cell: int, cut: int) -> PieceBits:
        return PieceBits(self.everything, cut)


def by_ray(dome: Rosette, net: SeamGraph) -> Ints:
    """(rays of the left half, rows) the choice of each stretch of ray, from the crown out."""
    owner = {line: c for c, choice in enumerate(net.choices) for line in choice}
    rays = len(dome.turns)
    return np.array([[owner[row * rays + ray] for row in range(len(dome.radii))] for ray in range(rays // 2 + 1)])


def _walks(net: SeamGraph, judge: Judge, columns: Ints) -> tuple[Walk, Walk]:
    move = _deepen_or_shift(columns)

    def walk(start: Bools, seed: int) -> Bools:
        return anneal(net, start, judge.load, move, steps=STEPS, seed=seed, hot=HOT, cold=COLD)

    def repair(chosen: Bools, seed: int) -> Bools:
        return anneal(net, chosen, judge.load, move, steps=MEND_STEPS, seed=seed, hot=0.5 * HOT, cold=COLD)

    return walk, repair


def _deepen_or_shift(columns: Ints) -> Proposal:
    """Makes a dart one row deeper or less deep, moves it to the next ray, or shifts depth to the next ray."""
    rays, rows = columns.shape

    def move(chosen: Bools, draws: Sequence[float]) -> Change:
        ray = int(draws[0] * rays)
        depth = int(chosen[columns[ray]].sum())
        neighbour = min(max(ray + (1 if draws[2] < 0.5 else -1), 0), rays - 1)
        other = int(chosen[columns[neighbour]].sum())
        if draws[1] < 0.5:
            wanted = {ray: depth + (1 if draws[2] < 0.5 else -1)}
        elif draws[1] < 0.7:
            wanted = {ray: 0, neighbour: max(depth, other)}
        elif draws[1] < 0.85:
            wanted = {ray: depth - 1, neighbour: other + 1}
        else:
            wanted = {ray: int(draws[2] * rows)}
        change: list[int] = []
        for k, deep in wanted.items():
            deep = min(max(deep, 0), rows - 1)
            now = int(chosen[columns[k]].sum())
            change += columns[k, rows - max(deep, now) : rows - min(deep, now)].tolist()
        return tuple(change)

    return move


def _dart(dome: Rosette, ray: int, depth: int) -> Floats:
    radii = np.append(0.0, dome.radii)[::-1][: depth + 1]
    uv = radii[:, None] * direction(float(dome.turns[ray]))
    return uv * (1, 0) if ray in (0, len(dome.turns) // 2) else uv
