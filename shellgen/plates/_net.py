"""From the left half of a plate net to the whole, mirrored Layout.

A half net lies in v >= 0. Its lines close every face, the rim and the midline included; what lies on the midline is
its own mirror image, all else is doubled. Faces are traced by the order of half-edges round each node, so that no
coordinate is ever compared.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import shapely

from shellgen.core.arrays import Floats, Ints
from shellgen.errors import GeometryError
from shellgen.geom.curves import polygon_area
from shellgen.model import Layout, Line, Plate

Chain = tuple[tuple[int, int], ...]
"""A walk along lines: (line, +1) from start to end, (line, -1) back."""

PLATE, RIM, MIDLINE, SEAM = "plate", "rim", "midline", "seam"


@dataclass(frozen=True, slots=True, eq=False)
class Arc:
    """A line before it is known what lies on either hand; `uv` (n, 2) runs exactly from node to node."""

    start: int
    end: int
    uv: Floats
    kind: str = PLATE

    @property
    def middle(self) -> bool:
        """Whether it lies on the midline."""
        return not self.uv[:, 1].any()


@dataclass(frozen=True, slots=True, eq=False)
class HalfNet:
    """nodes : (k, 2) float, v >= 0, exactly 0 on the midline."""

    nodes: Floats
    arcs: tuple[Arc, ...]


class PlateLabel(NamedTuple):
    """What the plate of a face is called: "pleural-L-2", or "nuchal" where there is but one (number 0)."""

    kind: str
    number: int = 0

    def name(self, side: str) -> str:
        number = f"-{self.number}" if self.number else ""
        return f"{self.kind}{number}" if side == "C" else f"{self.kind}-{side}{number}"


def nodes_of(face: Sequence[tuple[int, int]], arcs: Sequence[Arc | Line]) -> tuple[int, ...]:
    """Node at which each step of the walk begins."""
    return tuple(arcs[i].start if turn > 0 else arcs[i].end for i, turn in face)


def outline(face: Chain, arcs: Sequence[Arc | Line]) -> Floats:
    """(n, 2) closed polygon of the walk in uv, first point not repeated."""
    return np.concatenate([arcs[i].uv[:-1] if turn > 0 else arcs[i].uv[:0:-1] for i, turn in face])


def faces(half: HalfNet) -> tuple[Chain, ...]:
    """The faces of the half net, each counter-clockwise, in the order of their first half-edge.

    GeometryError if lines cross, or do not join into one net.
    """
    _check_crossings(half)
    after = _successors(half)
    found, seen = [], set()
    for first in after:
        if first in seen:
            continue
        walk = [first]
        while (step := after[walk[-1]]) != first:
            walk.append(step)
        seen.update(walk)
        found.append(tuple(walk))
    inner = [face for face in found if polygon_area(outline(face, half.arcs)) > 0]
    if len(inner) != len(found) - 1 or len(half.nodes) - len(half.arcs) + len(inner) != 1:
        raise GeometryError(f"the plate lines do not join into one net ({len(found) - len(inner)} outlines)")
    return tuple(inner)


def _successors(half: HalfNet) -> dict[tuple[int, int], tuple[int, int]]:
    """The half-edge that follows each along its face: at its end, the next one clockwise from the way back."""
    around: list[list[tuple[float, int, int]]] = [[] for _ in half.nodes]
    for i, arc in enumerate(half.arcs):
        for turn, node, (here, there) in ((1, arc.start, arc.uv[:2]), (-1, arc.end, arc.uv[:-3:-1])):
            away = there - here
            around[node].append((float(np.arctan2(away[1], away[0])), i, turn))
    after = {}
    for leaving in around:
        leaving.sort()
        for (_, i, turn), (_, *previous) in zip(leaving, leaving[-1:] + leaving[:-1], strict=True):
            after[i, -turn] = (previous[0], previous[1])
    return after


def close(half: HalfNet, left: Sequence[Chain]) -> tuple[Floats, tuple[Line, ...], tuple[Chain, ...]]:
    """Nodes, lines and cells of the whole net: those of the left half first, cells in the order of `left`."""
    arcs, twin = _mirrored(half)
    right = [tuple((twin[i], -turn) for i, turn in reversed(face)) for face in left]
    cells = (*left, *right)
    hands = {step: cell for cell, face in enumerate(cells) for step in face}
    lines = tuple(
        Line(a.start, a.end, a.uv, a.kind, hands.get((i, 1), -1), hands.get((i, -1), -1), twin[i])
        for i, a in enumerate(arcs)
    )
    return np.concatenate([half.nodes, half.nodes[half.nodes[:, 1] > 0] * (1, -1)]), lines, cells


def _mirrored(half: HalfNet) -> tuple[tuple[Arc, ...], tuple[int, ...]]:
    """All arcs, the left half's first, and for each the index of its mirror image."""
    off = half.nodes[:, 1] > 0
    node_twin = np.where(off, len(off) - 1 + np.cumsum(off), np.arange(len(off))).tolist()
    twin = list(range(len(half.arcs)))
    arcs = list(half.arcs)
    for i, arc in enumerate(half.arcs):
        if not arc.middle:
            twin[i] = len(arcs)
            twin.append(i)
            arcs.append(Arc(node_twin[arc.start], node_twin[arc.end], arc.uv * (1, -1), arc.kind))
    return tuple(arcs), tuple(twin)


