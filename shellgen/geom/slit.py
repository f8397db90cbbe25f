"""A triangle mesh opened along some of its edges: half-edges, patches and outlines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from shellgen.errors import GeometryError


@dataclass(frozen=True, slots=True, eq=False)
class Slit:
    """Half-edge h = 3 f + k runs from faces[f, k] to faces[f, (k + 1) % 3], inside to its left.

    twin   : (3m,) int, the half-edge on the other face of the same edge; -1 on the rim
    corner : (3m,) int, vertex of the opened mesh at which the half-edge starts; both lips of a slit have their
             own, the closed end of a slit has one
    patch  : (m,) int, connected part each face belongs to
    after  : (3m,) int, for an outline half-edge the next one along the outline, counter-clockwise; -1 inside
    """

    twin: NDArray
    corner: NDArray
    patch: NDArray
    after: NDArray


def heads(count: int) -> NDArray:
    """(3 count,) int: for each half-edge of `count` faces, the half-edge that starts where it ends."""
    return (3 * np.arange(count)[:, None] + np.array([1, 2, 0])).ravel()


def twins(faces: NDArray) -> NDArray:
    """(3m,) int: the opposite half-edge of each, -1 where there is none.

    Raises GeometryError where more than two faces share an edge or neighbours are turned differently.
    """
    tail = faces.ravel().astype(np.int64)
    head = tail[heads(len(faces))]
    size = int(tail.max(initial=0)) + 1
    key = tail * size + head
    order = np.argsort(key)
    sorted_key = key[order]
    if np.any(sorted_key[1:] == sorted_key[:-1]):
        raise GeometryError("an edge of the mesh is used twice in the same direction; faces must be turned alike")
    wanted = head * size + tail
    at = np.minimum(np.searchsorted(sorted_key, wanted), len(key) - 1)
    return np.where(sorted_key[at] == wanted, order[at], -1)


def slit(faces: NDArray, cut: NDArray, *, twin: NDArray | None = None) -> Slit:
    """Opens a mesh along the half-edges where `cut` (3m,) bool is set on either side.

    faces : (m, 3) int, all turned the same way
    twin  : what `twins(faces)` returns, if it is known already
    """
    count = len(faces)
    twin = twins(faces) if twin is None else twin
    head = heads(count)
    inner = (twin >= 0) & ~cut
    inner[inner] = ~cut[twin[inner]]
    whole = np.flatnonzero(inner)
    patch = _joined(whole // 3, twin[whole] // 3, count)
    # over an uncut edge the two corners at each of its ends are one vertex; each end is met from one of its half-edges
    corner = _joined(whole, head[twin[whole]], 3 * count)
    outline = np.flatnonzero(~inner)
    start = np.full(3 * count, -1)
    start[corner[outline]] = outline
    after = np.full(3 * count, -1)
    after[outline] = start[corner[head[outline]]]
    return Slit(twin, corner, patch, after)


def _joined(a: NDArray, b: NDArray, count: int) -> NDArray:
    graph = coo_matrix((np.ones(len(a), dtype=bool), (a, b)), shape=(count, count))
    return connected_components(graph, directed=False)[1]


def loops(after: NDArray) -> list[NDArray]:
    """The closed chains of a successor array such as `Slit.after`, each from its lowest member on."""
    following = after.tolist()
    found, seen = [], set()
    for first in np.flatnonzero(after >= 0).tolist():
        if first in seen:
            continue
        loop, at = [first], following[first]
        while at != first:
            loop.append(at)
            at = following[at]
        seen.update(loop)
        found.append(np.array(loop))
    return found


def eulers(opened: Slit) -> NDArray:
    """(patches,) int: vertices - edges + faces of each patch; 1 for a disc, 0 for a ring.

    References: L. Euler, Elementa doctrinae solidorum (1758): V - E + F = 2 on a closed sphere, less one per hole.
    """
    count = int(opened.patch.max()) + 1
    _, first = np.unique(opened.corner, return_index=True)
    vertices = np.bincount(opened.patch[first // 3], minlength=count)
    faces = np.bincount(opened.patch, minlength=count)
    rim = np.bincount(opened.patch[np.flatnonzero(opened.after >= 0) // 3], minlength=count)
    return vertices - (3 * faces + rim) // 2 + faces


def chain_of_edges(faces: NDArray, chains: Sequence[NDArray]) -> NDArray:
    """(3m,) int: for each half-edge the chain of vertices it lies on, in either direction; -1 if on none."""
    tail = faces.ravel().astype(np.int64)
    if not chains:
        return np.full(len(tail), -1)
    ends = np.concatenate([np.column_stack([chain[:-1], chain[1:]]) for chain in chains]).astype(np.int64)
    size = int(max(tail.max(), ends.max())) + 1  # chains may pass vertices that none of these faces has
    key = tail * size + tail[heads(len(faces))]
    owner = np.repeat(np.arange(len(chains)), [len(chain) - 1 for chain in chains])
    wanted = np.concatenate([ends[:, 0] * size + ends[:, 1], ends[:, 1] * size + ends[:, 0]])
    order = np.argsort(wanted)
    at = order[np.minimum(np.searchsorted(wanted, key, sorter=order), len(wanted) - 1)]
    return np.where(wanted[at] == key, owner[at % len(owner)], -1)


def mirrored_faces(faces: NDArray, mirror: NDArray) -> NDArray:
    """(m,) int: the mirror image of each face, `mirror` (n,) being that of each vertex.

    Raises GeometryError if one has none.
    """
    own, mirrored = np.sort(faces, axis=1), np.sort(mirror[faces], axis=1)
    own_order, order = np.lexsort(own.T), np.lexsort(mirrored.T)
    if not np.array_equal(own[own_order], mirrored[order]):
        raise GeometryError("the mesh is not its own mirror image")
    image = np.empty(len(faces), dtype=np.int64)
    image[order] = own_order
    return image
