"""Points scattered over a mirrored patch until no more fits: none nearer to another than a distance along the patch."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.geom.geodesics import shortest
from shellgen.geom.patches import SurfacePatch, polar_grid

COARSE, FINEST = 1 / 3, 1 / 100
"""Width of the first cells and reach of the last, over the distance. Chosen: wherever nothing more was placed, a point
is nearer to another than the distance and 1 %."""
BENDS = 8
"""Straight parts of the ways that are compared (chosen: on a shell their length is then right to 1 in 10,000)."""
MIRROR = np.array([1.0, -1.0])


@dataclass(frozen=True, slots=True, eq=False)
class _Cells:
    """Squares of the domain's left half, and pieces of the midline. low : (n, 2) their corners; flat : the pieces"""

    low: Floats
    size: float
    flat: Bools

    @property
    def middle(self) -> Floats:
        return self.low + self.size / 2 * np.where(self.flat[:, None], (1, 0), (1, 1))

    def split(self) -> _Cells:
        half, flat, square = self.size / 2, self.low[self.flat], self.low[~self.flat]
        steps = half * np.array([(0, 0), (1, 0), (0, 1), (1, 1)])
        low = [of + step for of, some in ((flat, steps[:2]), (square, steps)) for step in some]
        return _Cells(np.concatenate(low), half, np.arange(sum(map(len, low))) < 2 * len(flat))


def scatter(
    patch: SurfacePatch, apart: float, room: Callable[[Floats], Floats], *, taken: Floats, rng: np.random.Generator
) -> Floats:
    """(n, 2) points of the left half (v > 0) and the midline (v = 0) that with their mirror images are `apart` mm or
    more from each other and from `taken` (k, 2), measured along the patch.

    room : how many mm each place (n, 2) lies inside the region that is free for points, below 0 outside it

    References: M. Ebeida et al., A Simple Algorithm for Maximal Poisson-Disk Sampling in High Dimensions, Computer
    Graphics Forum 31 (2012): darts at cells that halve in size, without those that are covered; distances here are
    geodesics.
    """
    stretch = float(np.linalg.norm(patch.tangents(polar_grid(np.linspace(0, 1, 25), 48)), ord=2, axis=(1, 2)).max())
    size = 1 / np.ceil(stretch / (COARSE * apart))
    u, v = np.meshgrid(np.arange(-1, 1, size), np.arange(0, 1, size))
    square = np.column_stack([u.ravel(), v.ravel()])
    flat = np.column_stack([u[0], np.zeros(len(u[0]))])
    cells = _Cells(np.concatenate([square, flat]), size, np.arange(len(square) + len(flat)) >= len(square))
    placed = _Points(patch, apart, taken)
    while len(cells.low):
        placed.throw(_darts(cells, rng), room)
        left, reach = _open(patch, cells, placed, room)
        if reach < FINEST * apart:
            break
        cells = _Cells(cells.low[left], cells.size, cells.flat[left]).split()
    return placed.points


def _darts(cells: _Cells, rng: np.random.Generator) -> Floats:
    """A point in each cell, in random order."""
    uv = cells.low + cells.size * rng.random((len(cells.low), 2)) * np.where(cells.flat[:, None], (1, 0), (1, 1))
    uv = uv[rng.permutation(len(uv))]
    return np.asarray(uv[np.hypot(*uv.T) < 1])


def _open(patch: SurfacePatch, cells: _Cells, placed: _Points, room: Callable[[Floats], Floats]) -> tuple[Bools, float]:
    """Which cells may hold places for more points, and the farthest that a place lies from its cell's middle."""
    middle = cells.middle
    inside = middle / np.maximum(1.0, np.hypot(*middle.T))[:, None]
    stretch = np.linalg.norm(patch.tangents(inside), ord=2, axis=(1, 2)) * 1.1  # it differs a little within a cell
    reach = stretch * cells.size * np.where(cells.flat, 0.5, np.sqrt(0.5))
    left = (np.hypot(*middle.T) < 1 + cells.size) & (room(inside) + reach >= 0)
    left &= cells.flat | (2 * (_straight(patch, inside, inside * (1, 0)) + reach) >= placed.apart)
    rows = np.flatnonzero(left)
    left[rows] = ~placed.covers(inside[rows], reach[rows])
    return left, float(reach.max(initial=0.0))


