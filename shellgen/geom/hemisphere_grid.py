"""A hemisphere grid: mirror-symmetric cells of about equal size and shape, to sort samples by direction.

Rings of equal angular width around the pole, each divided into the number of cells that makes them about square.

References: isolatitude rings as in Leopardi, A Partition of the Unit Sphere into Regions of Equal Area and Small
Diameter, ETNA 25, 2006, here with rings of equal width.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Bools, Floats, Ints


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """step : angle across a cell, radians; first : first cell of each ring; count : cells in it."""

    step: float
    first: Ints
    count: Ints

    @property
    def cells(self) -> int:
        return int(self.count.sum())

    def cell(self, s: Floats) -> Ints:
        """(n,) the cell that each unit vector (n, 3) lies in; directions below the grid belong to the lowest ring."""
        return self.at(*bearings(s))

    def at(self, polar: Floats, turn: Floats) -> Ints:
        """The cell of each direction, given by its `bearings`."""
        ring = (polar / self.step).astype(int).clip(0, len(self.count) - 1)
        count = self.count[ring]
        return np.asarray(self.first[ring] + np.minimum((turn * count).astype(int), count - 1))

    def centres(self) -> Floats:
        """(cells, 3) unit vectors."""
        ring = np.repeat(np.arange(len(self.count)), self.count)
        place = np.arange(self.cells) - self.first[ring]
        polar, turn = (ring + 0.5) * self.step, 2 * np.pi * (place + 0.5) / self.count[ring]
        return np.column_stack([np.sin(polar) * np.cos(turn), np.sin(polar) * np.sin(turn), np.cos(polar)])

    def sizes(self) -> Floats:
        """(cells,) steradians; together 2 pi above the horizon."""
        edge = np.cos(self.step * np.arange(len(self.count) + 1))
        return np.repeat(2 * np.pi * (edge[:-1] - edge[1:]) / self.count, self.count)

    def mirror(self) -> Ints:
        """(cells,) the cell on the other side of the plane y = 0."""
        ring = np.repeat(np.arange(len(self.count)), self.count)
        place = np.arange(self.cells) - self.first[ring]
        return self.first[ring] + self.count[ring] - 1 - place


def bearings(s: Floats) -> tuple[Floats, Floats]:
    """Angle from the pole, radians, and fraction of a full turn, 0 to 1, of unit vectors (n, 3)."""
    return np.arccos(np.clip(s[:, 2], -1, 1)), (np.arctan2(s[:, 1], s[:, 0]) / (2 * np.pi)) % 1.0


def grid(rings: int, *, below: int = 0) -> Grid:
    """A grid of `rings` rings, and `below` more below the horizon."""
    step = np.pi / 2 / rings
    count = np.maximum(np.round(2 * np.pi * np.sin((np.arange(rings + below) + 0.5) * step) / step).astype(int), 4)
    return Grid(step, np.concatenate([[0], np.cumsum(count)[:-1]]), count)


@dataclass(frozen=True, slots=True, eq=False)
class Sorted:
    """Samples by cell. cells : those with samples; start, size : of the samples of each in `order`."""

    cells: Ints
    order: Ints
    start: Ints
    size: Ints


def sort(cell: Ints, values: Floats) -> Sorted:
    """Samples sorted by cell, within it by value."""
    order = np.argsort(values)
    small = cell.astype(np.min_scalar_type(cell.max(initial=0)))  # numpy sorts 16 bits by radix
    order = order[np.argsort(small[order], kind="stable")]
    start = np.flatnonzero(np.diff(cell[order], prepend=-1))
    return Sorted(cell[order[start]], order, start, np.diff(start, append=len(cell)))


def medians(sorted_: Sorted, values: Floats) -> Floats:
    """The median of each cell, in the order of `cells`."""
    ordered = values[sorted_.order]
    low, high = sorted_.start + (sorted_.size - 1) // 2, sorted_.start + sorted_.size // 2
    return np.asarray((ordered[low] + ordered[high]) / 2)


def split(sorted_: Sorted, values: Floats, *, gap: float, share: float) -> Bools:
    """Whether the samples of a cell form two groups, more than `gap` apart, each with at least `share` of them."""
    ordered = values[sorted_.order]
    at = np.repeat(np.arange(len(sorted_.cells)), sorted_.size)
    rank = (np.arange(len(ordered)) - sorted_.start[at] + 1) / sorted_.size[at]
    wide = (np.diff(ordered) > gap) & (at[1:] == at[:-1]) & (rank[:-1] >= share) & (rank[:-1] <= 1 - share)
    found = np.zeros(len(sorted_.cells), bool)
    found[at[:-1][wide]] = True
    return found
