"""Mending a raw triangle mesh: points that coincide joined, worthless triangles dropped, the largest part kept."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.csgraph import connected_components

from shellgen.geom import triangles

_STEPS = 2**20
"""Points closer than the mesh's extent over this are one. Chosen: half a micrometre on a shell, above the rounding of
single precision, and three such counts fill 63 bits."""


@dataclass(frozen=True, slots=True, eq=False)
class Cleaned:
    """points (n, 3), faces (m, 3); worthless : triangles dropped, without area or there twice; parts : loose parts
    dropped, lost : their share of all area."""

    points: NDArray
    faces: NDArray
    worthless: int
    parts: int
    lost: float


def clean(points: NDArray, faces: NDArray) -> Cleaned:
    """Welds, drops triangles without area or there twice, and keeps the connected part with the most area.

    ValueError if nothing is left.
    """
    joined, corners = _welded(points, faces)
    sound = _sound(joined, corners)
    if not len(sound):
        raise ValueError("triangles without any area")
    size = triangles.areas(joined, sound)
    links = np.concatenate([sound[:, :2], sound[:, 1:]])
    graph = sparse.coo_array((np.ones(len(links), np.int8), links.T), shape=(len(joined),) * 2)
    _, part = connected_components(graph, directed=False)
    of_face = part[sound[:, 0]]
    by_part = np.bincount(of_face, size)
    kept = sound[of_face == by_part.argmax()]
    used, renumbered = np.unique(kept, return_inverse=True)
    return Cleaned(
        joined[used],
        renumbered.reshape(-1, 3),
        len(faces) - len(sound),
        int((by_part > 0).sum()) - 1,
        float(1 - by_part.max() / by_part.sum()),
    )


def _welded(points: NDArray, faces: NDArray) -> tuple[NDArray, NDArray]:
    low = points.min(axis=0)
    extent = (points.max(axis=0) - low).max()
    cell = np.round((points - low) * (_STEPS / max(extent, 1e-300))).astype(np.int64)
    key = (cell[:, 0] << 42) | (cell[:, 1] << 21) | cell[:, 2]
    _, first, index = np.unique(key, return_index=True, return_inverse=True)
    return points[first], index[faces]


def _sound(points: NDArray, faces: NDArray) -> NDArray:
    """Faces with area, each once."""
    extent = np.ptp(points, axis=0).max()
    faces = faces[triangles.areas(points, faces) > 1e-14 * extent**2]
    low, middle, high = np.sort(faces, axis=1).T
    pair = low * len(points) + middle
    order = np.lexsort((high, pair))
    again = (np.diff(pair[order]) == 0) & (np.diff(high[order]) == 0)
    keep = np.ones(len(faces), bool)
    keep[order[1:][again]] = False
    return faces[keep]


def vertex_normals(points: NDArray, faces: NDArray) -> NDArray:
    """(n, 3) unit, weighted by area; the files' own sense of turning."""
    a, b, c = (points[faces[:, k]] for k in range(3))
    normal = np.cross(b - a, c - a)
    total = np.column_stack([np.bincount(faces.ravel(), np.repeat(n, 3), minlength=len(points)) for n in normal.T])
    return total / np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-300)


def longest_rim(points: NDArray, faces: NDArray) -> NDArray:
    """Vertices of the longest connected run of edges that bound one triangle only; empty if the mesh is closed."""
    ends = np.sort(np.concatenate([faces[:, :2], faces[:, 1:], faces[:, ::2]]), axis=1)
    key, count = np.unique(ends[:, 0] * len(points) + ends[:, 1], return_counts=True)
    edge = np.column_stack(np.divmod(key[count == 1], len(points)))
    if not len(edge):
        return np.zeros(0, int)
    graph = sparse.coo_array((np.ones(len(edge), np.int8), edge.T), shape=(len(points),) * 2)
    _, part = connected_components(graph, directed=False)
    size = np.bincount(part[edge[:, 0]], np.linalg.norm(np.subtract(*points[edge.T]), axis=1))
    return np.unique(edge[part[edge[:, 0]] == size.argmax()])
