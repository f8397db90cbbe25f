"""The sparse matrix of second derivatives of flattening: ordered once, filled and factored at every Newton step."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from shellgen.geom.dissection import nested_dissection
from shellgen.geom.factoring import Factoring
from shellgen.geom.mates import Stations, differences, gradients, stations
from shellgen.geom.sheets import Sheets

DAMPING = 1e-9
"""Share added to the diagonal, because a free piece may drift and turn. Chosen: far below the energies' stiffness, far
above rounding."""

STIFF_MATES = 1e3
"""Penalty on a mate's difference over the typical stiffness of a vertex. Chosen: each step takes three digits off the
difference while the matrix keeps ten good ones."""


class Hessian:
    """Pattern, order and factors of the matrix.

    A node has two unknowns: x and y of a vertex, or the level of a piece and an idle one. Node i stands at
    `place[i]` in the order of elimination, the levels last.
    """

    def __init__(self, pieces: Sheets) -> None:
        faces, n = pieces.faces, len(pieces.points)
        self.pieces, self.nodes = pieces, n + pieces.count
        self.at: Stations | None = None if pieces.mates is None else stations(pieces.mates)
        edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
        if self.at is not None:
            edges = np.concatenate([edges, self.at.vertex[self.at.pairs].T])
        self.place = np.arange(self.nodes)
        self.place[nested_dissection(pieces.points, edges)] = np.arange(n)
        self.element = self.place[np.column_stack([faces, n + pieces.piece])]
        self.unknowns = (2 * self.element[:, :, None] + np.arange(2)).reshape(len(faces), 8)
        self.idle = np.concatenate([2 * self.place[:n][pieces.held] + 1, 2 * np.arange(n, self.nodes) + 1])
        self._lay_out()
        alone = n if self.at is not None else int(np.bincount(pieces.vertex_piece).max())
        self.factoring = Factoring(self.indices, self.indptr, coupled=2 * alone)

    def _lay_out(self) -> None:
        """Compressed columns of the 2 x 2 blocks, and where in them each element's entries are added."""
        row, column = np.repeat(self.element, 4, axis=1).ravel(), np.tile(self.element, (1, 4)).ravel()
        if self.at is not None:
            first, second = self.place[self.at.vertex[self.at.pairs]]
            row, column = np.concatenate([row, first]), np.concatenate([column, second])
        blocks, block = np.unique(column * self.nodes + row, return_inverse=True)
        column, row = np.divmod(blocks, self.nodes)
        first = np.searchsorted(column, np.arange(self.nodes + 1))
        height = 2 * np.diff(first)  # entries in each of a node's two columns
        corner = 4 * first[column] + 2 * (np.arange(len(blocks)) - first[column])
        entry = corner[:, None, None] + np.arange(2)[:, None] + height[column][:, None, None] * np.arange(2)
        self.size = entry.size
        self.indptr = np.append(4 * first[:-1, None] + height[:, None] * np.arange(2), self.size).astype(np.int32)
        self.indices = np.empty(self.size, dtype=np.int32)
        self.indices[entry] = (2 * row[:, None] + np.arange(2))[:, :, None]
        inner = 16 * len(self.element)
        self.target = entry[block[:inner]].reshape(-1, 4, 4, 2, 2).transpose(0, 1, 3, 2, 4).ravel()
        self.mate_target = entry[block[inner:]].ravel()
        self.diagonal = entry[row == column][:, [0, 1], [0, 1]].ravel()

    def factor(self, elements: NDArray, levels: NDArray, pull: NDArray) -> tuple[Callable[[NDArray], NDArray], float]:
        """Solves with the matrix, until the next is factored; gives also the penalty it puts on the mates.

        elements : (m, 8, 8) second derivatives by each triangle's unknowns, positive semidefinite
        levels   : (pieces,) second derivatives by the levels alone
        pull     : (s,) complex, gradients of the mates at their stations
        """
        vertices = 2 * len(self.pieces.points)
        data = np.bincount(self.target, elements.ravel(), minlength=self.size)
        data[self.diagonal[vertices::2]] += levels
        penalty = STIFF_MATES * float(np.median(data[self.diagonal[:vertices]]))
        if self.at is not None:
            vectors = pull.view(float).reshape(-1, 2)
            first, second = self.at.pairs
            squares = penalty * vectors[first, :, None] * vectors[second, None, :]
            data += np.bincount(self.mate_target, squares.ravel(), minlength=self.size)
        data[self.diagonal] *= 1 + DAMPING
        data[self.diagonal[self.idle]] = 1.0
        return self.factoring.factor(data), penalty

    def gather(self, values: NDArray) -> NDArray:
        """(m, 8) each triangle's unknowns."""
        return values[self.unknowns]

    def scatter(self, values: NDArray) -> NDArray:
        """(2 nodes,) sum of the triangles' (m, 8) gradients."""
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
