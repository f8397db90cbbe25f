"""A mask thinned to lines one pixel wide, and these as chains between nodes.

References: Guo and Hall, Parallel thinning with two-subiteration algorithms, CACM 32(3), 1989, algorithm A1; mixed
adjacency, by which a staircase is no junction: Rosenfeld, Connectivity in digital pictures, JACM 17(1), 1970.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from shellgen.core.arrays import Bools, Floats, Ints

AROUND = ((-1, 0), (-1, 1), (0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1))
"""Rows and columns to the eight neighbours, from above and clockwise."""


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """A line from node `start` to node `end`, (n, 2) rows and columns between. A ring alone has none: -1."""

    start: int
    end: int
    points: Floats


@dataclass(frozen=True, slots=True, eq=False)
class ThinLines:
    """nodes : (m, 2) rows and columns of ends and junctions"""

    nodes: Floats
    chains: tuple[Chain, ...]


def skeleton(mask: Bools) -> Bools:
    """The mask, thinned until its lines are one pixel wide; connected as before."""
    padded = np.pad(mask, 1)
    flat, steps = padded.reshape(-1), np.array([row * padded.shape[1] + column for row, column in AROUND])
    left, tables = np.flatnonzero(flat), [_removable(part) for part in (0, 1)]
    changed = True
    while changed:
        changed = False
        for table in tables:
            code = np.zeros(len(left), np.uint8)
            for bit, step in enumerate(steps):
                code |= flat[left + step].astype(np.uint8) << np.uint8(bit)
            gone = table[code]
            flat[left[gone]] = False
            left, changed = left[~gone], changed or bool(gone.any())
    return padded[1:-1, 1:-1]


def _removable(part: int) -> Bools:
    """(256,) whether a pixel with such neighbours may go in the first or second half of a step."""
    p2, p3, p4, p5, p6, p7, p8, p9 = ((np.arange(256) >> bit) & 1 == 1 for bit in range(8))
    pairs = ((p2, p3, p4), (p4, p5, p6), (p6, p7, p8), (p8, p9, p2))
    parts = sum(((~side & (corner | after)).astype(int) for side, corner, after in pairs), np.zeros(256, int))
    one = sum((a | b).astype(int) for a, b in ((p9, p2), (p3, p4), (p5, p6), (p7, p8)))
    other = sum((a | b).astype(int) for a, b in ((p2, p3), (p4, p5), (p6, p7), (p8, p9)))
    count = np.minimum(one, other)
    kept = (p6 | p7 | ~p9) & p8 if part == 0 else (p2 | p3 | ~p5) & p4
    return np.asarray((parts == 1) & (count >= 2) & (count <= 3) & ~kept)


def traced(thin: Bools) -> ThinLines:
    """The chains of a mask one pixel wide."""
    at = np.argwhere(thin)
    pairs = _adjacent(thin)
    degree = np.bincount(pairs.ravel(), minlength=len(at))
    next_to: list[list[int]] = [[] for _ in at]
    for i, j in pairs.tolist():
        next_to[i].append(j)
        next_to[j].append(i)
    nodes, of = _clustered(at, pairs, degree)
    chains, done = [], np.zeros(len(at), bool)
    for first in np.flatnonzero(of >= 0).tolist():
        for second in next_to[first]:
            if of[second] >= 0:
                if of[second] != of[first] and first < second:
                    chains.append(Chain(int(of[first]), int(of[second]), at[[first, second]].astype(float)))
            elif not done[second]:
                way = _walk(first, second, next_to, of)
                done[way[1:-1]] = True
                chains.append(Chain(int(of[way[0]]), int(of[way[-1]]), at[way].astype(float)))
    for first in np.flatnonzero((of < 0) & (degree == 2)).tolist():
        if not done[first]:
            way = _walk(first, next_to[first][0], next_to, of)
            done[way] = True
            chains.append(Chain(-1, -1, at[way].astype(float)))
    return ThinLines(nodes, tuple(chains))


def _adjacent(thin: Bools) -> Ints:
    """(n, 2) numbers of pixels that meet: in a side, or in a corner where no third one joins them."""
    number = np.full(np.add(thin.shape, 2), -1)
    number[1:-1, 1:-1][thin] = np.arange(int(thin.sum()))

    def pairs(row: int, column: int) -> Ints:
        there = np.roll(number, (-row, -column), (0, 1))
        both = (number >= 0) & (there >= 0)
        if row and column:
            both &= (np.roll(number, -row, 0) < 0) & (np.roll(number, -column, 1) < 0)
        return np.column_stack([number[both], there[both]])

    return np.concatenate([pairs(*step) for step in ((0, 1), (1, 0), (1, 1), (1, -1))])


def _clustered(at: NDArray[np.intp], pairs: Ints, degree: Ints) -> tuple[Floats, Ints]:
    """Places of the nodes, and of each pixel its node or -1. Junction pixels that meet are one node."""
    junction = degree >= 3
    kept = pairs[junction[pairs].all(axis=1)]
    graph = coo_matrix((np.ones(len(kept)), kept.T), (len(at), len(at)))
    label = connected_components(graph, directed=False)[1]
    is_node = degree != 2
    of = np.full(len(at), -1)
    _, of[is_node] = np.unique(label[is_node], return_inverse=True)
    count = np.bincount(of[is_node])
    sums = [np.bincount(of[is_node], at[is_node, axis]) for axis in (0, 1)]
    return np.column_stack(sums) / count[:, None], of


def _walk(first: int, second: int, next_to: list[list[int]], of: Ints) -> list[int]:
    """From one pixel by the next as far as a node, or around."""
    way = [first, second]
    while of[way[-1]] < 0 and way[-1] != first:
        a, b = next_to[way[-1]]
        way.append(b if a == way[-2] else a)
    return way
