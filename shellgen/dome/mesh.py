"""The dome as triangles, with every line of the plate net a chain of mesh edges, exactly mirror-symmetric.

The left half is meshed and mirrored. Lines are divided by length on the surface, finer where plates are narrow; each
cell is triangulated between its lines and filled (see `geom.remesh`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from scipy.spatial import cKDTree

from shellgen.core.arrays import Floats, Ints
from shellgen.errors import GeometryError
from shellgen.fields import params as field
from shellgen.geom import curves, remesh, triangles
from shellgen.model import Layout, Line, ShellMesh, Surface

GRADING = 0.35
"""Most that the edge length may grow per mm of way, so that neighbours differ by a third at most. Chosen."""
NARROW = 1.3
"""How many times the gap between two lines an edge there may measure. Chosen: a row of triangles bridges such a gap
with no angle under atan(1 / 1.3), 37 degrees."""
FINEST = 1 / 6
"""Smallest edge length allowed in narrow places, as a share of the one asked for. Chosen: keeps the count in bounds."""
HAIR = 1e-5
"""How far a slit is opened while its cell is triangulated, as a share of the shortest edge. Chosen: far above rounding,
far below any triangle's height."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    edge: float = field.length(
        12.0, 2, 40, "Edge length of the triangles the dome is computed with; finer is slower and more exact."
    )


class _Sizes:
    """The edge length wanted at each place: `edge`, less near narrow places, growing again by GRADING."""

    def __init__(self, edge: float, places: Floats, sizes: Floats) -> None:
        """places : (k, 3) where less than `edge` is wanted, sizes : (k,) how much."""
        self.edge = edge
        rank = np.floor(4 * np.log2(edge / sizes)).astype(int)
        self.trees = [(sizes[rank == r].min(), cKDTree(places[rank == r])) for r in np.unique(rank)]

    def __call__(self, points: Floats) -> Floats:
        wanted = np.full(len(points), self.edge)
        for size, tree in self.trees:
            reach = (self.edge - size) / GRADING
            away, _ = tree.query(points, distance_upper_bound=reach)
            wanted = np.minimum(wanted, size + GRADING * np.minimum(away, reach))
        return wanted


@dataclass(frozen=True, slots=True, eq=False)
class _Half:
    """The left half.

    uv    : (n, 2) nodes, then inner vertices of the lines
    lines : for each line of the layout with v >= 0, its vertices from start to end
    """

    uv: Floats
    lines: dict[int, Ints]


def build(surface: Surface, layout: Layout, params: Params) -> ShellMesh:
    """Meshes the dome at about `params.edge`.

    A line may end inside a cell, which then stands on both its hands. GeometryError if lines of the net touch or cross
    between their ends, or the net is not symmetric.
    """
    left = {i: line for i, line in enumerate(layout.lines) if line.uv[:, 1].sum() > 0 or line.mirror == i}
    for i, line in left.items():
        if line.uv[:, 1].min() < 0 or (line.mirror == i and line.uv[:, 1].any()):
            raise GeometryError("a line of the plate net crosses the midline without a node there")
    half, sizes = _divide(surface, layout.nodes, left, params.edge)
    fixed = np.concatenate([np.column_stack([chain[:-1], chain[1:]]) for chain in half.lines.values()])
    start = _between_lines(surface, layout, half)
    filled = remesh.refine(start, fixed, surface.points, surface.tangents, sizes)
    mesh = _mirrored(surface, layout, half, filled)
    _check(mesh, layout)
    return mesh


