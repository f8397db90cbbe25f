"""Decomposition of a graph into trails that continue nearly straight through its nodes.

References: Diestel, Graph Theory, 5th ed. 2017, section 1.3 (walks); joined greedily, the straightest pair first.
"""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats, Ints

Trail = tuple[tuple[int, int], ...]
"""(edge, +1 or -1) in order; -1 where the edge is walked from its end to its start."""


def trails(ends: Ints, leaving: Floats, *, most_turn: float) -> tuple[Trail, ...]:
    """Trails that contain every edge exactly once.

    ends      : (m, 2) int, node at the start and at the end of each edge
    leaving   : (m, 2, d) unit, direction in which the edge leaves its start, and its end (backwards)
    most_turn : radians; edges that turn by more at a node are not joined there. The straightest are joined first.
    """
    after = _joined(ends.ravel(), leaving.reshape(-1, leaving.shape[-1]), most_turn)
    done = np.zeros(len(ends), bool)
    free = [half for half in range(2 * len(ends)) if after[half] < 0]
    result = []
    for half in (*free, *range(0, 2 * len(ends), 2)):  # closed trails have no free end and come last
        walk = []
        while half >= 0 and not done[half // 2]:
            done[half // 2] = True
            walk.append((half // 2, -1 if half % 2 else 1))
            half = int(after[half ^ 1])
        if walk:
            result.append(tuple(walk))
    return tuple(result)


def _joined(node: Ints, leaving: Floats, most_turn: float) -> Ints:
    """(2 m,) for each half-edge the one it is joined to at its node, or -1. Half 2 e is the start of edge e."""
    after = np.full(len(node), -1)
    first, second = np.array(
        [(a, b) for group in _groups(node) for i, a in enumerate(group) for b in group[i + 1 :]], int
    ).reshape(-1, 2).T  # fmt: skip
    turn = np.pi - np.arccos(np.clip((leaving[first] * leaving[second]).sum(axis=1), -1.0, 1.0))
    for k in np.argsort(np.round(turn, 6), kind="stable"):
        a, b = first[k], second[k]
        if turn[k] <= most_turn and after[a] < 0 and after[b] < 0:
            after[a], after[b] = b, a
    return after


def _groups(node: Ints) -> list[list[int]]:
    found: dict[int, list[int]] = {}
    for half, at in enumerate(node.tolist()):
        found.setdefault(at, []).append(half)
    return list(found.values())
