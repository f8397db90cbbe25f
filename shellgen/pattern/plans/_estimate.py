"""A quick estimate of how far a piece must stretch when laid flat, for searching; never the last word.

Laid flat with all its angles kept, a piece takes a scale e^u with -div grad u = K (its Gaussian curvature) and u = 0 on
its outline, and no other such map has less range of scale. The pieces of one cut share no inner vertex, so a piece
needs only its own rows of one matrix. The best map, which need not keep angles, stretches less by a nearly constant
factor that the search learns as it goes: 2/3 on a spherical cap (a^2/12 each way where this one has a^2/8).

References: P. L. Chebyshev, Sur la construction des cartes geographiques
(1856); J. Milnor, A problem in cartography, Amer. Math. Monthly 76 (1969).
"""

from __future__ import annotations

import numpy as np
from scipy.linalg.lapack import dposv
from scipy.sparse import coo_array

from shellgen.core.arrays import Floats
from shellgen.geom.triangles import angle_deficits, cotangent_laplacian
from shellgen.model import ShellMesh
from shellgen.pattern.plans._graph import Inside, PieceBits, SeamGraph, ones


class Estimate:
    """Half the range of log scale of a piece's angle-keeping map.

    Vertices inside the cells are eliminated beforehand, since no cut ever passes there; of each cell the scale is
    looked at on its lines and at the one place inside where it is largest if the cell is alone. A vertex and its
    mirror image share one unknown: pieces are symmetric, or come in pairs that do not touch each other.
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
        self._stiff = (fold.T @ matrix[lined][:, lined] @ fold).toarray()
        self._load = fold.T @ curvature[lined]
        self._middle = np.zeros(len(net.layout.cells))
        self._weights = np.zeros((len(net.layout.cells), fold.shape[1]))
        filled = np.unique(owner[owner >= 0]).tolist()
        self._filled = sum(1 << cell for cell in filled)  # cells that hold vertices
        for cell in filled:
            inner = np.flatnonzero(owner == cell)
            own, across = matrix[inner][:, inner].toarray(), (matrix[inner][:, lined] @ fold).toarray()
            self._eliminate(cell, own, across, curvature[inner])
        place = np.full(len(points), -1)
        place[lined] = unknown
        self._on_line, self._line = (
            place[np.concatenate([chain[1:-1] for chain in mesh.line_vertices])],
            np.repeat(np.arange(len(mesh.line_vertices)), [len(chain) - 2 for chain in mesh.line_vertices]),
        )
        self._at_node = np.empty(len(net.layout.nodes), dtype=int)
        for ends, chain in zip(net.ends, mesh.line_vertices, strict=True):
            self._at_node[list(ends)] = place[chain[[0, -1]]]

    def _eliminate(self, cell: int, own: Floats, across: Floats, curvature: Floats) -> None:
        border = np.flatnonzero(across.any(axis=0))
        solved = np.linalg.solve(own, np.column_stack([curvature, across[:, border]]))
        self._load[border] -= across[:, border].T @ solved[:, 0]
        self._stiff[np.ix_(border, border)] -= across[:, border].T @ solved[:, 1:]
        most = int(solved[:, 0].argmax())
        self._middle[cell] = solved[most, 0]
        self._weights[cell, border] = -solved[most, 1:]

    def __call__(self, part: PieceBits, inside: Inside) -> float:
        free = np.zeros(len(self._load), dtype=bool)
        free[self._on_line[inside.lines[self._line]]] = True
        free[self._at_node[inside.nodes]] = True
        inner = np.flatnonzero(free)
        scale = np.zeros(len(free))
        if len(inner):
            _, scale[inner], _ = dposv(self._stiff[inner[:, None], inner], self._load[inner], overwrite_a=True)
        cells = ones(part.cell_bits & self._filled)
        middle = self._middle[cells] + self._weights[cells] @ scale
        return 0.5 * float(max(scale.max(), middle.max(initial=0.0)) - min(scale.min(), middle.min(initial=0.0)))
