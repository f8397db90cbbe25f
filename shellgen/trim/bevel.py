"""The edging as solids: the section of its stock swept along the rim, one closed mesh for each piece."""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.geom import loops
from shellgen.model import FoamSheet, Solid, Surface
from shellgen.trim.edging import AROUND, Edging, Params, rim

OFF, LONGEST = 0.1, 40.0
"""mm: how far a side may be off the rim's curve, and its greatest length (chosen: neither shows in a picture)."""


def section(params: Params) -> Floats:
    """(3, 2) mm, corners across the rim's edge and out from it: a triangle, its broad face on the foam."""
    half = params.width / 2
    return np.array([[half, 0.0], [0.0, params.thickness], [-half, 0.0]])


def build(surface: Surface, made: Edging, params: Params, foam: FoamSheet) -> tuple[Solid, ...]:
    """A solid for each piece, under its name. The ends are square to the rim; at a corner that halves its turn."""
    edge, normals = rim(surface, foam)
    outward = loops.frames(edge, normals)[1]
    across, out = section(params).T[:, None, :, None]
    rows = edge[:, None] + across * normals[:, None] + out * outward[:, None]
    sample = np.arange(2 * AROUND + 1.0)  # a piece may pass the head
    along, steps = _adding(loops.speed(made.curve)), _adding(loops.speed(edge) * _density(edge, normals))
    solids = []
    for piece in made.pieces:
        first, last = np.interp(np.interp([piece.start, piece.end], along, sample), sample, steps)
        count = int(np.ceil(last - first)) + 1
        solids.append(_swept(piece.name, _between(rows, np.interp(np.linspace(first, last, count), steps, sample))))
    return tuple(solids)


def _density(edge: Floats, normals: Floats) -> Floats:
    """(AROUND,) sides per mm that the rim needs at each of its points.

    References: a chord c of a curve of curvature k is k c^2 / 8 off it.
    """
    bent = np.hypot(*loops.curvatures(edge, normals))
    return np.maximum(np.sqrt(bent / (8 * OFF)), 1 / LONGEST)


def _adding(rate: Floats) -> Floats:
    """(2 AROUND + 1,) integral from the head to every point, twice round, by the trapezoidal rule. rate : per radian"""
    middle = (rate + np.roll(rate, -1)) * np.pi / AROUND
    return np.concatenate([[0.0], np.cumsum(np.tile(middle, 2))])


def _between(rows: Floats, sample: Floats) -> Floats:
    """Rows at fractions of the samples, closed round."""
    before = np.floor(sample).astype(int)
    share = (sample - before)[:, None, None]
    return np.asarray((1 - share) * rows[before % AROUND] + share * rows[(before + 1) % AROUND])


def _swept(name: str, rows: Floats) -> Solid:
    """rows : (n, 3, 3) corners of the section, one end to the other"""
    corners = rows.shape[1]
    i, j = np.meshgrid(np.arange(len(rows) - 1), np.arange(corners), indexing="ij")
    after = (j + 1) % corners
    a, b, c, d = (
        k.ravel() for k in (corners * i + j, corners * i + after, corners * (i + 1) + after, corners * (i + 1) + j)
    )
    last = corners * (len(rows) - 1)
    ends = np.array([[0, 2, 1], [last, last + 1, last + 2]])
    return Solid(
        name, rows.reshape(-1, 3), np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d]), ends])
    )
