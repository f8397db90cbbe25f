"""Half-edges of a triangle mesh, as arrays.

Half-edge 3 f + k runs from faces[f, k] to faces[f, (k + 1) % 3], its face on the left.

References: Rossignac, Safonova & Szymczak, 3D Compression Made Simple: Edgebreaker on a Corner-Table, SMI 2001 (the
numbering); Botsch et al., Polygon Mesh Processing, 2010, section 2.3 (half-edge structures).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shellgen.core.arrays import Bools, Ints
from shellgen.errors import GeometryError


def next_half_edge(half_edge: Ints) -> Ints:
    """The half-edge of the same face that starts where each of these ends."""
    return np.where(half_edge % 3 == 2, half_edge - 2, half_edge + 1)


def next_half_edges(count: int) -> Ints:
    """(3 count,) the next half-edge of each half-edge of `count` faces."""
    return next_half_edge(np.arange(3 * count))


def ends(faces: Ints) -> tuple[Ints, Ints]:
    """(3 m,) start and end vertex of each half-edge."""
    return faces.ravel().astype(np.int64), np.roll(faces, -1, axis=1).ravel().astype(np.int64)


def find(among: tuple[Ints, Ints], wanted: tuple[Ints, Ints]) -> Ints:
    """Index of each `wanted` directed edge (starts, ends) in the list `among` (starts, ends); -1 if it is not there."""
    size = 1 + max(int(part.max(initial=0)) for part in (*among, *wanted))
    key = among[0] * size + among[1]
    order = np.argsort(key)
    return _look_up(key[order], order, wanted[0] * size + wanted[1])


def _look_up(sorted_key: Ints, order: Ints, wanted: Ints) -> Ints:
    if not len(order):
        return np.full(len(wanted), -1)
    at = np.minimum(np.searchsorted(sorted_key, wanted), len(order) - 1)
    return np.where(sorted_key[at] == wanted, order[at], -1)


def twins(faces: Ints) -> Ints:
    """(3 m,) the opposite half-edge of each, -1 on the boundary.

    GeometryError where more than two faces share an edge or neighbours are oriented differently.
    """
    start, end = ends(faces)
    size = int(start.max(initial=0)) + 1
    key = start * size + end
    order = np.argsort(key)
    sorted_key = key[order]
    if np.any(sorted_key[1:] == sorted_key[:-1]):
        raise GeometryError(
            "an edge of the mesh is used twice in the same direction; orient all faces the same way, two to an edge"
        )
    return _look_up(sorted_key, order, end * size + start)


def edge_uses(faces: Ints) -> tuple[Ints, Ints, Ints]:
    """Edges (k, 2), smaller vertex first and sorted; how many faces use each (k,); and the edge of each half-edge
    (3 m,). Faces may be oriented differently, and any number may share an edge."""
    start, end = ends(faces)
    size = int(start.max(initial=0)) + 1
    key = np.minimum(start, end) * size + np.maximum(start, end)
    unique, edge, count = np.unique(key, return_inverse=True, return_counts=True)
    return np.column_stack(np.divmod(unique, size)), count, edge.ravel()


def boundary(faces: Ints) -> Bools:
    """(3 m,) whether a half-edge's face is the only one at its edge."""
    _, count, edge = edge_uses(faces)
    return np.asarray(count[edge] == 1)


def chain_of_edges(faces: Ints, chains: Sequence[Ints]) -> Ints:
    """(3 m,) for each half-edge the chain of vertices it lies on, in either direction; -1 if on none."""
    start = [chain[:-1] for chain in chains]
    end = [chain[1:] for chain in chains]
    owner = np.repeat(np.arange(len(chains)), [len(part) for part in start])
    among = np.concatenate([np.zeros(0, np.int64), *start, *end]), np.concatenate([np.zeros(0, np.int64), *end, *start])
    at = find(among, ends(faces))
    return np.where(at >= 0, np.append(np.tile(owner, 2), -1)[at], -1)


def cycles(after: Ints) -> list[Ints]:
    """The closed chains in an array of successors, -1 for elements on no chain. Each starts at its lowest element."""
    following = after.tolist()
    found: list[Ints] = []
    seen: set[int] = set()
    for first in np.flatnonzero(after >= 0).tolist():
        if first in seen:
            continue
        chain, at = [first], following[first]
        while at != first:
            chain.append(at)
            at = following[at]
        seen.update(chain)
        found.append(np.array(chain))
    return found
