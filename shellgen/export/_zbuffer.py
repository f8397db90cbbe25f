"""Which triangle is seen at each sample of a picture: a depth buffer in plain numpy, the same on every machine.

Triangles are cut at their middle corner, so that each half has one edge on either side; halves with as many rows go
together, a row at a time of all of them; rows become samples, and of all samples on one spot the nearest stays. Only
samples that are wanted are made: they are numbered along the rows, so that those of a stretch of a row follow each
other.

References: the z-buffer of E. Catmull, "A Subdivision Algorithm for Computer Display of Curved Surfaces" (1974).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_ROWS, _MOST = 16_000, 100_000  # stretches of rows, and samples, held at a time: they stay in the processor's cache
_BAND = 8  # rows of samples that stay in the cache
_STEPS = 2**30  # depths that can be told apart
_HEIGHTS = np.array([1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 256, 384, 512, 1024, 2**15])
_KIND = np.searchsorted(_HEIGHTS, np.arange(_HEIGHTS[-2] + 2)).astype(np.uint8)
"""Numbers of rows that halves of triangles are taken for, and which of them each number falls to; beyond the table, the
last."""
_ORDER = np.array([(0, 1, 2), (0, 2, 1), (0, 1, 2), (2, 0, 1), (1, 0, 2), (0, 1, 2), (1, 2, 0), (2, 1, 0)]).T
"""Corners by row for each outcome of the three comparisons in `Facets`; two of the eight never come."""

Plane = tuple[NDArray, NDArray, NDArray]
"""A value that is linear over the picture, for each triangle: at its origin, and by how much it grows to the right and
downwards."""


@dataclass(frozen=True, slots=True)
class Lattice:
    """Where samples are taken: sample (r, c) at column (c + 0.5) / close + right, row r + 0.5 + down.

    shape : rows, columns of samples
    """

    shape: tuple[int, int]
    close: int = 1
    right: float = 0.0
    down: float = 0.0


class Wanted:
    """All samples of some pixels, so many to a pixel along a row, numbered along the rows."""

    def __init__(self, pixels: NDArray, close: int) -> None:
        """pixels : (rows, columns) bool"""
        self.places = (close * np.flatnonzero(pixels)[:, None] + np.arange(close)).ravel()
        self.before = np.zeros(close * pixels.size + 1, np.int32)  # how many there are before each of all
        own = pixels.ravel().astype(np.int32)
        so_far = np.cumsum(own, dtype=np.int32) * np.int32(close)
        for k in range(close, 0, -1):
            self.before[k::close] = so_far
            so_far -= own


class Facets:
    """Triangles on a picture. Their corners are sorted by row, the uppermost first."""

    def __init__(self, x: NDArray, y: NDArray, faces: NDArray) -> None:
        """x, y : (n,) float32 columns and rows of the vertices; faces : (m, 3)"""
        columns = np.ascontiguousarray(faces.T, np.intp)
        a, b, c = (y.take(column) for column in columns)
        order = np.left_shift(b < a, 2, dtype=np.int8) | np.left_shift(c < a, 1, dtype=np.int8) | (c < b)
        each = np.arange(len(a))
        self.corners = [columns.ravel().take((len(a) * where).take(order) + each) for where in _ORDER]
        self.x, self.y = [x.take(k) for k in self.corners], [y.take(k) for k in self.corners]
        (x0, x1, x2), (y0, y1, y2) = self.x, self.y
        self._one, self._two = (x1 - x0, y1 - y0), (x2 - x0, y2 - y0)
        area = self._one[0] * self._two[1] - self._two[0] * self._one[1]
        self.flat = np.abs(area) < 1e-12
        area[self.flat] = np.inf
        self._area = area

    def plane(self, values: NDArray) -> Plane:
        """Of values (n,) at the vertices."""
        v0, v1, v2 = (values.take(k) for k in self.corners)
        one, two = (v1 - v0) / self._area, (v2 - v0) / self._area
        across = one * self._two[1] - two * self._one[1]
        down = two * self._one[0] - one * self._two[0]
        return v0 - across * self.x[0] - down * self.y[0], across, down


def read(plane: Plane, triangle: NDArray, x: NDArray, y: NDArray) -> NDArray:
    """(k,) a value at places on triangles (k,) intp."""
    base, across, down = (table.take(triangle) for table in plane)
    across *= x
    down *= y
    base += across
    base += down
    return base


class Depths:
    """The depths of triangles on a picture, ready to be looked at along any lattice; whole numbers stand for them."""

    def __init__(self, facets: Facets, depth: NDArray) -> None:
        """depth : (n,) float32 of the vertices, larger is nearer; taken to be linear over the picture"""
        seen = [depth.take(k) for k in facets.corners]
        self.low = float(min((d.min() for d in seen), default=0.0))
        self.scale = _STEPS / ((float(max((d.max() for d in seen), default=0.0)) - self.low) or 1.0)
        (x0, x1, x2), (y0, y1, y2) = facets.x, facets.y
        long, upper, lower = _slope(x0, x2, y0, y2), _slope(x0, x1, y0, y1), _slope(x1, x2, y1, y2)
        both = np.flatnonzero(~facets.flat)
        self.triangle = np.concatenate([both, both])
        # every edge from its upper end, so that two triangles agree on the one they share
        self.top, self.foot = _halves(y0, y1, both), _halves(y1, y2, both)
        self.long = [v.take(self.triangle) for v in (x0, y0, long)]
        self.short = [_halves(x0, x1, both), self.top, _halves(upper, lower, both)]
        self.plane = facets.plane((depth - np.float32(self.low)) * np.float32(self.scale))

    def nearest(self, lattice: Lattice, wanted: Wanted | None = None) -> NDArray:
        """(k,) int64 of the samples that are wanted, along the rows: minus one where nothing is, or the depth in the
        upper half and the triangle in the lower. Of equal depths the later triangle wins.
        """
        size = lattice.shape[0] * lattice.shape[1] if wanted is None else len(wanted.places)
        seen = np.full(size, -1, np.int64)
        for runs in self._runs(lattice, wanted):
            for part in _shares(runs.count, _MOST):
                np.maximum.at(seen, *runs.sample(part, wanted))
        return seen

    def told(self, seen: NDArray) -> tuple[NDArray, NDArray]:
        """Triangle (k,) intp and depth (k,) float32 of samples where something is."""
        depth = (seen >> 32).astype(np.float32)
        depth -= np.float32(_STEPS // 2)
        depth *= np.float32(1 / self.scale)
        depth += np.float32(self.low)
        return seen & 0xFFFFFFFF, depth

    def _runs(self, lattice: Lattice, wanted: Wanted | None) -> Iterator[_Runs]:
        """The stretches of rows that the triangles cover, of halves of one height after the other."""
        shift, rows = np.float32(0.5 + lattice.down), lattice.shape[0]
        first, last = (np.clip(np.ceil(y - shift), 0, rows) for y in (self.top, self.foot))
        height = last - first
        some = np.flatnonzero(height > 0)
        kind = _KIND.take(np.minimum(height.take(some), np.float32(len(_KIND) - 1)).astype(np.intp))
        some = some.take(np.argsort(kind, kind="stable"))
        edges = [first, height, *(v for edge in (self.long, self.short) for v in _stepped(edge, lattice))]
        halves = [v.take(some) for v in (*edges, self.triangle)]
        start = 0
        for high, count in zip(_HEIGHTS.tolist(), np.bincount(kind, minlength=len(_HEIGHTS)).tolist(), strict=True):
            share = max(_ROWS // high, 1)
            for at in range(start, start + count, share):
                yield self._rows([v[at : min(at + share, start + count)] for v in halves], high, lattice, wanted)
            start += count

    def _rows(self, halves: list[NDArray], high: int, lattice: Lattice, wanted: Wanted | None) -> _Runs:
        """Of some halves, none higher than `high`, the stretches of all their rows."""
        first, height, *edges, triangle = halves
        ahead, wide = np.arange(high, dtype=np.float32)[:, None], lattice.shape[1]
        row = first + ahead
        sides = [_along(row, *edge) for edge in (edges[:3], edges[3:])]
        left, right = np.minimum(*sides), np.maximum(*sides)
        np.maximum(np.ceil(left, out=left), 0, out=left)
        np.minimum(np.ceil(right, out=right), np.float32(wide), out=right)
        some = right > left
        some &= ahead < height
        kept = np.flatnonzero(some)
        row, left, right = (v.ravel().take(kept) for v in (row, left, right))
        start = row.astype(np.intp) * wide + left.astype(np.intp)
        count = (right - left).astype(np.intp)
        one = kept.astype(np.int32)
        one -= one // np.int32(len(first)) * np.int32(len(first))
        begin = start
        if wanted is not None:
            begin = wanted.before.take(start)
            count = wanted.before.take(start + count) - begin
            seen = np.flatnonzero(count > 0)
            row, left, one = row.take(seen), left.take(seen), one.take(seen)
            start, begin, count = (v.take(seen) for v in (start, begin, count))
        return _Runs(self.plane, triangle.take(one), row, left, lattice, start, begin, count)


class _Runs:
    """Stretches of rows. A key is the depth in the upper half and the triangle in the lower, so that the largest is
    the nearest; along a row it is a straight line, in whole numbers whose overflow cancels out."""

    def __init__(
        self, plane: Plane, triangle: NDArray, row: NDArray, left: NDArray, lattice: Lattice, start: NDArray,
        begin: NDArray, count: NDArray,
    ) -> None:  # fmt: skip
        """plane : of the depths; start : place of the first sample, along all rows; begin : number of the first wanted
        sample"""
        base, across, down = (table.take(triangle) for table in plane)
        y = row + np.float32(0.5 + lattice.down)
        x = (left + np.float32(0.5)) * np.float32(1 / lattice.close) + np.float32(lattice.right)
        near = np.minimum(np.maximum(base + across * x + down * y, 0), np.float32(_STEPS)).astype(np.int64)
        near += _STEPS // 2  # never below zero
        step = np.clip(across, -_STEPS, _STEPS) * np.float32(1 / lattice.close)
        self.begin, self.count, self.step = begin, count, step.astype(np.int64) << 32
        self.base = (near << 32 | triangle) - self.step * start

    def sample(self, part: slice, wanted: Wanted | None) -> tuple[NDArray, NDArray]:
        """Numbers and keys of the samples of some stretches."""
        count = self.count[part]
        spot = (self.begin[part] - (count.cumsum() - count)).repeat(count)
        spot += np.arange(len(spot))
        key = self.step[part].repeat(count)
        key *= spot if wanted is None else wanted.places.take(spot)
        key += self.base[part].repeat(count)
        return spot, key


def _stepped(edge: Sequence[NDArray], lattice: Lattice) -> Plane:
    """Edges, given by column and row of their upper ends and columns to a row, as samples and rows of a lattice count.
    An edge that two triangles share stays the same for both."""
    x, y, slope = edge
    close = np.float32(lattice.close)
    return (x - np.float32(lattice.right)) * close - np.float32(0.5), y - np.float32(0.5 + lattice.down), slope * close


def _along(row: NDArray, x: NDArray, y: NDArray, slope: NDArray) -> NDArray:
    """Where edges cross rows."""
    out = row - y
    out *= slope
    out += x
    return out


def downwards(y: NDArray, faces: NDArray) -> NDArray:
    """(m,) order of triangles from the top of a picture to its foot: what is drawn one after the other then lies
    together, and stays in the processor's cache."""
    band = np.clip(y.take(faces[:, 0]) * np.float32(1 / _BAND), 0, 2**15)
    return np.argsort(band.astype(np.uint16), kind="stable")


def _shares(count: NDArray, most: int) -> Iterator[slice]:
    """Runs of things that come to no more than `most` together, or are one thing."""
    if len(count) <= most and count.sum() <= most:
        yield slice(None)
        return
    bounds, start = np.append(0, np.cumsum(count)), 0
    while start < len(count):
        stop = max(int(np.searchsorted(bounds, bounds[start] + most, side="right")) - 1, start + 1)
        yield slice(start, min(stop, len(count)))
        start = stop


def _halves(upper: NDArray, lower: NDArray, some: NDArray) -> NDArray:
    """Of the upper and the lower halves of some triangles."""
    return np.concatenate([upper.take(some), lower.take(some)])


def _slope(x0: NDArray, x1: NDArray, y0: NDArray, y1: NDArray) -> NDArray:
    rise = y1 - y0
    return np.divide(x1 - x0, rise, out=np.zeros_like(rise), where=rise > 0)