def assemble(half: HalfNet, labels: Sequence[tuple[PlateLabel, Chain]]) -> Layout:
    """The whole layout. `labels` names every face of `half`, in the order in which the plates shall stand; a face
    with a "midline" line is half of a plate that crosses it.
    """
    nodes, lines, cells = close(half, [face for _, face in labels])
    count = len(labels)
    named: list[tuple[PlateLabel, str, tuple[int, ...], int]] = []
    for cell, (label, face) in enumerate(labels):
        k = len(named)
        if any(lines[i].kind == MIDLINE for i, _ in face):
            named.append((label, "C", (cell, cell + count), k))
        else:
            named += [(label, "L", (cell,), k + 1), (label, "R", (cell + count,), k)]
    plate_of = {cell: k for k, (_, _, own, _) in enumerate(named) for cell in own}
    shown = [node for line in lines if line.kind != MIDLINE for node in (line.start, line.end)]
    valence = np.bincount(shown).tolist()
    plates = []
    for label, side, own, mirror in named:
        border = [step for cell in own for step in cells[cell] if lines[step[0]].kind != MIDLINE]
        across = {c for i, _ in border for c in (lines[i].left, lines[i].right) if c >= 0 and c not in own}
        corners = sum(valence[node] >= 3 for node in nodes_of(border, lines))
        neighbours = tuple(sorted({plate_of[c] for c in across}))
        plates.append(Plate(label.name(side), label.kind, side, own, max(corners, 1), mirror, neighbours))
    layout = Layout(nodes, lines, cells, tuple(plates), tuple(plate_of[c] for c in range(2 * count)))
    check(layout)
    return layout


def _check_crossings(half: HalfNet) -> None:
    """GeometryError if a line crosses itself or another, or two meet elsewhere than in their shared nodes."""
    drawn = shapely.linestrings([p for arc in half.arcs for p in arc.uv], indices=_owners(half.arcs))
    if not shapely.is_simple(drawn).all():
        raise GeometryError("a plate line crosses itself; ask for fewer or narrower plates")
    first, second = shapely.STRtree(drawn).query(drawn, predicate="intersects")
    first, second = first[first < second], second[first < second]
    ends = np.array([(arc.start, arc.end) for arc in half.arcs])
    shared = [sorted({*ends[i]} & {*ends[k]}) for i, k in zip(first, second, strict=True)]
    meeting = np.array([shapely.MultiPoint(half.nodes[nodes]) for nodes in shared], dtype=object)
    elsewhere = ~shapely.equals(shapely.intersection(drawn[first], drawn[second]), meeting)
    if elsewhere.any():
        where = half.nodes[ends[first[elsewhere][0]]].mean(axis=0)
        raise GeometryError(
            f"plate lines cross near u {where[0]:.2f}, v {where[1]:.2f}; ask for fewer or narrower plates"
        )


def _owners(arcs: Sequence[Arc]) -> Ints:
    return np.repeat(np.arange(len(arcs)), [len(arc.uv) for arc in arcs])


def check(layout: Layout) -> None:
    """GeometryError unless cells, and plates between their own lines, are a mirrored net of one disc.

    References: L. Euler, Elementa doctrinae solidorum (1758): V - E + F = 1 on a disc, the outside not counted.
    """
    lines, plates = layout.lines, layout.plates
    shown = [line for line in lines if line.kind in (PLATE, RIM)]
    corners = {node for line in shown for node in (line.start, line.end)}
    sound = (
        len(layout.nodes) - len(lines) + len(layout.cells) == 1
        and len(corners) - len(shown) + len(plates) == 1
        and all((min(line.left, line.right) < 0) == (line.kind == RIM) for line in lines)
        and all(lines[line.mirror].mirror == i for i, line in enumerate(lines))
        and all(plates[plate.mirror].mirror == k for k, plate in enumerate(plates))
    )
    if not sound:
        raise GeometryError("the plate net is not one mirrored disc")
