"""Rows of plates across a dome: the edges between rows, scalloped or smooth, and the joints within each row."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.geom.curves import length
from shellgen.model import Surface
from shellgen.plates._across import Across
from shellgen.plates._draft import Draft
from shellgen.plates._net import MIDLINE, PLATE, RIM, PlateLabel

STEP, LEAST = 3.0, 16
"""mm between the points of an edge, and the fewest points. Chosen: a scallop turns by 3 degrees a step at most."""
STEEPEST = np.tan(np.radians(55))
"""How steeply a scallop may leave a joint. Chosen: two scallops that meet are then 70 degrees apart."""
SPREAD, OUTMOST = 1.2, 0.85
"""Where a joint of the first and the last row reaches the rim, by its place in the row, and at most. Chosen by eye: the
plate in the middle is then about as broad at the rim as at its other end."""


class PlateRows:
    """The left half, row by row from neck to tail.

    edges  : (rows - 1,) shares of the ridge's length at which the edges between rows cross it
    joints : for each row the places of its joints, as shares of the way from ridge to rim; 0 for one on the midline.
             The joints of two rows that meet must alternate
    depth  : (rows - 1,) how far each edge swings at most, as a share of the ridge's length; 0 for a smooth edge
    """

    def __init__(self, surface: Surface, sweep: float, edges: Floats, joints: Sequence[Floats], depth: Floats) -> None:
        self.surface, self.across = surface, Across(surface, sweep)
        self.edges, self.joints, self.depth = edges, joints, depth
        self.ridge = length(surface.points(np.column_stack([np.linspace(1, -1, 401), np.zeros(401)])))
        self.draft = Draft()

    def drafted(self, label: Callable[[int, int], PlateLabel]) -> Draft:
        """label : of a plate by its row and its place in it, both from 0, from neck to tail and from ridge to rim"""
        neck, tail = self.draft.add(np.array([[1.0, 0], [-1, 0]]))
        spine, border = [neck], [neck]
        tops: list[list[int]] = [self._on_rim(self.joints[0], 0.0, self.edges[0], neck)]
        bottoms: list[list[int]] = []
        border += tops[0]
        for e in range(len(self.edges)):
            nodes, above, below = self._edge(e, label)
            spine.append(nodes[0])
            border.append(nodes[-1])
            bottoms.append(above)
            tops.append(below)
        bottoms.append(self._on_rim(self.joints[-1], 1.0, self.edges[-1], tail))
        for row, (start, end) in enumerate(zip(tops, bottoms, strict=True)):
            self._join(row, start, end)
        border += [k for k in bottoms[-1][::-1] if k != tail]
        for a, b in pairwise([k for k in dict.fromkeys(border)] + [tail]):
            self.draft.link(a, b, kind=RIM)
        for row, (a, b) in enumerate(pairwise([*spine, tail])):
            if not (len(self.joints[row]) and self.joints[row][0] == 0):
                self.draft.link(a, b, kind=MIDLINE)
        return self.draft

    def _on_rim(self, joints: Floats, end: float, edge: float, pole: int) -> list[int]:
        """The corners on the rim at which the joints of the first or the last row end."""
        share = end + (edge - end) * np.minimum(SPREAD * joints, OUTMOST)
        added = iter(self.draft.add(self.across.on_rim(share[joints > 0])))
        return [pole if place == 0 else next(added) for place in joints.tolist()]

    def _edge(self, e: int, label: Callable[[int, int], PlateLabel]) -> tuple[list[int], list[int], list[int]]:
        """Draws the edge behind row e. Its corners from ridge to rim; those at the joints of row e and of row e + 1."""
        above, below = self.joints[e], self.joints[e + 1]
        place = np.concatenate([above, below])
        kind = np.concatenate([np.full(len(above), -1), np.full(len(below), 1)])
        if 0 not in place:
            place, kind = np.append(place, 0.0), np.append(kind, 0)
        order = np.argsort(place)
        place, kind = np.append(place[order], 1.0), kind[order]
        swing = self._swing(e, place, kind)
        turn = self.across.turns(self.edges[e], place)
        uv = self.across.places(self.edges[e] + swing, turn)
        uv[0, 1] = 0.0
        uv[-1] = self.across.on_rim(self.edges[e] + swing[-1:])[0]
        nodes = self.draft.add(uv)
        row = place_in = 0
        for k, (a, b) in enumerate(pairwise(nodes)):
            row += int(kind[k] < 0 and place[k] > 0)
            place_in += int(kind[k] > 0 and place[k] > 0)
            line = self._scallop(e, place[k : k + 2], swing[k : k + 2], int(kind[k]))
            self.draft.link(a, b, right=label(e, row), left=label(e + 1, place_in), along=line)
        corners = nodes[:-1]
        return (
            nodes,
            [n for n, of in zip(corners, kind, strict=True) if of < 0],
            [n for n, of in zip(corners, kind, strict=True) if of > 0],
        )

    def _swing(self, e: int, place: Floats, kind: Floats) -> Floats:
        """How far each corner of the edge lies behind its line: joints of row e end ahead of it, those of the next row
        begin behind it. No more than the scallops on its two hands can take without becoming too steep."""
        turn = self.across.turns(self.edges[e], np.linspace(0, 1, 61))
        whole = length(self.surface.points(self.across.places(np.full(61, self.edges[e]), turn)))
        gap = np.diff(place) * whole / self.ridge
        near = np.minimum(np.append(gap[:1], gap[:-1]), gap)
        near[-1] = gap[-2] if len(gap) > 1 else gap[-1]
        swing = kind * np.minimum(self.depth[e] / 2, STEEPEST * near / 4)
        if kind[-1] <= 0:
            return np.append(swing, np.abs(swing[-1]))
        share = min(gap[-1] / near[-1], 1.0)
        return np.append(swing, swing[-1] * (1 - 2 * share**2))

    def _scallop(self, e: int, place: Floats, swing: Floats, kind: int) -> Floats:
        """(n, 2) a parabola that lies square to the ridge at its hindmost point."""
        turn = self.across.turns(self.edges[e], place)
        ends = self.surface.points(self.across.places(self.edges[e] + swing, turn))
        t = np.linspace(0, 1, max(LEAST, int(np.linalg.norm(ends[1] - ends[0]) / STEP)))
        share = 1 - (1 - t) ** 2 if kind < 0 else t**2
        along = self.edges[e] + swing[0] + (swing[1] - swing[0]) * share
        return self.across.places(along, self.across.turns(self.edges[e], place[0] + (place[1] - place[0]) * t))

    def _join(self, row: int, start: Sequence[int], end: Sequence[int]) -> None:
        """Draws the joints of a row; those that end on the rim are left to the draft."""
        for a, b in zip(start, end, strict=True):
            self.draft.link(a, b, kind=PLATE)
