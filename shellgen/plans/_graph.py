"""The plate net as the search for seams sees it: mirrored pairs of lines, and the pieces that cutting some leaves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shellgen.geom.slit import chain_of_edges, slit
from shellgen.model import Layout, ShellMesh


class Part(NamedTuple):
    """A piece: its cells, and the lines inside it that are cut (its darts). Of a left and a right piece the left."""

    cells: frozenset[int]
    darts: frozenset[int]


class Inside(NamedTuple):
    """What lies off a piece's outline.

    lines, nodes : (lines,) and (nodes,) bool: inside the piece and not cut
    choices : whether any of those lines might be cut
    bridges : (k,) those of the lines that have both ends on the outline
    """

    lines: NDArray
    nodes: NDArray
    choices: bool
    bridges: NDArray


class Net:
    """Lines that may be cut, each with its mirror image as one choice.

    choices : the lines of each choice
    lengths : (choices,) mm, of all lines of a choice; line_lengths (lines,) of each
    hands   : the cells on either hand of each line; ends : its nodes
    on_rim  : for each node whether it lies on the rim
    near    : for each choice those that share a node with it
    """

    def __init__(self, layout: Layout, lengths: NDArray, *, kinds: tuple[str, ...] = ("plate",)) -> None:
        """lengths : (lines,) mm."""
        lines = layout.lines
        self.layout = layout
        self.choices = tuple(
            tuple(sorted({i, line.mirror})) for i, line in enumerate(lines) if line.kind in kinds and i <= line.mirror
        )
        self.line_lengths = lengths.tolist()
        self.lengths = np.array([lengths[list(choice)].sum() for choice in self.choices])
        self._owner = np.full(len(lines), -1)
        for c, choice in enumerate(self.choices):
            self._owner[list(choice)] = c
        self.ends = tuple((line.start, line.end) for line in lines)
        self.hands = tuple((line.left, line.right) for line in lines)
        self._beyond = tuple(
            tuple((i, self.hands[i][0] + self.hands[i][1] - c) for i, _ in cell if min(self.hands[i]) >= 0)
            for c, cell in enumerate(layout.cells)
        )
        self._line_mirror = tuple(line.mirror for line in lines)
        self._cell_mirror = _cell_mirror(layout)
        self.everything = frozenset(range(len(layout.cells)))
        self._hands, self._ends = np.array(self.hands), np.array(self.ends)
        self._valence = np.bincount(self._ends.ravel(), minlength=len(layout.nodes))
        at_node: dict[int, list[int]] = {}
        for i, line in enumerate(lines):
            for node in {line.start, line.end}:
                at_node.setdefault(node, []).append(i)
        self._rim_nodes = frozenset(line.start for line in lines if line.kind == "rim")
        self.on_rim = tuple(node in self._rim_nodes for node in range(len(layout.nodes)))
        self._at_node = {
            node: tuple((i, lines[i].start + lines[i].end - node) for i in here if lines[i].kind in kinds)
            for node, here in at_node.items()
        }
        self.near = tuple(
            tuple(
                sorted(
                    {
                        int(self._owner[i])
                        for line in choice
                        for node in (lines[line].start, lines[line].end)
                        for i, _ in self._at_node[node]
                    }
                    - {c}
                )
            )
            for c, choice in enumerate(self.choices)
        )

    def is_cut(self, chosen: NDArray) -> NDArray:
        """(lines,) bool, from (choices,) bool."""
        return np.append(chosen, False)[self._owner]

    def lines(self, chosen: NDArray) -> tuple[int, ...]:
        return tuple(np.flatnonzero(self.is_cut(chosen)).tolist())

    def length(self, chosen: NDArray) -> float:
        return float(self.lengths[chosen].sum())

    def around(self, choice: int, count: int) -> tuple[int, ...]:
        """The nearest `count` choices, step by step from one."""
        found = [choice]
        for one in found:
            found += [other for other in self.near[one] if other not in found]
            if len(found) >= count:
                break
        return tuple(found[:count])

    def anchored(self, cut: Sequence[bool]) -> bool:
        """Whether every cut line hangs together with the rim: then no piece has a hole, and only then."""
        todo, seen, met = list(self._rim_nodes), set(self._rim_nodes), set()
        while todo:
            for line, beyond in self._at_node[todo.pop()]:
                if cut[line]:
                    met.add(line)
                    if beyond not in seen:
                        seen.add(beyond)
                        todo.append(beyond)
        return len(met) == sum(cut)

    def part_at(self, cell: int, cut: Sequence[bool]) -> Part:
        """The piece that a cell belongs to; of two mirror images the one with the lowest cell."""
        todo, cells, edges = [cell], {cell}, []
        while todo:
            for line, beyond in self._beyond[todo.pop()]:
                if cut[line]:
                    edges.append(line)
                elif beyond not in cells:
                    cells.add(beyond)
                    todo.append(beyond)
        darts = {line for line in edges if self.hands[line][0] in cells and self.hands[line][1] in cells}
        image = frozenset(self._cell_mirror[c] for c in cells)
        if min(image) < min(cells):
            return Part(image, frozenset(self._line_mirror[line] for line in darts))
        return Part(frozenset(cells), frozenset(darts))

    def inside(self, part: Part) -> Inside:
        within = np.zeros(len(self._cell_mirror) + 1, dtype=bool)  # the last for the outside, hand -1
        within[list(part.cells)] = True
        lines = within[self._hands].all(axis=1)
        lines[list(part.darts)] = False
        nodes = np.bincount(self._ends[lines].ravel(), minlength=len(self._valence)) == self._valence
        bridges = np.flatnonzero(lines & ~nodes[self._ends].any(axis=1))
        return Inside(lines, nodes, bool((self._owner[lines] >= 0).any()), bridges)

    def part_of_cells(self, cut: Sequence[bool]) -> dict[int, Part]:
        """The piece of every cell, mirror images sharing one."""
        found: dict[int, Part] = {}
        for cell in range(len(self._cell_mirror)):
            if cell not in found:
                found.update(self.spread(self.part_at(cell, cut)))
        return found

    def spread(self, part: Part) -> dict[int, Part]:
        """A piece by its cells and their mirror images."""
        found = dict.fromkeys(part.cells, part)
        found.update(dict.fromkeys([self._cell_mirror[cell] for cell in part.cells], part))
        return found

    def parts(self, chosen: NDArray) -> tuple[Part, ...]:
        """The pieces, each once with its mirror image."""
        found = self.part_of_cells(self.is_cut(chosen).tolist())
        return tuple(dict.fromkeys(found[cell] for cell in range(len(found))))


def _cell_mirror(layout: Layout) -> tuple[int, ...]:
    """The mirror image of each cell: the one whose lines are the mirror images of its lines."""
    lines = {frozenset(line for line, _ in cell): c for c, cell in enumerate(layout.cells)}
    return tuple(lines[frozenset(layout.lines[line].mirror for line, _ in cell)] for cell in layout.cells)


def line_lengths(mesh: ShellMesh, points: NDArray) -> NDArray:
    """(lines,) mm."""
    return np.array([np.linalg.norm(np.diff(points[chain], axis=0), axis=1).sum() for chain in mesh.line_vertices])


def patch(mesh: ShellMesh, points: NDArray, part: Part) -> tuple[NDArray, NDArray]:
    """(k, 3) points and (m, 3) faces of a piece, opened along its darts."""
    inside = np.zeros(int(mesh.face_cell.max()) + 1, dtype=bool)
    inside[list(part.cells)] = True
    faces = mesh.faces[inside[mesh.face_cell]]
    chain = chain_of_edges(faces, [mesh.line_vertices[line] for line in sorted(part.darts)])
    _, first, corner = np.unique(slit(faces, chain >= 0).corner, return_index=True, return_inverse=True)
    return points[faces.ravel()[first]], corner.reshape(-1, 3)