def _divide(surface: Surface, nodes: Floats, lines: dict[int, Line], edge: float) -> tuple[_Half, _Sizes]:
    """Divides each line evenly in lengths as wanted; two lines between the same nodes get a vertex each between."""
    dense = _dense(surface, lines.values(), edge / 5)
    count = [len(uv) for uv in dense]
    place = surface.points(np.concatenate(dense))
    sizes = _narrow_places(place, np.repeat([(x.start, x.end) for x in lines.values()], count, axis=0), count, edge)
    step = np.zeros(len(place))
    step[1:] = np.linalg.norm(np.diff(place, axis=0), axis=1) / sizes((place[1:] + place[:-1]) / 2)
    twice = Counter(frozenset((x.start, x.end)) for x in lines.values())
    uv, chains, n = [nodes], {}, len(nodes)
    for (i, line), fine, steps in zip(lines.items(), dense, np.split(step, np.cumsum(count)[:-1]), strict=True):
        along = np.concatenate([[0], np.cumsum(steps[1:])])
        least = 3 if line.start == line.end else min(twice[frozenset((line.start, line.end))], 2)
        parts = max(round(along[-1]), least)
        uv.append(_on_line(fine, line.kind, along, np.linspace(0, along[-1], parts + 1))[1:-1])
        chains[i] = np.concatenate([[line.start], n + np.arange(parts - 1), [line.end]])
        n += parts - 1
    return _Half(np.concatenate(uv), chains), sizes


def _dense(surface: Surface, lines: Iterable[Line], step: float) -> list[Floats]:
    """(n, 2) each line divided by about `step` on the surface, on the unit circle if it is the rim."""
    place = surface.points(np.concatenate([line.uv for line in lines]))
    dense, done = [], 0
    for line in lines:
        along = curves.arc_length(place[done : done + len(line.uv)])
        count = max(int(np.ceil(along[-1] / step)), 4) + 1
        dense.append(_on_line(line.uv, line.kind, along, np.linspace(0, along[-1], count)))
        done += len(line.uv)
    return dense


def _on_line(uv: Floats, kind: str, along: Floats, where: Floats) -> Floats:
    """(k, 2) points of the line `uv` at `where`, `along` being the same measure at its own points."""
    found = np.column_stack([np.interp(where, along, uv[:, i]) for i in range(2)])
    if kind == "rim":
        found = found / np.hypot(found[:, 0], found[:, 1])[:, None]
    found[0], found[-1] = uv[0], uv[-1]
    return found


def _narrow_places(place: Floats, ends: Ints, count: list[int], edge: float) -> _Sizes:
    """Where two lines that do not meet run closer than the edge length, or a line is shorter than it.

    place, ends : (n, 3) points of all lines, `count` of each, and (n, 2) the nodes of the line of each
    """
    size = np.repeat([curves.length(chain) for chain in np.split(place, np.cumsum(count)[:-1])], count)
    pair = cKDTree(place).query_pairs(edge / NARROW, output_type="ndarray")
    meet = (ends[pair[:, 0], :, None] == ends[pair[:, 1], None, :]).any(axis=(1, 2))
    pair = pair[~meet]
    gap = np.linalg.norm(place[pair[:, 0]] - place[pair[:, 1]], axis=1)
    np.minimum.at(size, pair.T.ravel(), np.tile(NARROW * gap, 2))
    small = size < edge
    return _Sizes(edge, place[small], np.maximum(size[small], FINEST * edge))


def _between_lines(surface: Surface, layout: Layout, half: _Half) -> remesh.Fill:
    """The cells of the left half triangulated between their lines alone, constrained Delaunay in uv."""
    faces, label = [], []
    for c, walk in enumerate(layout.cells):
        if not all(i in half.lines for i, _ in walk):
            continue
        ring = np.concatenate([half.lines[i][:-1] if turn > 0 else half.lines[i][:0:-1] for i, turn in walk])
        corners = _opened(half.uv, ring)
        polygon = shapely.Polygon(corners)
        if not polygon.is_valid or polygon.area == 0:
            name = layout.plates[layout.cell_plate[c]].name
            raise GeometryError(f"the outline of plate {name} touches or crosses itself; lines must keep apart")
        inside = shapely.get_coordinates(shapely.constrained_delaunay_triangles(polygon)).reshape(-1, 4, 2)[:, 2::-1]
        _, index = cKDTree(corners).query(inside)
        faces.append(ring[index])
        label.append(np.full(len(inside), c))
    return remesh.Fill(half.uv, surface.points(half.uv), np.concatenate(faces), np.concatenate(label))


