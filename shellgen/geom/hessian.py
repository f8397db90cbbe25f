"""The sparse matrix of second derivatives of flattening: ordered once, filled and factored at every Newton step."""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Complexes, Floats, Ints
from shellgen.geom.dissection import nested_dissection
from shellgen.geom.factoring import MANY, Factoring, Solve
from shellgen.geom.mates import Stations, differences, gradients, stations
from shellgen.geom.sheets import Sheets

DAMPING = 1e-9
"""Share added to the diagonal, because a free piece may drift and turn. Chosen: far below the energies' stiffness, far
above rounding."""

STIFF_MATES = 1e3
"""Penalty on a mate's difference over the typical stiffness of a vertex. Chosen: each step divides
the difference by a thousand, and the matrix still has ten accurate digits."""


UPPER = np.triu_indices(7)
"""Rows and columns of the entries of a triangle's matrix that are added; its eighth unknown is idle."""


class Hessian:
    """Pattern, order and factors of the matrix, of which only the upper triangle is stored.

    A node has two unknowns: x and y of a vertex, or the level of a piece and an idle one. Node i is at
    position `place[i]` in the order of the unknowns, the levels last.
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
        self._set_pattern(self.place[pairs])
        by_vertex = self.diagonal.reshape(-1, 2)[self.place[:n]]
        self._diagonals = [by_vertex[pieces.vertex_piece == p].ravel() for p in range(pieces.count)]
        self.factoring = Factoring(self.indices, self.indptr, coupled=coupled)

    def _set_pattern(self, pairs: Ints) -> None:
        """Compressed columns of the upper triangle, in 2 x 2 blocks, and where in them the entries of each triangle's
        matrix (in the order of `UPPER`) and of each pair of stations (2, p) are added.

        The column of a vertex holds the edges to vertices before it, that of a level all vertices of its piece; each
        ends with the node's own block, of which the lower entry is left out.
        """
        n, corner = len(self.pieces.points), self.element.T
        one, other = corner[[0, 0, 1]], corner[[1, 2, 2]]
        apart = pairs[:, pairs[0] < pairs[1]]
        low, high = np.minimum(one, other).ravel(), np.maximum(one, other).ravel()
        edges, edge = np.unique(np.append(high, apart[1]) * self.nodes + np.append(low, apart[0]), return_inverse=True)
        column, row = np.divmod(edges, self.nodes)
        before = np.bincount(column, minlength=n)
        owner = np.empty(n, dtype=int)
        owner[self.place[:n]] = self.pieces.vertex_piece
        members = np.bincount(owner, minlength=self.pieces.count)
        blocks = np.append(before, members) + 1
        rank = np.empty(n, dtype=int)
        rank[np.argsort(owner, kind="stable")] = _ranks(members)
        at = _Columns(blocks)
        edge_at, own = (column, _ranks(before)), (np.arange(self.nodes), blocks - 1)
        level_at = n + owner, rank

        self.size = 4 * int(blocks.sum()) - self.nodes
        self.indptr = np.append(at.starts(), self.size).astype(np.int32)
        self.indices = np.empty(self.size, dtype=np.int32)
        for down, along in ((0, 0), (0, 1), (1, 0), (1, 1)):
            self.indices[at.entry(*edge_at, down, along)] = 2 * row + down
            self.indices[at.entry(*level_at, down, along)] = 2 * np.arange(n) + down
        for down, along in ((0, 0), (0, 1), (1, 1)):
            self.indices[at.entry(*own, down, along)] = 2 * own[0] + down
        self.diagonal = np.stack([at.entry(*own, k, k) for k in (0, 1)], axis=1).ravel()

        def of_triangles(i: int, j: int, down: int, along: int) -> Ints:
            if i == j:
                return at.entry(corner[i], blocks[corner[i]] - 1, down, along)
            if j == 3:
                return at.entry(corner[3], rank[corner[i]], down, along)
            this = edge[: low.size].reshape(one.shape)[i + j - 1]
            turned = one[i + j - 1] > other[i + j - 1]
            return at.entry(
                column[this], edge_at[1][this], np.where(turned, along, down), np.where(turned, down, along)
            )

        rows, columns = (places.tolist() for places in UPPER)
        self.target = np.concatenate(
            [of_triangles(r // 2, c // 2, r % 2, c % 2) for r, c in zip(rows, columns, strict=True)]
        )
        here, (same,) = np.flatnonzero(pairs[0] < pairs[1]), np.nonzero(pairs[0] == pairs[1])
        this, node = edge[low.size :], pairs[0, same]
        mates = [(here, at.entry(column[this], edge_at[1][this], k // 2, k % 2), k) for k in range(4)]
        mates += [(same, at.entry(node, blocks[node] - 1, k // 2, k % 2), k) for k in (0, 1, 3)]
        self.mate_kept = np.concatenate([4 * pair + k for pair, _, k in mates])
        self.mate_target = np.concatenate([target for _, target, _ in mates])

    def factor(self, elements: Floats, levels: Floats, pull: Complexes) -> tuple[Solve, float]:
        """Factors the matrix. Returns a solver, valid until the next call, and the penalty on the mates.

        elements : (8, 8, m) second derivatives by each triangle's unknowns, positive semidefinite; the upper triangle
        levels   : (pieces,) second derivatives by the levels alone
        pull     : (s,) complex, gradients of the mates at their stations
        """
        vertices = 2 * len(self.pieces.points)
        data = _summed(self.target, elements[UPPER].ravel(), self.size)
        data[self.diagonal[vertices::2]] += levels
        penalty = STIFF_MATES * max(float(np.median(data[of])) for of in self._diagonals)
        if self.at is not None:
            vectors = pull.view(float).reshape(-1, 2)
            first, second = self.at.pairs
            squares = penalty * vectors[first, :, None] * vectors[second, None, :]
            data += _summed(self.mate_target, squares.ravel()[self.mate_kept], self.size)
        data[self.diagonal] *= 1 + DAMPING
        data[self.diagonal[self.idle]] = 1.0
        return self.factoring.factor(data), penalty

    def gather(self, values: Floats) -> Floats:
        """(8, m) each triangle's unknowns."""
        return values[self.unknowns]

    def scatter(self, values: Floats) -> Floats:
        """(2 nodes,) sum of the triangles' (8, m) gradients."""
        return _summed(self.unknowns.ravel(), values.ravel(), 2 * self.nodes)

    def split(self, unknowns: Floats) -> tuple[Complexes, Floats]:
        """(n,) complex moves of the vertices, and (pieces,) of the levels."""
        by_node = unknowns.view(complex)[self.place]
        return by_node[: len(self.pieces.points)], by_node[len(self.pieces.points) :].real

    def mate_state(self, flat: Complexes) -> tuple[Complexes, Floats]:
        """(s,) complex gradients at the stations and (k,) mm differences of the mates; empty if there are none."""
        if self.at is None or self.pieces.mates is None:
            return np.zeros(0, dtype=complex), np.zeros(0)
        pull = gradients(self.pieces.mates, self.at, flat)
        pull[self.pieces.held[self.at.vertex]] = pull[self.pieces.held[self.at.vertex]].real
        return pull, differences(self.pieces.mates, flat)

    def scatter_mates(self, pull: Complexes, multipliers: Floats) -> Floats:
        """(2 nodes,) sum of the mates' gradients, each times its multiplier (k,)."""
        total = np.zeros(2 * self.nodes)
        if self.at is not None:
            value, place = pull * multipliers[self.at.condition], 2 * self.place[self.at.vertex]
            total += _summed(place, value.real, len(total))
            total += _summed(place + 1, value.imag, len(total))
        return total

    def along_mates(self, pull: Complexes, move: Complexes) -> Floats:
        """(k,) predicted growth of the mates' differences for moves (n,) complex of the vertices."""
        if self.at is None or self.pieces.mates is None:
            return np.zeros(0)
        share = (pull.conj() * move[self.at.vertex]).real
        return _summed(self.at.condition, share, self.pieces.mates.weights.shape[0])


class _Columns:
    """Compressed columns, two to a node; `blocks` (nodes,) of 2 x 2 in each, the last without its lower entry."""

    def __init__(self, blocks: Ints) -> None:
        self.height = 2 * blocks - 1
        self.start = 4 * (np.cumsum(blocks) - blocks) - np.arange(len(blocks))

    def starts(self) -> Ints:
        return np.stack([self.start, self.start + self.height], axis=1).ravel()

    def entry(self, column: Ints, block: Ints, down: Ints | int, along: Ints | int) -> Ints:
        """Index of the entry at row `down` and column `along` of a node's `block`-th block."""
        return self.start[column] + 2 * block + down + along * self.height[column]


def _ranks(sizes: Ints) -> Ints:
    """0 ... size - 1 for each of the sizes, one after another."""
    return np.arange(sizes.sum()) - np.repeat(np.cumsum(sizes) - sizes, sizes)


def _summed(places: Ints, values: Floats, size: int) -> Floats:
    """(size,) sum of the values at each place."""
    return np.asarray(np.bincount(places, values, minlength=size), dtype=np.float64)
