"""Small plate nets made by hand, for tests of the mesher."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from shellgen.model import Layout
from shellgen.plates._net import Arc, HalfNet, PlateLabel, assemble, faces


def circle(radius: float, start: float, end: float, count: int = 65) -> np.ndarray:
    turn = np.linspace(start, end, count)
    return radius * np.column_stack([np.cos(turn), np.sin(turn)])


def layout(arcs: list[tuple[np.ndarray, str]]) -> Layout:
    """From curves of the left half that meet only in their ends. Ends nearer than 1e-9 are one node."""
    nodes: list[np.ndarray] = []
    drawn = []
    for uv, kind in arcs:
        ends = []
        uv = np.array(uv, float)
        for i in (0, -1):
            uv[i, np.abs(uv[i]) < 1e-12] = 0.0
            found = [k for k, node in enumerate(nodes) if np.abs(node - uv[i]).max() < 1e-9]
            if not found:
                nodes.append(uv[i].copy())
            ends.append(found[0] if found else len(nodes) - 1)
            uv[i] = nodes[ends[-1]]
        if np.abs(uv[:, 1]).max() < 1e-12:
            uv[:, 1] = 0.0
        drawn.append(Arc(*ends, uv, kind))
    half = HalfNet(np.array(nodes), tuple(drawn))
    return assemble(half, [(PlateLabel("cell", k + 1), face) for k, face in enumerate(faces(half))])


def pie(sectors: int) -> Layout:
    """`sectors` equal slices on the left half, all meeting at the crown; the midline is a plate line."""
    turn = np.linspace(0, np.pi, sectors + 1)
    tips = np.column_stack([np.cos(turn), np.sin(turn)])
    rays = [(np.linspace([0, 0], tip, 17), "plate") for tip in tips]
    return layout(rays + [(circle(1, a, b), "rim") for a, b in pairwise(turn)])


def ringed(width: float, sectors: int) -> Layout:
    """A round plate at the crown and a band of `width` (in uv) at the rim, cut into `sectors` on the left half."""
    turn = np.linspace(0, np.pi, sectors + 1)
    inner = 1 - width
    arcs = [(np.linspace([inner, 0], [-inner, 0], 17), "midline")]
    for k, a in enumerate(turn):
        tip = np.array([np.cos(a), np.sin(a)])
        arcs.append((np.linspace(inner * tip, tip, 9), "plate"))
        if k:
            arcs += [(circle(inner, turn[k - 1], a), "plate"), (circle(1, turn[k - 1], a), "rim")]
    return layout(arcs)


def crescent() -> Layout:
    """On each hand a plate that is not convex and comes to two sharp tips on the rim, between two deep arcs."""
    tip = 0.35
    t = np.linspace(0, 1, 65)[:, None]
    a, b = circle(1, tip, np.pi - tip, 2)

    def sag(depth: float) -> np.ndarray:
        return (1 - t) * a + t * b + 4 * t * (1 - t) * np.array([0, depth])

    return layout(
        [
            (sag(-0.15), "plate"),
            (sag(0.2), "plate"),
            (np.linspace([1, 0], [-1, 0], 65), "midline"),
            (circle(1, 0, tip), "rim"),
            (circle(1, tip, np.pi - tip), "rim"),
            (circle(1, np.pi - tip, np.pi), "rim"),
        ]
    )


def slit() -> Layout:
    """Halves, with on each hand a forked line that comes in from the rim and ends inside."""
    stem, fork = np.array([[0.2, np.sqrt(1 - 0.04)], [0.25, 0.7], [0.3, 0.6]]), np.array([0.3, 0.6])
    return layout(
        [
            (np.linspace([1, 0], [-1, 0], 65), "midline"),
            (circle(1, 0, np.arccos(0.2)), "rim"),
            (circle(1, np.arccos(0.2), np.pi), "rim"),
            (stem, "seam"),
            (np.array([fork, [0.45, 0.45], [0.5, 0.3]]), "seam"),
            (np.array([fork, [0.1, 0.4], [-0.3, 0.35]]), "seam"),
        ]
    )
