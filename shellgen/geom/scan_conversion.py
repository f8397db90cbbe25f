"""Which samples of a picture each triangle covers: scan conversion, in the precision of the vertices.

Triangles are split at their middle corner, so that each half has one edge on either side. Halves with similar numbers
of rows are processed together, one row of all of them at a time. A sample on an edge that two triangles share is
covered by exactly one of them.

References: Foley et al., Computer Graphics: Principles and Practice, 2nd ed. 1990, section 3.6 (scan conversion of
polygons, edges shared without gap or overlap).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shellgen.core.arrays import Bools, Ints, Reals

_ROWS = 16_000
"""Rows of halves held at a time. Chosen: they stay in the processor's cache."""
_BAND = 8
"""Rows of samples that stay in the processor's cache. Chosen."""
_HEIGHTS = np.array([1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 256, 384, 512, 1024, 2**15])
_KIND = np.searchsorted(_HEIGHTS, np.arange(_HEIGHTS[-2] + 2)).astype(np.uint8)
"""Classes of height, in rows, and the class of each number of rows; numbers beyond the table belong to the last."""
_ORDER = np.array([(0, 1, 2), (0, 2, 1), (0, 1, 2), (2, 0, 1), (1, 0, 2), (0, 1, 2), (1, 2, 0), (2, 1, 0)]).T
"""Corners by row for each outcome of the three comparisons in `Facets`; two of the eight never occur."""

Plane = tuple[Reals, Reals, Reals]
"""A value that is linear over the picture, for each triangle: at the origin, and its growth per column and per row."""


@dataclass(frozen=True, slots=True)
class Lattice:
    """Sample (r, c) lies at column (c + 0.5) / close + right, row r + 0.5 + down.

    shape : rows, columns of samples
    """

    shape: tuple[int, int]
    close: int = 1
    right: float = 0.0
    down: float = 0.0


class Wanted:
    """All samples of some pixels, `close` to a pixel along a row, numbered along the rows."""

    def __init__(self, pixels: Bools, close: int) -> None:
        """pixels : (rows, columns)"""
        self.places = (close * np.flatnonzero(pixels)[:, None] + np.arange(close)).ravel()
        self.before = np.zeros(close * pixels.size + 1, np.int32)  # how many there are before each of all
        own = pixels.ravel().astype(np.int32)
        so_far = np.cumsum(own, dtype=np.int32) * np.int32(close)
        for k in range(close, 0, -1):
            self.before[k::close] = so_far
            so_far -= own


class Facets:
    """Triangles on a picture. Their corners are sorted by row, the uppermost first."""

    def __init__(self, x: Reals, y: Reals, faces: Ints) -> None:
        """x, y : (n,) columns and rows of the vertices; faces : (m, 3)"""
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

    def plane(self, values: Reals) -> Plane:
        """Of values (n,) at the vertices."""
        v0, v1, v2 = (values.take(k) for k in self.corners)
        one, two = (v1 - v0) / self._area, (v2 - v0) / self._area
        across = one * self._two[1] - two * self._one[1]
        down = two * self._one[0] - one * self._two[0]
        return v0 - across * self.x[0] - down * self.y[0], across, down


def read(plane: Plane, triangle: Ints, x: Reals, y: Reals) -> Reals:
    """(k,) a value at places on triangles (k,) intp."""
    base, across, down = (table.take(triangle) for table in plane)
    across *= x
    down *= y
    base += across
    base += down
    return base


@dataclass(frozen=True, slots=True, eq=False)
class Spans:
    """Stretches of rows that triangles cover.

    triangle, row, left : (k,) which; row and column of the first sample
    start    : (k,) number of the first sample, counted along all rows
    begin    : (k,) number of the first wanted sample; count : (k,) how many samples are wanted
    """

    triangle: Ints
    row: Reals
    left: Reals
    start: Ints
    begin: Ints
    count: Ints

    def every(self, part: slice) -> tuple[Ints, Ints]:
        """Numbers (s,) of all wanted samples of some spans, and how many (k,) each span has."""
        count = self.count[part]
        spot: Ints = np.repeat(self.begin[part] - (count.cumsum() - count), count)
        spot += np.arange(len(spot))
        return spot, count


