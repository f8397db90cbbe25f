"""The load of a piece, as a share of what is allowed: estimated for the search, and measured before it is used."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.geom.triangles import areas
from shellgen.model import ShellMesh
from shellgen.pattern.plans._estimate import Estimate
from shellgen.pattern.plans._graph import Inside, PieceBits, SeamGraph, ones, opened_shape
from shellgen.pattern.plans._problem import ChoiceProblem
from shellgen.pattern.plans._shape import neck_load, size_load

FIRST_RATIO = 0.65
"""Least stretch over the estimate, before any is measured: 2/3 on a spherical cap, less for a piece with darts."""

MATES = 1.06
"""Factor by which equal mates raise the stretch, compared with pieces flattened independently. Measured: 4 to 8
percent."""

FORBIDDEN = 10.0
"""Load of a piece that is not allowed whatever its shape. Chosen: far above any that a search could accept."""


class Measured(NamedTuple):
    """stretch : on the coarse mesh; size, neck : loads of the flat piece; ratio : stretch over the estimate"""

    stretch: float
    size: float
    neck: float
    ratio: float


def _most_similar(part: PieceBits, others: Iterable[PieceBits]) -> PieceBits:
    """The one that differs in the fewest cells and darts."""
    return min(others, key=part.difference)


class Judge:
    """Loads by `PieceBits`: 1 is the most that is allowed. A piece that cannot be divided is always allowed."""

    def __init__(self, problem: ChoiceProblem, net: SeamGraph) -> None:
        self.problem, self.net = problem, net
        self.limit = problem.limits.stretch_limit / MATES
        self.caution = 1.0  # on guesses
        self.measured: dict[PieceBits, Measured] = {}
        self._scales: dict[PieceBits, float] = {}  # stretch on the fine mesh over that on the coarse one
        self._coarse = problem.coarse.offset(problem.mid_offset)
        self._estimate = Estimate(net, problem.coarse, self._coarse)
        self._areas = np.bincount(problem.coarse.face_cell, areas(self._coarse, problem.coarse.faces)).tolist()
        self._summed: dict[int, float] = {}
        self._known: dict[PieceBits, tuple[Inside, float]] = {}
        self._guesses: dict[PieceBits, float] = {}
        self._avoided = {net.part_at(cell, sum(1 << line for line in lines)) for cell, lines in problem.avoid}

    def be_cautious(self, factor: float) -> None:
        """Multiplies estimates by a factor from now on."""
        self.caution = factor
        self._guesses.clear()

    def load(self, part: PieceBits) -> float:
        """The measured load, or else the estimated one."""
        if part not in self._guesses:
            self._guesses[part] = self._load(part)
        return self._guesses[part]

    def _load(self, part: PieceBits) -> float:
        inside, estimate = self._inside_and_estimate(part)
        if not inside.choices:
            return 0.0
        if part.dart_bits and not self.problem.limits.darts:
            return FORBIDDEN
        known = self.measured.get(part)
        if known:
            load = max(self._scale(part) * known.stretch / self.limit, known.size, known.neck)
            return min(load, FORBIDDEN)  # infinite if it overlaps itself, and the search must be able to continue
        ratio, size = self._guessed(part)
        stretch = self._scale(part) * ratio * estimate / self.limit
        return max(self.caution * max(stretch, size), self._neck(inside))

    def _guessed(self, part: PieceBits) -> tuple[float, float]:
        """Stretch over the estimate, and load by size, from the most similar piece that was measured."""
        if not self.measured:
            return FIRST_RATIO, 0.0
        near = _most_similar(part, self.measured)
        known = self.measured[near]
        return known.ratio, known.size * (self._area(part) / self._area(near)) ** 0.5

    def _area(self, part: PieceBits) -> float:
        if part.cell_bits not in self._summed:
            self._summed[part.cell_bits] = sum(self._areas[cell] for cell in ones(part.cell_bits))
        return self._summed[part.cell_bits]

    def _inside_and_estimate(self, part: PieceBits) -> tuple[Inside, float]:
        if part not in self._known:
            inside = self.net.inside(part)
            self._known[part] = inside, self._estimate(part, inside)
        return self._known[part]

    def _scale(self, part: PieceBits) -> float:
        return self._scales[_most_similar(part, self._scales)] if self._scales else 1.0

    def _neck(self, inside: Inside) -> float:
        """A line that is not cut but connects two points of the outline is a neck if it is short."""
        width = self.problem.limits.neck
        lengths = (self.net.line_lengths[line] for line in inside.bridges)
        return max((width / length for length in lengths if length < width), default=0.0)

    def measure(self, parts: Iterable[PieceBits]) -> bool:
        """Measures pieces on the coarse mesh; whether all are allowed."""
        wanted = list(parts)
        new = [part for part in wanted if part not in self.measured]
        for part, (stretch, size, neck) in zip(
            new, self._flattened(new, self.problem.coarse, self._coarse), strict=True
        ):
            guess = self._inside_and_estimate(part)[1]
            ratio = stretch / guess if guess > 0 and np.isfinite(stretch) else FIRST_RATIO
            self.measured[part] = Measured(stretch, size, neck, ratio)
        if new:
            self._guesses.clear()
        return all(self.load(part) <= 1.0 for part in wanted)

    def confirm(self, parts: Sequence[PieceBits]) -> bool:
        """Measures pieces on the fine mesh and stores the error of the coarse one; whether all are allowed."""
        flattened = self._flattened(parts, self.problem.mesh, self.problem.mesh.offset(self.problem.mid_offset))
        divisible = [bool(self._inside_and_estimate(part)[0].choices) for part in parts]
        if not any(divisible):
            return True
        self.measure(parts)
        for part, (stretch, _, _) in zip(parts, flattened, strict=True):
            coarse = self.measured[part].stretch
            scale = stretch / coarse if coarse > 0 else 1.0  # a piece so small that it is flat already
            self._scales[part] = scale if np.isfinite(scale) else 1.0
        self._guesses.clear()
        return all(
            max(fine / self.limit, size, neck) <= 1.0
            for (fine, size, neck), may in zip(flattened, divisible, strict=True)
            if may
        )

    def _flattened(
        self, parts: Sequence[PieceBits], mesh: ShellMesh, points: Floats
    ) -> list[tuple[float, float, float]]:
        """(stretch, load by size, load by neck) of each."""
        patches = [opened_shape(mesh, points, part, centred=self.net.count(part) == 1) for part in parts]
        limits = self.problem.limits
        sheet = (limits.sheet_length, limits.sheet_width)
        return [
            (np.inf if part in self._avoided else stretch, size_load(outline, sheet), neck_load(outline, limits.neck))
            for part, (stretch, outline) in zip(parts, self.problem.flatten(patches) if patches else (), strict=True)
        ]
