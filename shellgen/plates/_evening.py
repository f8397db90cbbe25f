"""The corners of a net moved until its cells are of equal area and evenly shaped, on the dome itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import spsolve

from shellgen.core.arrays import Floats, Ints
from shellgen.model import Surface
from shellgen.plates._curves import frames

ROUNDS = 30
"""Most rounds of the minimiser. Chosen: it rests after ten to twenty."""
ENOUGH = 1e-3
"""Relative gain per round at which it rests. Chosen."""
SIDES, ANGLES = 0.3, 0.5
"""Weights of even sides and even angles against even areas. Chosen by eye: areas stay within a few hundredths."""


@dataclass(frozen=True, slots=True, eq=False)
class NetCorners:
    """Half a net by its corners.

    uv     : (n, 2); corners on the rim run along it, those on the midline keep to it
    rim    : corners along the rim from neck to tail, both ends included (they stay)
    middle : corners on the midline between the two
    cells  : for each cell its corners, counter-clockwise
    area   : (cells,) mm2 wanted; of half a cell on the midline, half
    sides  : (k, 2) corners at the ends of each side
    side   : (k,) mm wanted
    rim_side : (r - 1,) mm wanted between the corners on the rim
    """

    uv: Floats
    rim: Sequence[int]
    middle: Sequence[int]
    cells: Sequence[Sequence[int]]
    area: Floats
    sides: Ints
    side: Floats
    rim_side: Floats


def evened(surface: Surface, net: NetCorners) -> Floats:
    """(n, 2) uv of the corners at rest.

    References: least squares in the spirit of the vertex models of tissues (Farhadifar et al., Current Biology 17(24),
    2007): relative errors of areas and sides, and the pull left over where three sides meet (none at 120 degrees).
    Levenberg-Marquardt: Marquardt, SIAM J. Appl. Math. 11(2), 1963.
    """
    rest = _Residuals(surface, net)
    x, damping = rest.start, 1e-3
    error, slope = rest(x)
    for _ in range(ROUNDS):
        normal = (slope.T @ slope).tocsc()
        step = spsolve(normal + damping * sparse.diags_array(normal.diagonal()), -(slope.T @ error))
        tried, tried_slope = rest(x + step)
        gain = 1 - (tried @ tried) / (error @ error)
        if gain > 0:
            x, error, slope, damping = x + step, tried, tried_slope, damping / 4
        else:
            damping *= 10
        if abs(gain) < ENOUGH or damping > 1e6:
            break
    return rest.place(x)[0][: len(net.uv)]


class _Residuals:
    """The errors and their derivatives by the corners' freedoms: (u, v) inside, u on the midline, an angle on the rim.

    Half-way between rim corners stands one more point, so that the area up to the curved rim counts.
    """

    def __init__(self, surface: Surface, net: NetCorners) -> None:
        self.surface, self.net = surface, net
        count = len(net.uv)
        self.rim, self.middle = np.array(net.rim), np.array(net.middle, int)
        self.inner = np.setdiff1d(np.arange(count), np.concatenate([self.rim, self.middle]))
        self.angle = np.arctan2(*net.uv[self.rim].T[::-1])
        self.angle[[0, -1]] = 0, np.pi
        self.extra = np.arange(count, count + len(self.rim) - 1)
        between = {step: [int(k)] for step, k in zip(pairwise(net.rim), self.extra, strict=True)}
        rings = [
            [p for a, b in pairwise([*cell, cell[0]]) for p in (a, *between.get((a, b), []))] for cell in net.cells
        ]
        self.owner = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
        self.ring = np.concatenate(rings)
        self.ahead = np.concatenate([ring[1:] + ring[:1] for ring in rings])
        self.behind = np.concatenate([ring[-1:] + ring[:-1] for ring in rings])
        self.start = np.concatenate([net.uv[self.inner].ravel(), net.uv[self.middle, 0], self.angle[1:-1]])
        # a side off the midline pulls its end on the midline with its mirror image
        on_middle = net.uv[:, 1] == 0
        self.times = np.where(on_middle[net.sides] & ~on_middle[net.sides].all(axis=1, keepdims=True), 2.0, 1.0)

    def place(self, x: Floats) -> tuple[Floats, sparse.csr_array]:
        """(n, 2) uv of corners and points between on the rim, and its derivatives (2 n, freedoms)."""
        uv = np.concatenate([self.net.uv, np.zeros((len(self.extra), 2))])
        a, b = 2 * len(self.inner), 2 * len(self.inner) + len(self.middle)
        uv[self.inner], uv[self.middle, 0] = x[:a].reshape(-1, 2), x[a:b]
        angle = np.concatenate([self.angle[:1], x[b:], self.angle[-1:]])
        turn = sparse.eye_array(len(angle), len(angle) - 2, k=-1, format="csr")
        turn = sparse.vstack([turn, (turn[1:] + turn[:-1]) / 2])
        angle = np.concatenate([angle, (angle[1:] + angle[:-1]) / 2])
        on_rim = np.concatenate([self.rim, self.extra])
        uv[on_rim] = np.column_stack([np.cos(angle), np.sin(angle)])
        uv[self.rim[[0, -1]]] = (1, 0), (-1, 0)
        free = np.concatenate([np.column_stack([2 * self.inner, 2 * self.inner + 1]).ravel(), 2 * self.middle])
        straight = sparse.coo_array((np.ones(b), (free, np.arange(b))), shape=(uv.size, b))
        spin = np.column_stack([-np.sin(angle), np.cos(angle)]).ravel()
        rows = np.column_stack([2 * on_rim, 2 * on_rim + 1]).ravel()
        curl = sparse.coo_array((spin, (rows, np.repeat(np.arange(len(angle)), 2))), shape=(uv.size, len(angle)))
        return uv, sparse.hstack([straight, curl @ turn]).tocsr()

    def __call__(self, x: Floats) -> tuple[Floats, sparse.csr_array]:
        uv, by_freedom = self.place(x)
        points, tangent = self.surface.points(uv), self.surface.tangents(uv)
        by_uv = sparse.bsr_array((tangent, np.arange(len(uv)), np.arange(len(uv) + 1))).tocsr()
        parts = [self._areas(points), self._sides(points), self._angles(points, self._basis(uv, tangent))]
        error = np.concatenate([part for part, _ in parts])
        return error, sparse.vstack([slope for _, slope in parts]).tocsr() @ by_uv @ by_freedom

    def _areas(self, points: Floats) -> tuple[Floats, sparse.coo_array]:
        cross = np.cross(points[self.ring], points[self.ahead])
        vector = 0.5 * np.stack([np.bincount(self.owner, x) for x in cross.T], axis=1)
        area = np.linalg.norm(vector, axis=1)
        scale = np.sqrt(self.net.area / self.net.area.max()) / self.net.area  # half a cell counts half
        edge = points[self.ahead] - points[self.behind]
        slope = 0.5 * np.cross(edge, (vector * (scale / area)[:, None])[self.owner])
        return scale * (area - self.net.area), _blocks(self.owner, self.ring, slope[:, None], points, len(area))

    def _sides(self, points: Floats) -> tuple[Floats, sparse.coo_array]:
        """Logarithms, so that no side can shrink to nothing."""
        a, b = np.concatenate([self.net.sides, np.column_stack([self.rim[:-1], self.rim[1:]])]).T
        wanted = np.concatenate([self.net.side, self.net.rim_side])
        edge = points[b] - points[a]
        span = np.linalg.norm(edge, axis=1)
        slope = (SIDES / span**2)[:, None] * edge
        rows = np.tile(np.arange(len(a)), 2)
        both = np.concatenate([slope, -slope])[:, None]
        return SIDES * np.log(span / wanted), _blocks(rows, np.concatenate([b, a]), both, points, len(a))

    def _basis(self, uv: Floats, tangent: Floats) -> Floats:
        """(corners, 2, 3): the directions in which each corner can give way, zero where it cannot."""
        basis = frames(self.surface, uv[: len(self.net.uv)])
        along = tangent[self.rim, :, 1] * uv[self.rim, :1] - tangent[self.rim, :, 0] * uv[self.rim, 1:]
        basis[self.rim, 0] = along / np.linalg.norm(along, axis=1, keepdims=True)
        basis[np.concatenate([self.rim, self.middle]), 1] = 0
        basis[self.rim[[0, -1]]] = 0
        return basis

    def _angles(self, points: Floats, basis: Floats) -> tuple[Floats, sparse.coo_array]:
        """The sum of the unit pulls of the sides at each corner, by `basis`."""
        here, there = np.concatenate([self.net.sides, self.net.sides[:, ::-1]]).T
        times = ANGLES * self.times.T.ravel()
        edge = points[there] - points[here]
        span = np.linalg.norm(edge, axis=1)
        unit = edge / span[:, None]
        pull = np.einsum("nki,ni->nk", basis[here], unit)
        sums = [np.bincount(here, times * x, minlength=len(basis)) for x in pull.T]
        error = np.asarray(np.stack(sums, axis=1), dtype=np.float64)
        slope = (basis[here] - pull[:, :, None] * unit[:, None]) * (times / span)[:, None, None]
        slope = np.concatenate([slope, -slope])
        return error.ravel(), _blocks(np.tile(here, 2), np.concatenate([there, here]), slope, points, error.size)


def _blocks(row: Ints, point: Ints, values: Floats, points: Floats, rows: int) -> sparse.coo_array:
    """Derivatives (k, d, 3) of d rows each, from row d * `row` on, by the places of the `point` of each."""
    deep = values.shape[1]
    at = np.broadcast_to((deep * row[:, None] + np.arange(deep))[:, :, None], values.shape)
    by = np.broadcast_to((3 * point[:, None] + np.arange(3))[:, None, :], values.shape)
    return sparse.coo_array((values.ravel(), (at.ravel(), by.ravel())), shape=(rows, points.size))
