"""Staggered rows of rounded scales, larger towards the tail, as roof tiles or a pangolin's scales.

Each row holds one scale more or fewer than the row before, so that every joint stands behind the middle of a scale all
over the dome, though rows are short at neck and tail and long in between.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate, pairwise

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.errors import PresetError
from shellgen.fields.params import count, ratio
from shellgen.model import Layout, Surface
from shellgen.plates._narrowest import wide_enough
from shellgen.plates._net import PlateLabel
from shellgen.plates._rows import PlateRows

FEWEST, AT_END = 2, 6
"""Fewest scales in a row, and most in the first and the last. Chosen: more would be slivers that meet in a point."""
SWEEP = 0.15
"""How far rows bow back at the sides, as `sweep` of `Across`. Chosen by eye: scales then point to the tail."""
DEEPEST = 0.8
"""How far an edge of roundness 1 swings, as a share of the lesser row. Chosen: a fifth is left of every joint."""
OUTER = 0.8
"""Width wanted of a scale at the rim over its neighbour's. Chosen: in staggered rows it changes between 0.5 and 1."""
STAGGER = 0.3
"""Weight of joints that stand behind the middle of a scale against scales of even width. Chosen by eye."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    rows: int = count(11, 4, 30, "Rows of scales from neck to tail.")
    across: int = count(8, 4, 24, "Scales across the back half-way between neck and tail, about.")
    grading: float = ratio(1.5, 0.5, 3.0, "Size of the last scales over the size of the first; above 1 for larger.")
    roundness: float = ratio(0.6, 0.0, 1.0, "Shape of the scales: 0 for bricks, 1 for half rounds.")


def expected(params: Params, area: float) -> float:
    """How many plates there are to be, whatever the dome's area."""
    return sum(_counts(params))


def build(surface: Surface, params: Params) -> Layout:
    """The layout. PresetError if the scales are too small to be made."""
    counts = _counts(params)
    height = _heights(params)
    edges = np.cumsum(height)[:-1]
    depth = DEEPEST * params.roundness * np.minimum(height[1:], height[:-1])
    rows = PlateRows(surface, SWEEP, edges, _joints(counts), depth)
    first = [0, *accumulate(n // 2 + n % 2 for n in counts)]

    def label(row: int, place: int) -> PlateLabel:
        return PlateLabel("scale", 1 + first[row] + place)

    return wide_enough(
        surface,
        lambda: rows.drafted(label).finish(surface, ease=0.5, yielding=0.0, order=("scale",)),
        where="plates.rows",
        what=f"{params.rows} rows of up to {max(counts)} scales",
        remedy="Use fewer rows, fewer scales across, a grading nearer to 1 or less roundness.",
    )


def _heights(params: Params) -> Floats:
    """(rows,) of the ridge's length, all together 1."""
    height = params.grading ** np.linspace(0, 1, params.rows)
    return np.asarray(height / height.sum())


def _counts(params: Params) -> list[int]:
    """Scales in each row, one more or fewer than in the row before, nearest to the numbers that would give all the same
    proportions: the length of a row goes like the sine of its way from neck to tail, the width of its scales like its
    height. PresetError if so many across are out of reach.

    References: R. Bellman, Dynamic Programming (1957).
    """
    height = _heights(params)
    edges = np.concatenate([[0], np.cumsum(height)])
    middle = (edges[1:] + edges[:-1]) / 2
    wanted = params.across * np.sin(np.pi * middle) / height * np.interp(0.5, middle, height)
    best = {n: ((n - wanted[0]) ** 2, [n]) for n in range(FEWEST, AT_END + 1)}
    for aim in wanted[1:]:
        step: dict[int, tuple[float, list[int]]] = {}
        for n, (cost, way) in best.items():
            for new in (n - 1, n + 1):
                total = cost + (new - aim) ** 2
                if new >= FEWEST and (new not in step or total < step[new][0]):
                    step[new] = total, [*way, new]
        best = step
    found: list[int] = min((best[n] for n in best if n <= AT_END), key=lambda found: found[0])[1]
    if max(found) < params.across - 1:
        problem = f"{params.rows} rows from neck to tail have room for {max(found)} scales across, not {params.across}."
        raise PresetError("plates.across", problem, f"Use {max(found)} across, or more rows.")
    return found


def _joints(counts: list[int]) -> list[Floats]:
    """The joints of each row as shares of the way from ridge to rim: least squares of even widths and of joints that
    stand in the middle between those of the rows next to them. An even number has a joint on the midline.
    """
    inner = [(n - 1) // 2 for n in counts]
    start = np.concatenate([[0], np.cumsum(inner)])
    size = int(start[-1])
    rim = size  # the column of what is constant: a place at 1
    system: list[Floats] = []

    def place(row: int, k: int) -> Floats:
        """Joint k of a row, from 1, as a combination of the unknowns: mirrored at the midline, the rim beyond."""
        one = np.zeros(size + 1)
        odd = counts[row] % 2
        if k < 1:
            return -place(row, 1 - k) if odd else (-place(row, -k) if k < 0 else one)
        one[rim if k > inner[row] else start[row] + k - 1] = 1
        return one

    for row, n in enumerate(counts):
        last = inner[row]
        for k in range(1, last):
            system.append(place(row, k + 1) - 2 * place(row, k) + place(row, k - 1))
        before = place(row, last) - place(row, last - 1)
        system.append(place(row, last + 1) - place(row, last) - OUTER * before)
        for other in (r for r in (row - 1, row + 1) if 0 <= r < len(counts)):
            for k in range(1, last + 1):
                ahead = k if n % 2 == 0 else k - 1
                system.append(STAGGER * (2 * place(row, k) - place(other, ahead) - place(other, ahead + 1)))
    matrix = np.array(system)
    found = np.asarray(np.linalg.lstsq(matrix[:, :rim], -matrix[:, rim])[0], dtype=np.float64)
    parts = [found[a:b] for a, b in pairwise(start.tolist())]
    return [part if n % 2 else np.concatenate([np.zeros(1), part]) for part, n in zip(parts, counts, strict=True)]
