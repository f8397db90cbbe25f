"""Which triangle is seen at each sample of a picture: a depth buffer in plain numpy, the same on every machine.

Of all samples that triangles cover (`geom.scan_conversion`) the nearest on one spot stays. Only samples that are wanted
are made: they are numbered along the rows, so that those of a span follow each other.

References: the z-buffer of E. Catmull, "A Subdivision Algorithm for Computer Display of Curved Surfaces" (1974).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shellgen.core.arrays import Ints, Singles
from shellgen.geom.scan_conversion import Facets, Lattice, Plane, ScanConverter, Spans, Wanted

_MOST = 100_000  # samples held at a time: they stay in the processor's cache
_STEPS = 2**30  # depths that can be distinguished


class Depths:
    """The depths of triangles on a picture, ready to be sampled on any lattice; whole numbers stand for them."""

    def __init__(self, facets: Facets, depth: Singles) -> None:
        """depth : (n,) of the vertices, larger is nearer; taken to be linear over the picture"""
        seen = [depth.take(k) for k in facets.corners]
        self.low = float(min((d.min() for d in seen), default=0.0))
        self.scale = _STEPS / ((float(max((d.max() for d in seen), default=0.0)) - self.low) or 1.0)
        self.covered = ScanConverter(facets)
        self.plane = facets.plane((depth - np.float32(self.low)) * np.float32(self.scale))

    def nearest(self, lattice: Lattice, wanted: Wanted | None = None) -> Ints:
        """(k,) int64 of the samples that are wanted, along the rows: minus one where nothing is, or the depth in the
        upper half and the triangle in the lower. Of equal depths the later triangle wins.
        """
        size = lattice.shape[0] * lattice.shape[1] if wanted is None else len(wanted.places)
        seen = np.full(size, -1, np.int64)
        for spans in self.covered.spans(lattice, wanted):
            keys = _Keys(self.plane, spans, lattice)
            for part in _shares(spans.count, _MOST):
                np.maximum.at(seen, *keys.sample(part, wanted))
        return seen

    def decoded(self, seen: Ints) -> tuple[Ints, Singles]:
        """Triangle (k,) intp and depth (k,) of samples where something is."""
        depth = (seen >> 32).astype(np.float32)
        depth -= np.float32(_STEPS // 2)
        depth *= np.float32(1 / self.scale)
        depth += np.float32(self.low)
        return seen & 0xFFFFFFFF, depth


class _Keys:
    """A key is the depth in the upper half and the triangle in the lower, so that the largest is the nearest; along a
    span it is linear, in whole numbers whose overflow cancels out."""

    def __init__(self, plane: Plane, spans: Spans, lattice: Lattice) -> None:
        """plane : of the depths"""
        base, across, down = (table.take(spans.triangle) for table in plane)
        y = spans.row + np.float32(0.5 + lattice.down)
        x = (spans.left + np.float32(0.5)) * np.float32(1 / lattice.close) + np.float32(lattice.right)
        near = np.minimum(np.maximum(base + across * x + down * y, 0), np.float32(_STEPS)).astype(np.int64)
        near += _STEPS // 2  # never below zero
        step = np.clip(across, -_STEPS, _STEPS) * np.float32(1 / lattice.close)
        self.spans, self.step = spans, step.astype(np.int64) << 32
        self.base = (near << 32 | spans.triangle) - self.step * spans.start

    def sample(self, part: slice, wanted: Wanted | None) -> tuple[Ints, Ints]:
        """Numbers and keys of the samples of some spans."""
        spot, count = self.spans.every(part)
        key = self.step[part].repeat(count)
        key *= spot if wanted is None else wanted.places.take(spot)
        key += self.base[part].repeat(count)
        return spot, key


def _shares(count: Ints, most: int) -> Iterator[slice]:
    """Slices of things that come to no more than `most` together, or are one thing."""
    if len(count) <= most and count.sum() <= most:
        yield slice(None)
        return
    bounds, start = np.append(0, np.cumsum(count)), 0
    while start < len(count):
        stop = max(int(np.searchsorted(bounds, bounds[start] + most, side="right")) - 1, start + 1)
        yield slice(start, min(stop, len(count)))
        start = stop
