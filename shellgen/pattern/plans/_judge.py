"""How much of what is allowed a piece takes up: guessed for the search, measured before it is believed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.geom.triangles import areas
from shellgen.model import ShellMesh
from shellgen.pattern.plans._estimate import Estimate
from shellgen.pattern.plans._graph import Inside, Net, Part, ones, patch
from shellgen.pattern.plans._shape import neck_load, size_load
from shellgen.pattern.plans._task import Task

FIRST_RATIO = 0.65
"""Least stretch over the estimate, before any is measured: 2/3 on a spherical cap, less for a piece with darts."""

MATES = 1.06
"""What it costs in stretch to make mates equal, over pieces flattened alone. Measured: 4 to 8 percent."""

FORBIDDEN = 10.0
"""Load of a piece that is ruled out whatever its shape. Chosen: far above any that a search could pay for."""


class Measured(NamedTuple):
    """stretch : on the coarse mesh; size, neck : loads of the flat piece; ratio : stretch over the estimate"""

    stretch: float
    size: float
    neck: float
    ratio: float


def _likest(part: Part, others: Iterable[Part]) -> Part:
    """The one with fewest cells and darts that only one of the two has."""
    return min(others, key=part.unlike)


class Judge:
    """Loads by `Part`: 1 is the most that is allowed. A piece that cannot be divided is always allowed."""

    def __init__(self, task: Task, net: Net) -> None:
        self.task, self.net = task, net
        self.limit = task.limits.stretch_limit / MATES
        self.caution = 1.0  # on guesses
        self.measured: dict[Part, Measured] = {}
        self._scales: dict[Part, float] = {}  # stretch on the fine mesh over that on the coarse one
        self._coarse = task.coarse.offset(task.mid_offset)
        self._estimate = Estimate(net, task.coarse, self._coarse)
        self._areas = np.bincount(task.coarse.face_cell, areas(self._coarse, task.coarse.faces)).tolist()
        self._summed: dict[int, float] = {}
        self._known: dict[Part, tuple[Inside, float]] = {}
        self._guesses: dict[Part, float] = {}
        self._avoided = {net.part_at(cell, sum(1 << line for line in lines)) for cell, lines in task.avoid}

    def be_cautious(self, factor: float) -> None:
        """Takes guesses for so much more than they say."""
        self.caution = factor
        self._guesses.clear()

    def load(self, part: Part) -> float:
        """Measured if it was, else guessed."""
        if part not in self._guesses:
            self._guesses[part] = self._load(part)
        return self._guesses[part]

    def _load(self, part: Part) -> float:
        inside, estimate = self._look(part)
        if not inside.choices:
            return 0.0
        if part.dart_bits and not self.task.limits.darts:
            return FORBIDDEN
        known = self.measured.get(part)
        if known:
            load = max(self._scale(part) * known.stretch / self.limit, known.size, known.neck)
            return min(load, FORBIDDEN)  # endless where it overlaps itself, and the search must come back from that
        ratio, size = self._guessed(part)
        stretch = self._scale(part) * ratio * estimate / self.limit
        return max(self.caution * max(stretch, size), self._neck(inside))

    def _guessed(self, part: Part) -> tuple[float, float]:
        """Stretch over the estimate, and load by size, from the likest piece that was measured."""
        if not self.measured:
            return FIRST_RATIO, 0.0
        near = _likest(part, self.measured)
        known = self.measured[near]
        return known.ratio, known.size * (self._area(part) / self._area(near)) ** 0.5

    def _area(self, part: Part) -> float:
        if part.cell_bits not in self._summed:
            self._summed[part.cell_bits] = sum(self._areas[cell] for cell in ones(part.cell_bits))
        return self._summed[part.cell_bits]

    def _look(self, part: Part) -> tuple[Inside, float]:
        if part not in self._known:
            inside = self.net.inside(part)
            self._known[part] = inside, self._estimate(part, inside)
        return self._known[part]

    def _scale(self, part: Part) -> float:
        return self._scales[_likest(part, self._scales)] if self._scales else 1.0

    def _neck(self, inside: Inside) -> float:
        """A line that is not cut but runs from outline to outline is a neck if it is short."""
        width = self.task.limits.neck
        lengths = (self.net.line_lengths[line] for line in inside.bridges)
        return max((width / length for length in lengths if length < width), default=0.0)

    def measure(self, parts: Iterable[Part]) -> bool:
        """Measures pieces on the coarse mesh; whether all are allowed."""
        wanted = list(parts)
        new = [part for part in wanted if part not in self.measured]
        for part, (stretch, size, neck) in zip(new, self._laid(new, self.task.coarse, self._coarse), strict=True):
            guess = self._look(part)[1]
            ratio = stretch / guess if guess > 0 and np.isfinite(stretch) else FIRST_RATIO
            self.measured[part] = Measured(stretch, size, neck, ratio)
        if new:
            self._guesses.clear()
        return all(self.load(part) <= 1.0 for part in wanted)

    def confirm(self, parts: Sequence[Part]) -> bool:
        """Measures pieces on the fine mesh and learns how much the coarse one is off; whether all are allowed."""
        laid = self._laid(parts, self.task.mesh, self.task.mesh.offset(self.task.mid_offset))
        divisible = [bool(self._look(part)[0].choices) for part in parts]
        if not any(divisible):
            return True
        self.measure(parts)
        for part, (stretch, _, _) in zip(parts, laid, strict=True):
            coarse = self.measured[part].stretch
            scale = stretch / coarse if coarse > 0 else 1.0  # a piece so small that it lies flat as it is
            self._scales[part] = scale if np.isfinite(scale) else 1.0
        self._guesses.clear()
        return all(
            max(fine / self.limit, size, neck) <= 1.0
            for (fine, size, neck), may in zip(laid, divisible, strict=True)
            if may
        )

    def _laid(self, parts: Sequence[Part], mesh: ShellMesh, points: Floats) -> list[tuple[float, float, float]]:
        """(stretch, load by size, load by neck) of each."""
        patches = [patch(mesh, points, part, astride=self.net.count(part) == 1) for part in parts]
        limits = self.task.limits
        sheet = (limits.sheet_length, limits.sheet_width)
        return [
            (np.inf if part in self._avoided else stretch, size_load(outline, sheet), neck_load(outline, limits.neck))
            for part, (stretch, outline) in zip(parts, self.task.flatten(patches) if patches else (), strict=True)
        ]
