"""A quick estimate of how far a piece must stretch when flattened. It guides the search; results are always measured.

Flattened with all its angles kept, a piece has a scale e^u with -div grad u = K (its Gaussian curvature) and u = 0 on
its outline, and no other such map has a smaller range of scale. The pieces of one cut share no inner vertex, so a piece
needs only its own rows of one matrix. The best map, which need not keep angles, stretches less by a nearly constant
factor, which the search measures: 2/3 on a spherical cap (a^2/12 each way where this one has a^2/8).

References: P. L. Chebyshev, Sur la construction des cartes geographiques
(1856); J. Milnor, A problem in cartography, Amer. Math. Monthly 76 (1969).
"""

from __future__ import annotations

import numpy as np
from scipy.linalg.lapack import dpbsv
from scipy.sparse import coo_array
from scipy.sparse.csgraph import reverse_cuthill_mckee

from shellgen.core.arrays import Bools, Floats
from shellgen.geom.triangles import angle_deficits, cotangent_laplacian
from shellgen.model import ShellMesh
from shellgen.pattern.plans._graph import Inside, PieceBits, SeamGraph, ones


class Estimate:
    """Half the range of log scale of a piece's angle-keeping map.

    Vertices inside the cells are eliminated beforehand, since no cut ever passes there; the scale
    of a cell is computed on its lines and at the one place inside where it is largest if the cell is alone. A vertex
    and its mirror image share one unknown: pieces are symmetric, or come in pairs that do not touch each other.
    """

    def __init__(self, net: SeamGraph, mesh: ShellMesh, points: Floats) -> None:
        matrix = cotangent_laplacian(points, mesh.faces).tocsr()
        curvature = angle_deficits(points, mesh.faces)
        lined = np.unique(np.concatenate(mesh.line_vertices))
        _, unknown = np.unique(np.minimum(lined, mesh.mirror[lined]), return_inverse=True)
        fold = coo_array((np.ones(len(lined)), (np.arange(len(lined)), unknown))).tocsr()
        owner = np.zeros(len(points), dtype=int)
        owner[mesh.faces.ravel()] = np.repeat(mesh.face_cell, 3)
        owner[lined] = -1
        stiff = (fold.T @ matrix[lined][:, lined] @ fold).toarray()
        self._load = fold.T @ curvature[lined]
        self._middle = np.zeros(len(net.layout.cells))
        self._weights = np.zeros((len(net.layout.cells), fold.shape[1]))
        filled = np.unique(owner[owner >= 0]).tolist()
        self._filled = sum(1 << cell for cell in filled)  # cells that hold vertices
        for cell in filled:
            inner = np.flatnonzero(owner == cell)
            own, across = matrix[inner][:, inner].toarray(), (matrix[inner][:, lined] @ fold).toarray()
            self._eliminate(cell, stiff, own, across, curvature[inner])
        self._order_narrowly(stiff)
        place = np.full(len(points), -1)
        place[lined] = unknown
        self._on_line, self._line = (
            place[np.concatenate([chain[1:-1] for chain in mesh.line_vertices])],
            np.repeat(np.arange(len(mesh.line_vertices)), [len(chain) - 2 for chain in mesh.line_vertices]),
        )
        self._at_node = np.empty(len(net.layout.nodes), dtype=int)
        for ends, chain in zip(net.ends, mesh.line_vertices, strict=True):
            self._at_node[list(ends)] = place[chain[[0, -1]]]

    def _order_narrowly(self, stiff: Floats) -> None:
        """Stores the lower half of the matrix by its entries, the unknowns ranked so that they lie near the diagonal:
        what is left of it for any piece is solved as a band, many times faster than in full."""
        ranked = coo_array(stiff)
        self._ranked = reverse_cuthill_mckee(ranked.tocsr(), symmetric_mode=True)
        rank = np.argsort(self._ranked)
        row, column = rank[ranked.row], rank[ranked.col]
        lower = row >= column
        self._row, self._column, self._entry = row[lower], column[lower], ranked.data[lower]

    def _eliminate(self, cell: int, stiff: Floats, own: Floats, across: Floats, curvature: Floats) -> None:
        border = np.flatnonzero(across.any(axis=0))
        solved = np.linalg.solve(own, np.column_stack([curvature, across[:, border]]))
        self._load[border] -= across[:, border].T @ solved[:, 0]
        stiff[np.ix_(border, border)] -= across[:, border].T @ solved[:, 1:]
        most = int(solved[:, 0].argmax())
        self._middle[cell] = solved[most, 0]
        self._weights[cell, border] = -solved[most, 1:]

    def __call__(self, part: PieceBits, inside: Inside) -> float:
        free = np.zeros(len(self._load), dtype=bool)
        free[self._on_line[inside.lines[self._line]]] = True
        free[self._at_node[inside.nodes]] = True
        scale = np.zeros(len(free))
        inner = self._ranked[free[self._ranked]]
        if len(inner):
            scale[inner] = self._solved(free[self._ranked], self._load[inner])
        cells = ones(part.cell_bits & self._filled)
        middle = self._middle[cells] + self._weights[cells] @ scale
        return 0.5 * float(max(scale.max(), middle.max(initial=0.0)) - min(scale.min(), middle.min(initial=0.0)))

    def _solved(self, free: Bools, load: Floats) -> Floats:
        """(k,) scale at the k free unknowns. free : (unknowns,) bool; load : (k,), both by rank"""
        place = np.cumsum(free) - 1
        held = free[self._row] & free[self._column]
        row, column = place[self._row[held]], place[self._column[held]]
        band = np.zeros((int((row - column).max()) + 1, len(load)))
        band[row - column, column] = self._entry[held]
        solution: Floats = dpbsv(band, load, lower=True, overwrite_ab=True)[1]
        return solution
