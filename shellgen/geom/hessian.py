"""The sparse matrix of second derivatives of flattening: ordered once, filled and factored at every Newton step."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from shellgen.geom.dissection import nested_dissection
from shellgen.geom.factoring import MANY, Factoring
from shellgen.geom.mates import Stations, differences, gradients, stations
from shellgen.geom.sheets import Sheets

DAMPING = 1e-9
"""Share added to the diagonal, because a free piece may drift and turn. Chosen: far below the energies' stiffness, far
above rounding."""

STIFF_MATES = 1e3
"""Penalty on a mate's difference over the typical stiffness of a vertex. Chosen: each step takes three digits off the
difference while the matrix keeps ten good ones."""


class Hessian:
    """Pattern, order and factors of the matrix, of which the upper triangle is kept.

    A node has two unknowns: x and y of a vertex, or the level of a piece and an idle one. Node i stands at
    `place[i]` in the order of the unknowns, the levels last.
    """

    def __init__(self, pieces: Sheets) -> None:
        faces, n = pieces.faces, len(pieces.points)
        self.pieces, self.nodes = pieces, n + pieces.count
        self.at: Stations | None = None if pieces.mates is None else stations(pieces.mates)
        pairs = np.zeros((2, 0), dtype=int) if self.at is None else self.at.vertex[self.at.pairs]
        coupled = 2 * (n if self.at is not None else int(np.bincount(pieces.vertex_piece).max()))
        self.place = np.arange(self.nodes)
        if coupled >= MANY:
            edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]], pairs.T])
            self.place[nested_dissection(pieces.points, edges)] = np.arange(n)
        self.element = self.place[np.column_stack([faces, n + pieces.piece])]
        self.unknowns = np.ascontiguousarray((2 * self.element[:, :, None] + np.arange(2)).reshape(len(faces), 8).T)
        self.idle = np.concatenate([2 * self.place[:n][pieces.held] + 1, 2 * np.arange(n, self.nodes) + 1])
        self._lay_out(self.place[pairs])
        self.factoring = Factoring(self.indices, self.indptr, coupled=coupled)

    def _lay_out(self, pairs: NDArray) -> None:
        """Compressed columns of the upper triangle, in 2 x 2 blocks, and where in them the entries of each triangle's
        matrix and of each pair of stations (2, p) are added: `target` for those `kept` of the flattened entries."""
        row, column = np.repeat(self.element, 4, axis=1).ravel(), np.tile(self.element, (1, 4)).ravel()
        inner, mated = np.flatnonzero(row <= column), np.flatnonzero(pairs[0] <= pairs[1])
        row, column = np.append(row[inner], pairs[0, mated]), np.append(column[inner], pairs[1, mated])
        blocks, block = np.unique(column * self.nodes + row, return_inverse=True)
        column, row = np.divmod(blocks, self.nodes)
        first = np.searchsorted(column, np.arange(self.nodes + 1))
        # a node's diagonal block comes last, with one entry in the first of its two columns and two in the second
        height = 2 * np.diff(first) - 1
        start = 4 * first[:-1] - np.arange(self.nodes)
        parity = np.arange(2)
        corner = start[column] + 2 * (np.arange(len(blocks)) - first[column])
        entry = corner[:, None, None] + parity[:, None] + height[column][:, None, None] * parity
        upper = (row < column)[:, None, None] | (parity[:, None] <= parity)
        self.size = int(upper.sum())
        self.indptr = np.append(start[:, None] + height[:, None] * parity, self.size).astype(np.int32)
        self.indices = np.empty(self.size, dtype=np.int32)
        self.indices[entry[upper]] = np.broadcast_to((2 * row[:, None] + parity)[:, :, None], entry.shape)[upper]
        self.diagonal = entry[row == column][:, parity, parity].ravel()
        entry[~upper] = -1
        element, corners = np.divmod(inner, 16)
        one, other = np.divmod(np.arange(64).reshape(4, 2, 4, 2).transpose(0, 2, 1, 3).reshape(16, 2, 2), 8)
        at = len(self.element) * (8 * np.minimum(one, other) + np.maximum(one, other))
        self.kept, self.target = _those_within(element[:, None, None] + at[corners], entry[block[: len(inner)]])
        at = 4 * mated[:, None, None] + np.arange(4).reshape(2, 2)
        self.mate_kept, self.mate_target = _those_within(at, entry[block[len(inner) :]])

    def factor(self, elements: NDArray, levels: NDArray, pull: NDArray) -> tuple[Callable[[NDArray], NDArray], float]:
        """Solves with the matrix, until the next is factored; gives also the penalty it puts on the mates.

        elements : (8, 8, m) second derivatives by each triangle's unknowns, positive semidefinite; the upper triangle
        levels   : (pieces,) second derivatives by the levels alone
        pull     : (s,) complex, gradients of the mates at their stations
        """
        vertices = 2 * len(self.pieces.points)
        data = np.bincount(self.target, elements.ravel()[self.kept], minlength=self.size)
        data[self.diagonal[vertices::2]] += levels
        penalty = STIFF_MATES * float(np.median(data[self.diagonal[:vertices]]))
        if self.at is not None:
            vectors = pull.view(float).reshape(-1, 2)
            first, second = self.at.pairs
            squares = penalty * vectors[first, :, None] * vectors[second, None, :]
            data += np.bincount(self.mate_target, squares.ravel()[self.mate_kept], minlength=self.size)
        data[self.diagonal] *= 1 + DAMPING
        data[self.diagonal[self.idle]] = 1.0
        return self.factoring.factor(data), penalty

    def gather(self, values: NDArray) -> NDArray:
        """(8, m) each triangle's unknowns."""
        return values[self.unknowns]

    def scatter(self, values: NDArray) -> NDArray:
        """(2 nodes,) sum of the triangles' (8, m) gradients."""
        return np.bincount(self.unknowns.ravel(), values.ravel(), minlength=2 * self.nodes)

    def split(self, unknowns: NDArray) -> tuple[NDArray, NDArray]:
        """(n,) complex moves of the vertices, and (pieces,) of the levels."""
        by_node = unknowns.view(complex)[self.place]
        return by_node[: len(self.pieces.points)], by_node[len(self.pieces.points) :].real

    def mate_state(self, flat: NDArray) -> tuple[NDArray, NDArray]:
        """(s,) complex gradients at the stations and (k,) mm differences of the mates; empty if there are none."""
        if self.at is None or self.pieces.mates is None:
            return np.zeros(0, dtype=complex), np.zeros(0)
        pull = gradients(self.pieces.mates, self.at, flat)
        pull[self.pieces.held[self.at.vertex]] = pull[self.pieces.held[self.at.vertex]].real
        return pull, differences(self.pieces.mates, flat)

    def scatter_mates(self, pull: NDArray, force: NDArray) -> NDArray:
        """(2 nodes,) sum of the mates' gradients, each times its `force` (k,)."""
        total = np.zeros(2 * self.nodes)
        if self.at is not None:
            value, place = pull * force[self.at.condition], 2 * self.place[self.at.vertex]
            total += np.bincount(place, value.real, minlength=len(total))
            total += np.bincount(place + 1, value.imag, minlength=len(total))
        return total

    def along_mates(self, pull: NDArray, move: NDArray) -> NDArray:
        """(k,) forecast growth of the mates' differences for moves (n,) complex of the vertices."""
        if self.at is None or self.pieces.mates is None:
            return np.zeros(0)
        share = (pull.conj() * move[self.at.vertex]).real
        return np.bincount(self.at.condition, share, minlength=self.pieces.mates.weights.shape[0])


def _those_within(places: NDArray, targets: NDArray) -> tuple[NDArray, NDArray]:
    """The places whose target is none below the diagonal, and those targets."""
    within = targets >= 0
    return places[within], targets[within]
