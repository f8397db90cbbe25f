"""The seams of another size of the same design, if the pieces are within the limits at this size too; else searched
from there.

Sizes of one design then look alike, and the search, which takes longest of all stages, is done once for all of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.fields.params import REQUIRED, count, many, text
from shellgen.model import Layout
from shellgen.pattern.plans._graph import SeamGraph, line_lengths
from shellgen.pattern.plans._judge import Judge
from shellgen.pattern.plans._problem import ChoiceProblem
from shellgen.pattern.plans._search import plate_walks, shortest


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    between: tuple[str, ...] = many(
        text(REQUIRED, 'Two plates that touch, such as "vertebral-2 / pleural-L-1".'),
        "Pairs of plates with a seam between them in the other size.",
        most=1000,
        default=REQUIRED,
    )
    walks: int = count(2, 1, 50, "How many searches are run if those seams exceed the limits.")


def choose(problem: ChoiceProblem, params: Params) -> tuple[int, ...]:
    """Lines to cut."""
    net = SeamGraph(problem.layout, line_lengths(problem.mesh, problem.mesh.offset(problem.mid_offset)))
    judge = Judge(problem, net)
    wanted = set(params.between)
    chosen = np.array([pair(problem.layout, choice[0]) in wanted for choice in net.choices])
    whole = net.anchored(net.cut(chosen))
    if whole and judge.confirm(net.parts(chosen)):
        return net.lines(chosen)
    everything = np.ones(len(net.choices), dtype=bool)
    start = chosen if whole else None
    return net.lines(shortest(net, judge, everything, *plate_walks(net, judge), walks=params.walks, start=start))


def pairs(layout: Layout, lines: tuple[int, ...]) -> tuple[str, ...] | None:
    """The pairs that define the lines of a plan and their mirror images, or None if they are ambiguous:
    if the same two plates touch along one line that is cut and another that is not, or a line is in no pair.
    """
    cut = set(lines)
    if any(layout.lines[line].kind != "plate" for line in cut):
        return None
    named = {pair(layout, line) for line in cut}
    every = {i for i, line in enumerate(layout.lines) if line.kind == "plate"}
    return tuple(sorted(named)) if {i for i in every if pair(layout, i) in named} == cut else None


def pair(layout: Layout, line: int) -> str:
    """The two plates on both sides of a line, by name."""
    hands = (layout.lines[line].left, layout.lines[line].right)
    return " / ".join(sorted(layout.plates[layout.cell_plate[cell]].name for cell in hands))
