"""Development of ruled strips: two polylines in space, joined rung by rung, unrolled into the plane."""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats


def unroll(lower: Floats, upper: Floats) -> tuple[Floats, Floats]:
    """The strip between (n, 3) `lower` and `upper` unrolled: both as (n, 2), the first edge of `lower` along x and
    `upper` on its left. Every edge, rung and diagonal keeps its length: exact for a developable strip as n grows.

    References: do Carmo, Differential Geometry of Curves and Surfaces, 1976, section 3-5 (ruled and developable
    surfaces).
    """
    along, rung = np.diff(lower, axis=0), upper - lower
    before = _angle(along, rung[:-1])  # at a vertex, from the edge ahead to the rung
    across = _angle(-along, upper[:-1] - lower[1:])  # at the next vertex, from the edge behind to the diagonal
    between = _angle(upper[:-1] - lower[1:], rung[1:])  # there, from diagonal to rung
    turn = np.pi - (across[:-1] + between[:-1] + before[1:])
    heading = np.concatenate([[0.0], np.cumsum(turn)])
    step = np.linalg.norm(along, axis=1)
    flat = np.concatenate([[[0.0, 0.0]], np.cumsum(step[:, None] * _unit(heading), axis=0)])
    to_upper = np.concatenate([heading + before, [heading[-1] + np.pi - across[-1] - between[-1]]])
    return flat, flat + np.linalg.norm(rung, axis=1)[:, None] * _unit(to_upper)


def _angle(a: Floats, b: Floats) -> Floats:
    """Angles between rows, well-conditioned near 0 and pi."""
    return np.asarray(np.arctan2(np.linalg.norm(np.cross(a, b), axis=1), (a * b).sum(axis=1)))


def _unit(angle: Floats) -> Floats:
    return np.stack([np.cos(angle), np.sin(angle)], axis=-1)