class ScanConverter:
    """Triangles ready to be sampled on any lattice."""

    def __init__(self, facets: Facets) -> None:
        (x0, x1, x2), (y0, y1, y2) = facets.x, facets.y
        long, upper, lower = _slope(x0, x2, y0, y2), _slope(x0, x1, y0, y1), _slope(x1, x2, y1, y2)
        both = np.flatnonzero(~facets.flat)
        self._triangle = np.concatenate([both, both])
        # every edge from its upper end, so that two triangles agree on the one they share
        self._top, self._bottom = _halves(y0, y1, both), _halves(y1, y2, both)
        self._long = [v.take(self._triangle) for v in (x0, y0, long)]
        self._short = [_halves(x0, x1, both), self._top, _halves(upper, lower, both)]
        self._kind: type[np.floating[Any]] = x0.dtype.type

    def spans(self, lattice: Lattice, wanted: Wanted | None = None) -> Iterator[Spans]:
        """The spans of all triangles, one class of height after the other; all samples are wanted unless `wanted`."""
        shift, rows = self._kind(0.5 + lattice.down), lattice.shape[0]
        first, last = (np.clip(np.ceil(y - shift), 0, rows) for y in (self._top, self._bottom))
        height = last - first
        some = np.flatnonzero(height > 0)
        kind = _KIND.take(np.minimum(height.take(some), self._kind(len(_KIND) - 1)).astype(np.intp))
        some = some.take(np.argsort(kind, kind="stable"))
        edges = [first, height, *(v for edge in (self._long, self._short) for v in self._on(edge, lattice))]
        halves = [v.take(some) for v in (*edges, self._triangle)]
        start = 0
        for high, count in zip(_HEIGHTS.tolist(), np.bincount(kind, minlength=len(_HEIGHTS)).tolist(), strict=True):
            share = max(_ROWS // high, 1)
            for at in range(start, start + count, share):
                yield self._rows([v[at : min(at + share, start + count)] for v in halves], high, lattice, wanted)
            start += count

    def _rows(self, halves: list[NDArray[Any]], high: int, lattice: Lattice, wanted: Wanted | None) -> Spans:
        """The spans of all rows of some halves, none of which is higher than `high`."""
        first, height, *edges, triangle = halves
        ahead, wide = np.arange(high, dtype=self._kind)[:, None], lattice.shape[1]
        row = first + ahead
        sides = [_along(row, *edge) for edge in (edges[:3], edges[3:])]
        left, right = np.minimum(*sides), np.maximum(*sides)
        np.maximum(np.ceil(left, out=left), 0, out=left)
        np.minimum(np.ceil(right, out=right), self._kind(wide), out=right)
        some = right > left
        some &= ahead < height
        kept = np.flatnonzero(some)
        row, left, right = (v.ravel().take(kept) for v in (row, left, right))
        start = row.astype(np.intp) * wide + left.astype(np.intp)
        count = (right - left).astype(np.intp)
        one = kept.astype(np.int32)
        one -= one // np.int32(len(first)) * np.int32(len(first))
        if wanted is None:
            return Spans(triangle.take(one), row, left, start, start, count)
        begin = wanted.before.take(start).astype(np.int64)
        count = wanted.before.take(start + count) - begin
        seen = np.flatnonzero(count > 0)
        (row, left), one = (v.take(seen) for v in (row, left)), one.take(seen)
        return Spans(triangle.take(one), row, left, start.take(seen), begin.take(seen), count.take(seen))

    def _on(self, edge: Sequence[Reals], lattice: Lattice) -> Plane:
        """Edges, given by column and row of their upper ends and columns per row, in samples and rows of a lattice.
        An edge that two triangles share stays the same for both."""
        x, y, slope = edge
        close = self._kind(lattice.close)
        return (
            (x - self._kind(lattice.right)) * close - self._kind(0.5),
            y - self._kind(0.5 + lattice.down),
            slope * close,
        )


def samples(facets: Facets, shape: tuple[int, int]) -> tuple[Ints, Ints]:
    """(k,) number of every pixel whose centre a triangle covers, counted along the rows of a picture (rows, columns),
    and (k,) the triangle."""
    pixels, owners = [np.zeros(0, np.intp)], [np.zeros(0, np.intp)]
    for spans in ScanConverter(facets).spans(Lattice(shape)):
        pixel, count = spans.every(slice(None))
        pixels.append(pixel)
        owners.append(spans.triangle.repeat(count))
    return np.concatenate(pixels), np.concatenate(owners)


def downwards(y: Reals, faces: Ints) -> Ints:
    """(m,) order of triangles from the top of a picture to the bottom: what is drawn in succession is then
    close together in memory, and stays in the processor's cache."""
    band = np.clip(y.take(faces[:, 0]) * y.dtype.type(1 / _BAND), 0, 2**15)
    return np.argsort(band.astype(np.uint16), kind="stable")


def _along(row: Reals, x: Reals, y: Reals, slope: Reals) -> Reals:
    """Where edges cross rows."""
    out = row - y
    out *= slope
    out += x
    return out


def _halves(upper: Reals, lower: Reals, some: Ints) -> Reals:
    """Values of the upper and the lower halves of some triangles."""
    return np.concatenate([upper.take(some), lower.take(some)])


def _slope(x0: Reals, x1: Reals, y0: Reals, y1: Reals) -> Reals:
    """Columns per row."""
    rise = y1 - y0
    return np.divide(x1 - x0, rise, out=np.zeros_like(rise), where=rise > 0)
