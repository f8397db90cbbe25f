"""One piece per plate: every plate line is cut."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen.pattern.plans._task import Task


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    pass


def choose(task: Task, params: Params) -> tuple[int, ...]:
    """Lines to cut."""
    return tuple(i for i, line in enumerate(task.layout.lines) if line.kind == "plate")