class _Points:
    """The points so far. uv : (n, 2) with their mirror images and what was taken before; points : the new ones."""

    def __init__(self, patch: SurfacePatch, apart: float, taken: Floats) -> None:
        self.patch, self.apart = patch, apart
        self.uv, self.points = taken, np.zeros((0, 2))
        self._tree()

    def _tree(self) -> None:
        self.tree = cKDTree(self.patch.points(self.uv)) if len(self.uv) else None

    def _pairs(self, uv: Floats) -> tuple[Ints, Ints]:
        """Places and placed points whose straight distance is less than `apart`."""
        if self.tree is None or not len(uv):
            return np.zeros(0, int), np.zeros(0, int)
        near = self.tree.query_ball_point(self.patch.points(uv), self.apart)
        return np.repeat(np.arange(len(uv)), [len(n) for n in near]), np.array([k for n in near for k in n], int)

    def covers(self, uv: Floats, reach: Floats) -> Bools:
        """(n,) whether all that is within `reach` of a place is too near to one point: by ways straight in the domain,
        which are never shorter than the shortest."""
        place, point = self._pairs(uv)
        near = _straight(self.patch, uv[place], self.uv[point]) + reach[place] < self.apart
        covered = np.zeros(len(uv), bool)
        covered[place[near]] = True
        return covered

    def throw(self, uv: Floats, room: Callable[[Floats], Floats]) -> None:
        """Adds those points that are free, one after another."""
        uv = uv[room(uv) >= 0]
        place, point = self._pairs(uv)
        clear = np.ones(len(uv), bool)
        clear[place[_nearer(self.patch, uv[place], self.uv[point], self.apart)]] = False
        off = np.flatnonzero(clear & (uv[:, 1] > 0))
        clear[off[_nearer(self.patch, uv[off], uv[off] * MIRROR, self.apart)]] = False
        uv = uv[clear]
        chosen = self._one_by_one(uv)
        both = np.concatenate([chosen, chosen[chosen[:, 1] > 0] * MIRROR])
        self.points, self.uv = np.concatenate([self.points, chosen]), np.concatenate([self.uv, both])
        self._tree()

    def _one_by_one(self, uv: Floats) -> Floats:
        """Those that keep their distance from all before them."""
        if len(uv) < 2:
            return uv
        xyz = self.patch.points(uv)
        same = cKDTree(xyz).query_pairs(self.apart, output_type="ndarray")
        across = cKDTree(xyz).query_ball_point(xyz * (1, -1, 1), self.apart)
        other = np.array([(i, k) for i, near in enumerate(across) for k in near if i < k], int).reshape(-1, 2)
        clash: dict[int, set[int]] = {}
        for pairs, turn in ((same, 1.0), (other, MIRROR)):
            near = _nearer(self.patch, uv[pairs[:, 0]], uv[pairs[:, 1]] * turn, self.apart)
            for i, k in pairs[near].tolist():
                clash.setdefault(max(i, k), set()).add(min(i, k))
        kept: set[int] = set()
        for i in range(len(uv)):
            if not clash.get(i, set()) & kept:
                kept.add(i)
        return uv[sorted(kept)]


def _straight(patch: SurfacePatch, first: Floats, second: Floats) -> Floats:
    """(n,) length on the patch of the ways that are straight in the domain."""
    share = np.linspace(0, 1, BENDS + 1)[None, :, None]
    uv = first[:, None] * (1 - share) + second[:, None] * share
    points = patch.points(uv.reshape(-1, 2)).reshape(len(first), BENDS + 1, 3)
    return np.asarray(np.linalg.norm(np.diff(points, axis=1), axis=2).sum(axis=1))


def _nearer(patch: SurfacePatch, first: Floats, second: Floats, apart: float) -> Bools:
    """(n,) whether two places are nearer to each other than `apart` along the patch."""
    chord = np.linalg.norm(patch.points(first) - patch.points(second), axis=1)
    near, done = chord < apart, chord < 0.5 * apart
    done |= near & (_straight(patch, first, second) < apart)
    rows = np.flatnonzero(near & ~done)
    if len(rows):
        near[rows] = shortest(patch, first[rows], second[rows], steps=BENDS, close=1e-6).length < apart
    return np.asarray(near)
