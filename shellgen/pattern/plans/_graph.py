"""The plate net as a graph for the search for seams: mirrored pairs of lines, and the pieces that result from cuts."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.geom.cutting import cut_open
from shellgen.geom.flattening import Shape
from shellgen.geom.halfedges import chain_of_edges, next_half_edges
from shellgen.model import Layout, ShellMesh


class PieceBits(NamedTuple):
    """A piece: its cells, and the lines inside it that are cut (its darts), as bits; a left piece also stands for its
    mirror image. The search compares many thousands of pieces: as numbers they are found and remembered quickly."""

    cell_bits: int
    dart_bits: int

    @property
    def cells(self) -> frozenset[int]:
        return frozenset(ones(self.cell_bits))

    @property
    def darts(self) -> frozenset[int]:
        return frozenset(ones(self.dart_bits))

    def difference(self, other: PieceBits) -> int:
        """The number of cells and darts that only one of the two has."""
        return (self.cell_bits ^ other.cell_bits).bit_count() + (self.dart_bits ^ other.dart_bits).bit_count()


def ones(bits: int) -> list[int]:
    """The places of the ones in a number, from the lowest."""
    return [place for place, digit in enumerate(f"{bits:b}"[::-1]) if digit == "1"]


class Inside(NamedTuple):
    """What is inside a piece, away from its outline.

    lines, nodes : (lines,) and (nodes,) bool: inside the piece and not cut
    choices : whether any of those lines might be cut
    bridges : (k,) those of the lines that have both ends on the outline
    """

    lines: Bools
    nodes: Bools
    choices: bool
    bridges: Ints


class SeamGraph:
    """Lines that may be cut, each with its mirror image as one choice.

    choices : the lines of each choice
    lengths : (choices,) mm, of all lines of a choice; line_lengths (lines,) of each
    hands   : the cells on both sides of each line; ends : its nodes
    on_rim  : for each node whether it lies on the rim
    near    : for each choice the others that share a node with it
    """

    def __init__(self, layout: Layout, lengths: Floats, *, kinds: tuple[str, ...] = ("plate",)) -> None:
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
            tuple((1 << i, 1 << self.hands[i][0] + self.hands[i][1] - c) for i, _ in cell if min(self.hands[i]) >= 0)
            for c, cell in enumerate(layout.cells)
        )
        self._sides = tuple(sum(line for line, _ in beyond) for beyond in self._beyond)
        self._reach: tuple[dict[int, int], ...] = tuple({} for _ in layout.cells)
        self._line_mirror = tuple(line.mirror for line in lines)
        self._cell_mirror = _cell_mirror(layout)
        self._images: dict[int, int] = {}
        self.everything = (1 << len(layout.cells)) - 1
        self._hands, self._ends = np.array(self.hands), np.array(self.ends)
        self._valence = np.bincount(self._ends.ravel(), minlength=len(layout.nodes))
        at_node: dict[int, list[int]] = {}
        for i, line in enumerate(lines):
            for node in {line.start, line.end}:
                at_node.setdefault(node, []).append(i)
        self._rim_nodes = frozenset(node for line in lines if line.kind == "rim" for node in (line.start, line.end))
        self.on_rim = tuple(node in self._rim_nodes for node in range(len(layout.nodes)))
        self.inner_nodes = self.on_rim.count(False)
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

    def is_cut(self, chosen: Bools) -> Bools:
        """(lines,) bool, from (choices,) bool."""
        return np.asarray(np.append(chosen, False)[self._owner])

    def lines(self, chosen: Bools) -> tuple[int, ...]:
        return tuple(np.flatnonzero(self.is_cut(chosen)).tolist())

    def cut(self, chosen: Bools) -> int:
        """The lines that are cut, as bits."""
        return sum(1 << line for line in self.lines(chosen))

    def length(self, chosen: Bools) -> float:
        return float(self.lengths[chosen].sum())

    def around(self, choice: int, count: int) -> tuple[int, ...]:
        """The `count` choices nearest to one, by the number of steps."""
        found = [choice]
        for one in found:
            found += [other for other in self.near[one] if other not in found]
            if len(found) >= count:
                break
        return tuple(found[:count])

    def anchored(self, cut: int) -> bool:
        """Whether every cut line is connected to the rim, which is so exactly if no piece has a hole."""
        todo, seen, met = list(self._rim_nodes), set(self._rim_nodes), 0
        while todo:
            for line, beyond in self._at_node[todo.pop()]:
                if cut >> line & 1:
                    met |= 1 << line
                    if beyond not in seen:
                        seen.add(beyond)
                        todo.append(beyond)
        return met == cut

    def part_at(self, cell: int, cut: int) -> PieceBits:
        """The piece that a cell belongs to; if it has a mirror image, the one of the two with the lowest cell."""
        cells, todo, once, twice = 0, 1 << cell, 0, 0
        while todo:
            lowest = todo & -todo
            cells |= lowest
            here = lowest.bit_length() - 1
            sides = self._sides[here]
            twice |= once & sides
            once |= sides
            todo = (todo | self._reached(here, cut & sides)) & ~cells
        darts = twice & cut
        image = self.image(cells)
        if image & -image < cells & -cells:
            return PieceBits(image, sum(1 << self._line_mirror[line] for line in ones(darts)))
        return PieceBits(cells, darts)

    def _reached(self, cell: int, cut: int) -> int:
        """The cells beyond those sides of a cell that are not cut."""
        known = self._reach[cell]
        if cut not in known:
            known[cut] = sum({beyond for line, beyond in self._beyond[cell] if not cut & line})
        return known[cut]

    def image(self, cells: int) -> int:
        """The mirror image of a set of cells."""
        if cells not in self._images:
            self._images[cells] = sum(1 << self._cell_mirror[cell] for cell in ones(cells))
        return self._images[cells]

    def count(self, part: PieceBits) -> int:
        """The number of pieces that a part represents: itself, and its mirror image if that is another piece."""
        return 1 if self.image(part.cell_bits) == part.cell_bits else 2

    def inside(self, part: PieceBits) -> Inside:
        within = np.zeros(len(self._cell_mirror) + 1, dtype=bool)  # the last for the outside, -1
        within[ones(part.cell_bits)] = True
        lines = within[self._hands].all(axis=1)
        lines[ones(part.dart_bits)] = False
        nodes = np.bincount(self._ends[lines].ravel(), minlength=len(self._valence)) == self._valence
        bridges = np.flatnonzero(lines & ~nodes[self._ends].any(axis=1))
        return Inside(lines, nodes, bool((self._owner[lines] >= 0).any()), bridges)

    def part_of_cells(self, cut: int) -> dict[int, PieceBits]:
        """The piece of every cell, mirror images sharing one."""
        found: dict[int, PieceBits] = {}
        for cell in range(len(self._cell_mirror)):
            if cell not in found:
                found.update(self.spread(self.part_at(cell, cut)))
        return found

    def spread(self, part: PieceBits) -> dict[int, PieceBits]:
        """The piece for each of its cells and their mirror images."""
        return dict.fromkeys(ones(part.cell_bits | self.image(part.cell_bits)), part)

    def parts(self, chosen: Bools) -> tuple[PieceBits, ...]:
        """The pieces, mirror images only once."""
        found = self.part_of_cells(self.cut(chosen))
        return tuple(dict.fromkeys(found[cell] for cell in range(len(found))))


def _cell_mirror(layout: Layout) -> tuple[int, ...]:
    """The mirror image of each cell: the one whose lines are the mirror images of its lines."""
    lines = {frozenset(line for line, _ in cell): c for c, cell in enumerate(layout.cells)}
    return tuple(lines[frozenset(layout.lines[line].mirror for line, _ in cell)] for cell in layout.cells)


def line_lengths(mesh: ShellMesh, points: Floats) -> Floats:
    """(lines,) mm."""
    return np.array([np.linalg.norm(np.diff(points[chain], axis=0), axis=1).sum() for chain in mesh.line_vertices])


def opened_shape(mesh: ShellMesh, points: Floats, part: PieceBits, *, centred: bool = False) -> Shape:
    """A piece, opened along its darts. If it is `centred` on the midline, its left half, unless a triangle crosses the
    midline."""
    inside = np.zeros(int(mesh.face_cell.max()) + 1, dtype=bool)
    inside[list(part.cells)] = True
    faces = mesh.faces[inside[mesh.face_cell]]
    side = np.sign(mesh.uv[:, 1]) * (mesh.mirror != np.arange(len(mesh.mirror)))
    left = side[faces].max(axis=1) > 0
    halved = centred and bool((side[faces[left]] >= 0).all())
    if halved:
        faces = faces[left]
    cut = chain_of_edges(faces, [mesh.line_vertices[line] for line in sorted(part.darts)]) >= 0
    corner = cut_open(faces, cut).corner
    _, first, own = np.unique(corner, return_index=True, return_inverse=True)
    held = None
    if halved:
        ahead, start = next_half_edges(len(faces)), faces.ravel()
        inner = np.flatnonzero((side[start] == 0) & (side[start[ahead]] == 0) & ~cut)
        held = np.zeros(len(first), bool)
        held[own[inner]] = held[own[ahead[inner]]] = True
    return Shape(points[faces.ravel()[first]], own.reshape(-1, 3), held)
