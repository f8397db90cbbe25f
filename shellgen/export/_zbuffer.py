"""Which triangle is seen at each sample of a picture: a depth buffer in plain numpy, the same on every machine.

Triangles are cut into rows, rows into samples, and of all samples on one spot the nearest stays.

References: the z-buffer of E. Catmull, "A Subdivision Algorithm for Computer Display of Curved Surfaces" (1974).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_MOST = 6_000_000  # samples held at a time: some 300 MB at the peak
_STEPS = 2**31 - 2  # depths that can be told apart


def nearest(corners: NDArray, depths: NDArray, shape: tuple[int, int]) -> NDArray:
    """Index of the nearest triangle at every sample, -1 where there is none. (rows, columns) int32.

    corners : (m, 3, 2) float, column and row of the corners; the centre of sample (r, c) is at (c + 0.5, r + 0.5)
    depths  : (m, 3) float, larger is nearer; taken to be linear over the picture. Of equal depths the later
              triangle wins.
    """
    seen = np.full(shape[0] * shape[1], -1, np.int64)
    which = _touching(corners, shape)
    if len(which):
        plane = _Planes(corners[which], depths[which])
        bounds = np.r_[0, np.cumsum(plane.samples())]
        start = 0
        while start < len(which):
            stop = max(int(np.searchsorted(bounds, bounds[start] + _MOST, side="right")) - 1, start + 1)
            spot, key = plane.sample(np.arange(start, min(stop, len(which))), shape)
            np.maximum.at(seen, spot, key)
            start = stop
    names = np.append(which, -1).astype(np.int32)
    return names[np.where(seen < 0, len(which), seen & 0xFFFFFFFF)].reshape(shape)


def _touching(corners: NDArray, shape: tuple[int, int]) -> NDArray:
    """The triangles whose box holds the centre of a sample: of a fine mesh, many fall between."""
    good = np.ones(len(corners), bool)
    for axis, size in ((0, shape[1]), (1, shape[0])):
        a, b, c = corners[:, :, axis].T  # three at a time: numpy is slow along short axes
        low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
        good &= np.maximum(np.ceil(low - 0.5), 0) < np.minimum(np.ceil(high - 0.5), size)
    return np.flatnonzero(good)


class _Planes:
    """Triangles, corners sorted by row, with the slopes of their edges and depths."""

    def __init__(self, corners: NDArray, depths: NDArray) -> None:
        order = np.argsort(corners[:, :, 1], axis=1, kind="stable")
        x, y, d = (np.take_along_axis(v, order, axis=1) for v in (corners[:, :, 0], corners[:, :, 1], depths))
        self.x, self.y = x, y
        (x0, x1, x2), (y0, y1, y2), (d0, d1, d2) = x.T, y.T, d.T
        area = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
        self.flat = np.abs(area) < 1e-12
        area = np.where(self.flat, 1.0, area)
        scale = _STEPS / (float(np.ptp(d)) or 1.0)
        self.near = (d0 - d.min()) * scale
        self.across = ((d1 - d0) * (y2 - y0) - (d2 - d0) * (y1 - y0)) / area * scale
        self.down = ((d2 - d0) * (x1 - x0) - (d1 - d0) * (x2 - x0)) / area * scale
        self.long, self.upper, self.lower = _slope(x0, x2, y0, y2), _slope(x0, x1, y0, y1), _slope(x1, x2, y1, y2)

    def samples(self) -> NDArray:
        """(m,) an upper bound of the samples of each triangle."""
        x0, x1, x2 = self.x.T
        across = np.maximum(np.maximum(x0, x1), x2) - np.minimum(np.minimum(x0, x1), x2)
        return (np.ceil(across) + 1) * (np.ceil(self.y[:, 2] - self.y[:, 0]) + 1)

    def sample(self, which: NDArray, shape: tuple[int, int]) -> tuple[NDArray, NDArray]:
        """Spots and keys (depth in the upper half, triangle in the lower) of all samples of some triangles."""
        first = np.clip(np.ceil(self.y[which, 0] - 0.5), 0, shape[0]).astype(np.int64)
        last = np.clip(np.ceil(self.y[which, 2] - 0.5), 0, shape[0]).astype(np.int64)
        count = np.where(self.flat[which], 0, last - first)
        t = np.repeat(which, count)
        row = np.repeat(first - np.r_[0, np.cumsum(count)[:-1]], count) + np.arange(count.sum())
        drop = row + 0.5 - self.y[t, 0]
        bent = np.where(
            row + 0.5 < self.y[t, 1],
            self.x[t, 0] + drop * self.upper[t],
            self.x[t, 1] + (row + 0.5 - self.y[t, 1]) * self.lower[t],
        )
        straight = self.x[t, 0] + drop * self.long[t]
        left = np.clip(np.ceil(np.minimum(bent, straight) - 0.5), 0, shape[1]).astype(np.int64)
        right = np.clip(np.ceil(np.maximum(bent, straight) - 0.5), 0, shape[1]).astype(np.int64)
        near = self.near[t] + self.across[t] * (left + 0.5 - self.x[t, 0]) + self.down[t] * drop
        return _spread(row * shape[1] + left, right - left, near, self.across[t], t)


def _spread(spot: NDArray, count: NDArray, near: NDArray, step: NDArray, triangle: NDArray) -> tuple[NDArray, NDArray]:
    """Rows of samples, one after another."""
    inside = np.arange(count.sum()) - np.repeat(np.r_[0, np.cumsum(count)[:-1]], count)
    depth = np.repeat(near, count) + np.repeat(step, count) * inside
    key = np.clip(depth, 0, _STEPS).astype(np.int64)
    key <<= 32
    key |= np.repeat(triangle, count)
    return np.repeat(spot, count) + inside, key


def _slope(x0: NDArray, x1: NDArray, y0: NDArray, y1: NDArray) -> NDArray:
    rise = y1 - y0
    return (x1 - x0) / np.where(rise == 0, 1.0, rise)
