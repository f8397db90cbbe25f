"""One piece per plate: every plate line is cut."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen.pattern.plans._problem import ChoiceProblem


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    pass


def choose(problem: ChoiceProblem, params: Params) -> tuple[int, ...]:
    """Lines to cut."""
    return tuple(i for i, line in enumerate(problem.layout.lines) if line.kind == "plate")
