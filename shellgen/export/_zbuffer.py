"""Which triangle is seen at each sample of a picture: a depth buffer in plain numpy, the same on every machine.

Triangles are cut into rows, rows into samples, and of all samples on one spot the nearest stays. Only samples that are
wanted are made: they are numbered along the rows, so that those of a stretch of a row follow each other.

References: the z-buffer of E. Catmull, "A Subdivision Algorithm for Computer Display of Curved Surfaces" (1974).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

_ROWS, _MOST = 30_000, 300_000  # stretches of rows, and samples, held at a time: they stay in the processor's cache
_STEPS = 2**30  # depths that can be told apart


def nearest(corners: NDArray, depths: NDArray, shape: tuple[int, int], wanted: NDArray | None = None) -> NDArray:
    """Index of the nearest triangle at every sample, -1 where there is none. (rows, columns) int32.

    corners : (m, 3, 2) float, column and row of the corners; the centre of sample (r, c) is at (c + 0.5, r + 0.5)
    depths  : (m, 3) float, larger is nearer; taken to be linear over the picture. Of equal depths the later
              triangle wins.
    wanted  : (rows, columns) bool, the samples asked for; the result is then (k,), one for each of them along the rows
    """
    places = None if wanted is None else np.flatnonzero(wanted)
    seen = np.full(shape[0] * shape[1] if places is None else len(places), -1, np.int64)
    before = None if wanted is None else np.r_[np.int32(0), np.cumsum(wanted, dtype=np.int32)]
    which, rows = _touching(corners, shape)
    if len(which):
        low = float(depths.min())
        scale = _STEPS / ((float(depths.max()) - low) or 1.0)
        for part in _shares(rows, _ROWS):
            some = which[part]
            runs = _Planes(corners[some], (depths[some] - low) * scale).runs(some, shape, before)
            for stretch in _shares(runs.count, _MOST):
                spot, key = runs.sample(stretch, places)
                np.maximum.at(seen, spot, key)
    found = np.where(seen < 0, -1, seen & 0xFFFFFFFF).astype(np.int32)
    return found.reshape(shape) if wanted is None else found


def _touching(corners: NDArray, shape: tuple[int, int]) -> tuple[NDArray, NDArray]:
    """The triangles whose box holds the centre of a sample: of a fine mesh, many fall between. And their rows."""
    count = []
    for axis, size in ((0, shape[1]), (1, shape[0])):
        a, b, c = corners[:, :, axis].T  # three at a time: numpy is slow along short axes
        low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
        count.append(np.minimum(np.ceil(high - 0.5), size) - np.maximum(np.ceil(low - 0.5), 0))
    which = np.flatnonzero(np.minimum(*count) > 0)
    return which, count[1][which]


def _shares(count: NDArray, most: int) -> Iterator[slice]:
    """Runs of things that come to no more than `most` together, or are one thing."""
    bounds, start = np.r_[0, np.cumsum(count)], 0
    while start < len(count):
        stop = max(int(np.searchsorted(bounds, bounds[start] + most, side="right")) - 1, start + 1)
        yield slice(start, min(stop, len(count)))
        start = stop


class _Planes:
    """Triangles, corners sorted by row, with the slopes of their edges and depths."""

    def __init__(self, corners: NDArray, depths: NDArray) -> None:
        self.x, self.y, d = _sorted(corners[:, :, 0], corners[:, :, 1], depths)
        (x0, x1, x2), (y0, y1, y2), (d0, d1, d2) = self.x, self.y, d
        area = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
        self.flat = np.abs(area) < 1e-12
        area = np.where(self.flat, 1.0, area)
        self.across = ((d1 - d0) * (y2 - y0) - (d2 - d0) * (y1 - y0)) / area
        self.down = ((d2 - d0) * (x1 - x0) - (d1 - d0) * (x2 - x0)) / area
        self.near = d0 - self.across * x0 - self.down * y0
        self.long, self.upper, self.lower = _slope(x0, x2, y0, y2), _slope(x0, x1, y0, y1), _slope(x1, x2, y1, y2)

    def runs(self, names: NDArray, shape: tuple[int, int], before: NDArray | None) -> _Runs:
        """The stretches of rows that the triangles cover. before : how many samples are wanted before each of all"""
        (x0, x1, _), (y0, y1, y2) = self.x, self.y
        first, last = (np.clip(np.ceil(y - 0.5), 0, shape[0]).astype(np.int32) for y in (y0, y2))
        count = np.where(self.flat, 0, last - first)
        t = np.repeat(np.arange(len(count), dtype=np.int32), count)
        row = np.arange(len(t), dtype=np.int32) - np.repeat(np.cumsum(count, dtype=np.int32) - count - first, count)
        high = row.astype(x0.dtype) + 0.5
        # every edge from its upper end, so that two triangles agree on the one they share
        drop, beyond = high - y0[t], high - y1[t]
        straight = x0[t] + drop * self.long[t]
        bent = np.where(beyond < 0, x0[t] + drop * self.upper[t], x1[t] + beyond * self.lower[t])
        left = np.clip(np.ceil(np.minimum(bent, straight) - 0.5), 0, shape[1])
        right = np.clip(np.ceil(np.maximum(bent, straight) - 0.5), 0, shape[1])
        row *= shape[1]
        start, stop = row + left.astype(np.int32), row + right.astype(np.int32)
        begin, end = (start, stop) if before is None else (before[start], before[stop])
        near, step = self.near[t] + self.across[t] * (left + 0.5) + self.down[t] * high, self.across[t]
        kept = np.flatnonzero(end > begin)
        return _Runs(begin[kept], (end - begin)[kept], start[kept], near[kept], step[kept], names[t[kept]])


class _Runs:
    """Stretches of rows. A key is the depth in the upper half and the triangle in the lower, so that the largest is
    the nearest; along a row it is a straight line, in whole numbers whose overflow cancels out."""

    def __init__(
        self, begin: NDArray, count: NDArray, start: NDArray, near: NDArray, step: NDArray, names: NDArray
    ) -> None:
        """begin : number of the first wanted sample; start : place of the first sample, along all rows"""
        self.begin, self.count = begin, count
        self.step = np.clip(step, -_STEPS, _STEPS).astype(np.int64) << 32
        depth = np.clip(near, 0, _STEPS).astype(np.int64) + _STEPS // 2  # never below zero
        self.base = (depth << 32 | names) - self.step * start

    def sample(self, part: slice, places: NDArray | None) -> tuple[NDArray, NDArray]:
        """Numbers and keys of the samples of some stretches. places : (k,) of the wanted samples, along all rows"""
        count = self.count[part]
        spot = np.repeat(self.begin[part] - (np.cumsum(count, dtype=np.int64) - count), count)
        spot += np.arange(len(spot))
        key = np.repeat(self.step[part], count)
        key *= spot if places is None else places[spot]
        key += np.repeat(self.base[part], count)
        return spot, key


def _sorted(x: NDArray, y: NDArray, d: NDArray) -> tuple[list[NDArray], list[NDArray], list[NDArray]]:
    """Corners by row, the uppermost first, each coordinate as three columns."""
    columns = [list(np.ascontiguousarray(v.T)) for v in (x, y, d)]
    for a, b in ((0, 1), (1, 2), (0, 1)):
        swap = columns[1][b] < columns[1][a]
        for v in columns:
            v[a], v[b] = np.where(swap, v[b], v[a]), np.where(swap, v[a], v[b])
    return columns[0], columns[1], columns[2]


def _slope(x0: NDArray, x1: NDArray, y0: NDArray, y1: NDArray) -> NDArray:
    rise = y1 - y0
    return (x1 - x0) / np.where(rise == 0, 1.0, rise)
