"""Arrays of vectors in space, and sums by owner."""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats, Ints


def sums(owner: Ints, values: Floats, count: int) -> Floats:
    """(count,) sum of the values (k,) of each owner (k,)."""
    return np.asarray(np.bincount(owner, values, minlength=count), np.float64)


def cross(first: Floats, second: Floats) -> Floats:
    """(..., 3) cross products of floats (..., 3) that broadcast together; equal to the last digit to those of
    numpy, which takes three to seven times as long."""
    a, b, c = first[..., 0], first[..., 1], first[..., 2]
    d, e, f = second[..., 0], second[..., 1], second[..., 2]
    out = np.empty(np.broadcast_shapes(first.shape, second.shape))
    x, y, z = out[..., 0], out[..., 1], out[..., 2]
    np.multiply(b, f, out=x)
    x -= c * e
    np.multiply(c, d, out=y)
    y -= a * f
    np.multiply(a, e, out=z)
    z -= b * d
    return out
