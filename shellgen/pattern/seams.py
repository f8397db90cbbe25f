"""Cuts the dome along chosen lines: the resulting pieces and seams, named by place and exactly mirrored."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from shellgen.core.arrays import Floats, Ints
from shellgen.errors import FitError, GeometryError
from shellgen.geom.curves import arc_length
from shellgen.geom.cutting import CutMesh, cut_open, euler_characteristics, mirrored_faces
from shellgen.geom.halfedges import chain_of_edges, cycles, next_half_edges
from shellgen.geom.triangles import areas
from shellgen.model import Cut, Layout, Piece, Seam, ShellMesh, Side

RINGS = (("crown", 0.4), ("mid", 0.75), ("rim", inf))
"""How far out, from the crown (0) to the rim (1) of the domain, the middle of a piece lies. Chosen: a gore is "mid"."""

SIDES = "CLR"
SEAMS_NAMED = 3
"""At most this many seams are named in a message (chosen)."""


@dataclass(frozen=True, slots=True, eq=False)
class _Edge:
    """One side of an outline before seams have numbers: the piece's own vertices in order, and the lines along it."""

    vertices: Ints
    lines: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _OpenedPiece:
    """A piece before the seams have numbers."""

    name: str
    mirror: int
    faces: Ints
    shell_faces: Ints
    shell_vertices: Ints
    edges: tuple[_Edge, ...]


def cut(mesh: ShellMesh, layout: Layout, cut_lines: Iterable[int], *, mid_offset: float) -> Cut:
    """Opens the dome along `cut_lines`.

    mid_offset : mm from the outer face to the surface on which lengths are taken (negative: inwards)

    The outline of a piece is split into sides where the neighbour changes, where the rim begins or ends, at the tip
    and at the mouth of a dart. Each seam has two sides. It runs from its end nearest the head, a dart from its mouth
    to its tip. A right piece has the vertices and faces of its left mate in the same numbering, each face reversed,
    and its sides in reverse order; its seams have the mirrored direction.

    Raises GeometryError for lines that are not mirrored, FitError for a piece that is not a disc.
    """
    lines = tuple(sorted({int(line) for line in cut_lines}))
    _check_lines(layout, lines)
    bodies = _bodies(mesh, layout, lines)
    seams = _seams(mesh, layout, bodies, mid_offset)
    seam_of = {place: index for index, seam in enumerate(seams) for place in seam.sides}
    pieces = tuple(_piece(mesh, body, index, seams, seam_of) for index, body in enumerate(bodies))
    return Cut(cut_lines=lines, pieces=pieces, seams=seams)


def line_plates(layout: Layout, line: int) -> tuple[str, ...]:
    """Names of the plates on both sides of a line."""
    cells = (layout.lines[line].left, layout.lines[line].right)
    return tuple(layout.plates[layout.cell_plate[cell]].name for cell in cells if cell >= 0)


def _check_lines(layout: Layout, lines: tuple[int, ...]) -> None:
    for line in lines:
        if not 0 <= line < len(layout.lines) or layout.lines[line].kind == "rim":
            raise GeometryError(f"line {line} is not a line inside the rim of this layout, so it cannot be cut")
        if layout.lines[line].mirror not in lines:
            between = " and ".join(line_plates(layout, line))
            raise GeometryError(f"the line between {between} is cut but not its mirror image; cut both or neither")


# ---- pieces --------------------------------------------------------------------------------------------------------


