"""The input of a seam plan."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from shellgen.core.arrays import Floats
from shellgen.geom.flattening import Shape
from shellgen.model import Layout, ShellMesh, Surface
from shellgen.pattern.limits import Limits

Flatten = Callable[[Sequence[Shape]], Sequence[tuple[float, Floats]]]
"""Flattens pieces independently: the most each must stretch or shrink anywhere (0.03 for 3 %; infinite if it overlaps
itself) and its outline, (k, 2) mm. One call for many takes less time."""


@dataclass(frozen=True, slots=True, eq=False)
class ChoiceProblem:
    """A plan that cuts along lines of the net returns their indices from `choose(problem, params)`.

    mesh   : on which the pieces must be within the limits
    coarse : a mesh of the same layout with edges two to three times as long, to search on
    limits : of the pieces
    avoid  : pieces that are not allowed, each by one of its cells and all lines that were cut with it
    """

    layout: Layout
    mesh: ShellMesh
    coarse: ShellMesh
    mid_offset: float
    limits: Limits
    flatten: Flatten
    avoid: tuple[tuple[int, tuple[int, ...]], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class CurveProblem:
    """A plan that draws its own lines returns them from `curves(problem, params)`, as uv polylines on the left half or
    along the midline; they and their mirror images are all that is cut."""

    surface: Surface
    mid_offset: float
    limits: Limits
    flatten: Flatten
