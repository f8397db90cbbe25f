"""A half net in the making: corners and links first, then the lines drawn between them along the dome."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError
from shellgen.model import Layout, Surface
from shellgen.plates import _curves as curves
from shellgen.plates._net import MIDLINE, PLATE, RIM, Arc, Chain, HalfNet, PlateLabel, assemble, faces, outline


class Draft:
    """Corners (uv, v >= 0) and links of the left half, each link with the name of a plate on one of its hands."""

    def __init__(self) -> None:
        self._nodes: list[Floats] = []
        self._links: list[tuple[int, int]] = []
        self._kinds: list[str] = []
        self._labels: dict[tuple[int, int], PlateLabel] = {}
        self._drawn: dict[int, Floats] = {}

    def add(self, uv: Iterable[Floats]) -> list[int]:
        """Numbers of the new corners."""
        first = len(self._nodes)
        self._nodes += [np.array(p, float) for p in uv]
        return list(range(first, len(self._nodes)))

    def link(
        self,
        start: int,
        end: int,
        *,
        left: PlateLabel | None = None,
        right: PlateLabel | None = None,
        kind: str = PLATE,
        along: Floats | None = None,
    ) -> None:
        """A line from corner to corner, with the names of the plates on its hands (one line per plate will do).

        along : (n, 2) uv of the whole line, where it is not to be drawn by `finish`
        """
        if along is not None:
            self._drawn[len(self._links)] = along
        for turn, label in ((1, left), (-1, right)):
            if label is not None:
                self._labels[len(self._links), turn] = label
        self._links.append((start, end))
        self._kinds.append(kind)

    def finish(self, surface: Surface, *, ease: float, yielding: float, order: tuple[str, ...]) -> Layout:
        """The whole layout, its plates by `order` of their kinds and then by number.

        ease     : 0 to 1, how far the lines turn at a node to meet at even angles
        yielding : 0 to 1, how far the corners give way to the pull of the lines that meet there
        """
        nodes, links = np.array(self._nodes), np.array(self._links)
        kinds = np.array(self._kinds)
        rim, middle = kinds == RIM, (nodes[links, 1] == 0).all(axis=1) & (kinds != RIM)
        shown = kinds != MIDLINE
        nodes = curves.yielded(surface, nodes, links[shown], yielding)
        free = ~rim & ~middle
        tangent = curves.directions(
            surface, nodes, links[shown & ~rim], np.flatnonzero(middle[shown & ~rim]).tolist(), ease=ease
        )
        drawn = iter(curves.joined(surface, nodes, links[free], tangent[free[shown & ~rim]]))
        straight = {True: curves.along_rim, False: curves.along_middle}
        lines = [
            next(drawn) if free[i] else straight[bool(rim[i])](surface, nodes[a], nodes[b])
            for i, (a, b) in enumerate(links)
        ]
        for i, line in self._drawn.items():
            lines[i] = np.concatenate([nodes[links[i, :1]], line[1:-1], nodes[links[i, 1:]]])
        half = HalfNet(
            nodes, tuple(Arc(a, b, uv, k) for (a, b), uv, k in zip(self._links, lines, self._kinds, strict=True))
        )
        named = [(self._label(face, half), face) for face in faces(half)]
        return assemble(half, sorted(named, key=lambda pair: (order.index(pair[0].kind), pair[0].number)))

    def _label(self, face: Chain, half: HalfNet) -> PlateLabel:
        for step in face:
            if step in self._labels:
                return self._labels[step]
        u, v = outline(face, half.arcs).mean(axis=0)
        raise GeometryError(f"the plate near u {u:.2f}, v {v:.2f} has no label on any of its links")