def _bodies(mesh: ShellMesh, layout: Layout, lines: tuple[int, ...]) -> tuple[_OpenedPiece, ...]:
    chain = chain_of_edges(mesh.faces, [mesh.line_vertices[line] for line in lines])
    line = np.where(chain >= 0, np.append(lines, -1)[chain], -1)
    opened = cut_open(mesh.faces, line >= 0)
    image = mirrored_faces(mesh.faces, mesh.mirror)
    groups = np.split(np.argsort(opened.patch, kind="stable"), np.cumsum(np.bincount(opened.patch))[:-1])
    outlines = defaultdict(list)
    for loop in cycles(opened.after):
        outlines[int(opened.patch[loop[0] // 3])].append(loop)
    euler = euler_characteristics(opened)
    bodies: list[_OpenedPiece] = []
    for patch, name, mate in _named(mesh, opened.patch, image):
        if len(outlines[patch]) != 1 or euler[patch] != 1:
            raise FitError(_holed(layout, name, [line[loop] for loop in outlines[patch]]))
        if name.startswith("R"):
            bodies.append(_mirrored(mesh, layout, bodies[mate], image, name, mate))
        else:
            bodies.append(_body(mesh, opened, line, groups[patch], outlines[patch][0], name, mate))
    return tuple(bodies)


def _holed(layout: Layout, name: str, lines: Sequence[Ints]) -> str:
    """lines : per outline of the piece, the line that each of its edges lies on, -1 along the rim"""
    inner = sorted(lines, key=lambda along: ((along < 0).any(), len(along)))[:-1] or lines
    seams = list(dict.fromkeys(" / ".join(sorted(line_plates(layout, k))) for along in inner for k in along.tolist()))
    more = f" and {len(seams) - SEAMS_NAMED} more" if len(seams) > SEAMS_NAMED else ""
    of = f"the seam {seams[0]} lies" if len(seams) == 1 else f"the seams {', '.join(seams[:SEAMS_NAMED])}{more} lie"
    return (
        f"{of} inside piece {name} like a hole, and a piece must have one outline: cut along one more line, from there "
        "to the edge of the piece"
    )


def _named(mesh: ShellMesh, patch: Ints, image: Ints) -> list[tuple[int, str, int]]:
    """(patch, name, index of the mirrored piece in this list) of each piece, from crown to rim and head to tail."""
    area = areas(mesh.points, mesh.faces)
    middle = np.column_stack(
        [mesh.points[mesh.faces].mean(axis=1)[:, :2], np.hypot(*mesh.uv[mesh.faces].mean(axis=1).T)]
    )
    whole = np.bincount(patch, area)
    x, y, r = (np.round(np.bincount(patch, area * part) / whole, 6).tolist() for part in middle.T)
    first = np.unique(patch, return_index=True)[1]
    twin = patch[image[first]]
    groups = defaultdict(list)
    for p in range(len(first)):
        ring = int(np.searchsorted([limit for _, limit in RINGS], r[p]))
        groups[ring, 0 if twin[p] == p else 1 if y[p] > 0 else 2].append(p)
    named: list[tuple[int, str]] = []
    for (ring, side_index), members in sorted(groups.items()):
        ranked = sorted(members, key=lambda p: (-x[p], -y[p]))
        if side_index == 2:  # as the left ones, whatever the rounding
            ranked = [int(twin[p]) for p, name in named if name.startswith(f"L-{RINGS[ring][0]}-")]
        named += [(p, f"{SIDES[side_index]}-{RINGS[ring][0]}-{k}") for k, p in enumerate(ranked, 1)]
    place = {p: index for index, (p, _) in enumerate(named)}
    return [(p, name, place[int(twin[p])]) for p, name in named]


def _body(
    mesh: ShellMesh, opened: CutMesh, line: Ints, shell_faces: Ints, loop: Ints, name: str, mate: int
) -> _OpenedPiece:
    corners = opened.corner.reshape(-1, 3)[shell_faces]
    own, first, faces = np.unique(corners, return_index=True, return_inverse=True)
    head = next_half_edges(len(mesh.faces))
    edges = []
    for run in _sides(opened, loop):
        vertices = np.searchsorted(own, opened.corner[np.append(run, head[run[-1]])])
        on_lines = line[run] if opened.twin[run[0]] >= 0 else run[:0]
        edges.append(_Edge(vertices, tuple(dict.fromkeys(on_lines.tolist()))))
    vertices = mesh.faces[shell_faces].ravel()[first]
    return _OpenedPiece(name, mate, faces.reshape(-1, 3), shell_faces, vertices, tuple(edges))


def _sides(opened: CutMesh, loop: Ints) -> list[Ints]:
    """Splits one outline into runs of half-edges against the same neighbour, in outline order."""
    twin, after = opened.twin, opened.after
    following = np.roll(loop, -1)
    there, back = twin[loop], twin[following]
    rim, rim_next = there < 0, back < 0
    across = ~rim & ~rim_next & (after[back] == there) & (following != there)
    ends = np.flatnonzero(~(across | (rim & rim_next)))
    if not len(ends):
        return [loop]
    return np.split(np.roll(loop, -(ends[0] + 1)), (np.diff(ends)).cumsum())


def _mirrored(mesh: ShellMesh, layout: Layout, left: _OpenedPiece, image: Ints, name: str, mate: int) -> _OpenedPiece:
    edges = tuple(
        _Edge(edge.vertices[::-1], tuple(layout.lines[line].mirror for line in reversed(edge.lines)))
        for edge in reversed(left.edges)
    )
    return replace(
        left,
        name=name,
        mirror=mate,
        faces=left.faces[:, [0, 2, 1]],
        shell_faces=image[left.shell_faces],
        shell_vertices=mesh.mirror[left.shell_vertices],
        edges=edges,
    )


# ---- seams ---------------------------------------------------------------------------------------------------------


def _seams(mesh: ShellMesh, layout: Layout, bodies: tuple[_OpenedPiece, ...], mid_offset: float) -> tuple[Seam, ...]:
    points = mesh.offset(mid_offset)
    places = defaultdict(list)
    for p, body in enumerate(bodies):
        for s, edge in enumerate(body.edges):
            if edge.lines:
                places[min(edge.lines)].append((p, s))
    mirror_of = {
        key: min(layout.lines[line].mirror for line in bodies[p].edges[s].lines) for key, [(p, s), _] in places.items()
    }
    drafts: dict[int, Seam] = {}
    for key, (one, other) in places.items():
        middle = points[_chain(bodies, one)].mean(axis=0)
        if mirror_of[key] == key or middle[1] > 0:
            drafts[key] = _draft(points, bodies, one, other)
    for key in places:
        if key not in drafts:
            drafts[key] = _mirror_seam(mesh, layout, bodies, drafts[mirror_of[key]], places[key])
    return _numbered(points, bodies, list(drafts.values()))


def _chain(bodies: tuple[_OpenedPiece, ...], place: tuple[int, int]) -> Ints:
    """Shell vertices along a side, in outline order."""
    return bodies[place[0]].shell_vertices[bodies[place[0]].edges[place[1]].vertices]


def _draft(points: Floats, bodies: tuple[_OpenedPiece, ...], one: tuple[int, int], other: tuple[int, int]) -> Seam:
    """A seam with its direction but not its number; the forward side of a dart comes first."""
    edge, mate = (bodies[p].edges[s] for p, s in (one, other))
    vertices = _chain(bodies, one)
    dart = one[0] == other[0]
    if dart and (edge.vertices[0] == mate.vertices[-1]) != (edge.vertices[-1] == mate.vertices[0]):
        backward = edge.vertices[0] == mate.vertices[-1]  # starts at the tip
    else:
        start, end = (np.round(points[v], 6).tolist() for v in (vertices[0], vertices[-1]))
        backward = (start[0], abs(start[1]), start[1]) < (end[0], abs(end[1]), end[1])
    lines = edge.lines[::-1] if backward else edge.lines
    vertices = vertices[::-1] if backward else vertices
    sides = (other, one) if dart and backward else (one, other)
    return Seam("", vertices, sides, dart, lines, float(arc_length(points[vertices])[-1]))


def _mirror_seam(
    mesh: ShellMesh, layout: Layout, bodies: tuple[_OpenedPiece, ...], left: Seam, sides: list[tuple[int, int]]
) -> Seam:
    vertices = mesh.mirror[left.vertices]
    if left.dart:  # its forward side is the mirror image of the left dart's backward one
        first = next(place for place in sides if not np.array_equal(_chain(bodies, place), vertices))
    else:
        first = next(place for place in sides if place[0] == bodies[left.sides[0][0]].mirror)
    other = next(place for place in sides if place != first)
    lines = tuple(layout.lines[line].mirror for line in left.lines)
    return replace(left, vertices=vertices, sides=(first, other), lines=lines)


def _numbered(points: Floats, bodies: tuple[_OpenedPiece, ...], drafts: list[Seam]) -> tuple[Seam, ...]:
    """Names the seams by the pieces they join; several between the same two are numbered from head to tail."""
    groups = defaultdict(list)
    for seam in drafts:
        (p, _), (q, _) = seam.sides
        groups[(p, q)].append(seam)
    named = []
    for (p, q), members in sorted(groups.items(), key=lambda item: item[0]):
        middle = {id(seam): points[seam.vertices].mean(axis=0).round(6).tolist() for seam in members}
        members.sort(key=lambda seam: (-middle[id(seam)][0], -abs(middle[id(seam)][1]), -middle[id(seam)][1]))
        for k, seam in enumerate(members, 1):
            tail = f"dart-{k}" if p == q else bodies[q].name + (f"-{k}" if k > 1 else "")
            named.append(replace(seam, name=f"{bodies[p].name}~{tail}"))
    return tuple(named)


def _piece(
    mesh: ShellMesh, body: _OpenedPiece, index: int, seams: tuple[Seam, ...], seam_of: dict[tuple[int, int], int]
) -> Piece:
    sides = []
    for s, edge in enumerate(body.edges):
        seam = seam_of.get((index, s), -1)
        chain = body.shell_vertices[edge.vertices]
        forward = seam < 0 or np.array_equal(chain, seams[seam].vertices)
        sides.append(Side(seam, edge.vertices, bool(forward)))
    cells = tuple(np.unique(mesh.face_cell[body.shell_faces]).tolist())
    return Piece(
        body.name, body.name[0], body.mirror, cells, body.faces, body.shell_faces, body.shell_vertices, tuple(sides)
    )