def _opened(uv: Floats, ring: Ints) -> Floats:
    """(n, 2) corners of a cell's outline; where it passes a vertex more than once, as on both hands of a line that
    ends inside the cell, they are moved a hair inward, so that it becomes a simple polygon.
    """
    corners = uv[ring]
    again = np.isin(ring, np.flatnonzero(np.bincount(ring) > 1))
    if again.any():
        shortest = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).min()
        corners[again] += HAIR * shortest * curves.normals(corners)[again]
    return corners


def _mirrored(surface: Surface, layout: Layout, half: _Half, mesh: remesh.Fill) -> ShellMesh:
    """The whole shell: vertices of the left half in use, then the mirror images of those off the midline."""
    used = np.unique(mesh.faces)
    compact = np.full(len(mesh.uv), -1)
    compact[used] = np.arange(len(used))
    uv = mesh.uv[used]
    away = np.flatnonzero(uv[:, 1] != 0)
    twin = np.arange(len(uv))
    twin[away] = len(uv) + np.arange(len(away))
    faces = compact[mesh.faces]
    chains = {i: compact[chain] for i, chain in half.lines.items()}
    for i, chain in tuple(chains.items()):
        chains[layout.lines[i].mirror] = _as_walked(layout, i, twin[chain])
    other = _mirror_cells(layout)
    uv = np.concatenate([uv, uv[away] * (1, -1)])
    return ShellMesh(
        uv=uv,
        points=surface.points(uv),
        normals=surface.normals(uv),
        faces=np.concatenate([faces, twin[faces][:, ::-1]]),
        face_cell=np.concatenate([mesh.label, other[mesh.label]]),
        line_vertices=tuple(chains[i] for i in range(len(layout.lines))),
        mirror=np.concatenate([twin, away]),
    )


def _as_walked(layout: Layout, i: int, image: Ints) -> Ints:
    """The mirror image of line i's vertices in the order of the mirror line."""
    line = layout.lines[i]
    return image if _keeps_direction(layout, line) else image[::-1]


def _keeps_direction(layout: Layout, line: Line) -> bool:
    twin = layout.lines[line.mirror]
    image = layout.nodes[[line.start, line.end]] * (1, -1)
    for order in ((twin.start, twin.end), (twin.end, twin.start)):
        if np.array_equal(layout.nodes[list(order)], image):
            return order == (twin.start, twin.end)
    raise GeometryError("the plate net is not symmetric: a line does not end where its mirror image does")


def _mirror_cells(layout: Layout) -> Ints:
    """(c,) the mirror image of each cell, found across the lines off the midline."""
    other = np.full(len(layout.cells), -1)
    for c, walk in enumerate(layout.cells):
        i, turn = next((i, turn) for i, turn in walk if layout.lines[i].mirror != i)
        twin = layout.lines[layout.lines[i].mirror]
        other[c] = twin.right if (turn > 0) == _keeps_direction(layout, layout.lines[i]) else twin.left
    return other


def _check(mesh: ShellMesh, layout: Layout) -> None:
    """What everything after relies on. GeometryError if the dome is too sharp; any other failure here is a fault of
    this program and not of the preset."""
    edge, uses = triangles.edge_uses(mesh.faces)
    once = {tuple(e) for e in edge[uses == 1].tolist()}
    rim = {
        (min(e), max(e))
        for line, chain in zip(layout.lines, mesh.line_vertices, strict=True)
        if line.kind == "rim"
        for e in pairwise(chain.tolist())
    }
    assert uses.max() == 2 and once == rim, "a mesh edge off the rim is not used twice"
    assert triangles.euler_characteristic(mesh.faces) == 1
    assert (triangles.areas(mesh.uv, mesh.faces) > 0).all(), "a face lies clockwise"
    out = (triangles.face_normals(mesh.points, mesh.faces) * mesh.normals[mesh.faces].sum(axis=1)).sum(axis=1)
    if (out <= 0).any():
        raise GeometryError("the dome bends more sharply than triangles of this size can; make mesh.edge smaller")
