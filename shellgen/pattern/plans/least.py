"""Least total seam along the plate lines, so that every seam is hidden in a score line.

Which lines to cut is searched on the net of plates: walks on a quick estimate of the stretch, each result measured by
flattening its pieces. The number of steps is fixed, so the result is always the same.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.fields.params import count
from shellgen.pattern.plans._graph import SeamGraph, line_lengths
from shellgen.pattern.plans._judge import Judge
from shellgen.pattern.plans._problem import ChoiceProblem
from shellgen.pattern.plans._search import plate_walks, shortest


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    walks: int = count(
        3, 1, 50, "How many sets of seams are found first: more may find shorter seams, but take longer."
    )


def choose(problem: ChoiceProblem, params: Params) -> tuple[int, ...]:
    """Lines to cut."""
    net = SeamGraph(problem.layout, line_lengths(problem.mesh, problem.mesh.offset(problem.mid_offset)))
    judge = Judge(problem, net)
    everything = np.ones(len(net.choices), dtype=bool)
    return net.lines(shortest(net, judge, everything, *plate_walks(net, judge), walks=params.walks))
