"""Flattens the pieces of a cut dome: least largest stretch, mates of equal length, right pieces mirrored from the
left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import shapely
from scipy import sparse

from shellgen.core.arrays import Bools, Complexes, Floats, Ints
from shellgen.errors import GeometryError
from shellgen.fields import params as field
from shellgen.geom.curves import arc_length
from shellgen.geom.distortion import stretches
from shellgen.geom.flattening import Shape, flatten, flatten_each
from shellgen.geom.mates import Mates
from shellgen.geom.triangles import areas, boundary_loops
from shellgen.model import Cut, FlatPiece, FoamSheet, Pattern, Piece, ShellMesh

SAME_PLACE = 1e-6
"""Marks nearer than this share of a seam are one. Chosen: a thousandth of a millimetre on a metre of seam."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    neutral_axis: float = field.ratio(
        0.5, 0.0, 1.0, "Where the foam keeps its length in forming: 0 its inner face, 1 its outer, 0.5 the middle."
    )
    compression: float = field.ratio(
        0.75,
        0.1,
        1.0,
        "How much compression strains the foam as much as one part of stretch: hot foam stretches more easily.",
    )


class LaidPiece(NamedTuple):
    """A piece that was flattened independently.

    stretch : the most it must be stretched anywhere, or compressed, counted by `Params.compression` (0.03 for 3 %);
              infinite if its outline overlaps itself
    outline : (k, 2) mm, counter-clockwise
    """

    stretch: float
    outline: Floats


def alone(shapes: Sequence[Shape], params: Params) -> tuple[LaidPiece, ...]:
    """Flattens pieces without regard to their mates. If half a piece is given, the result is the whole piece."""
    made = []
    for shape, (level, flat) in zip(shapes, flatten_each(shapes, compression=params.compression), strict=True):
        places, faces = shape.whole(flat)
        outline = places[boundary_loops(faces)[0]]
        made.append(LaidPiece(float(np.expm1(level)) if shapely.Polygon(outline).is_valid else np.inf, outline))
    return tuple(made)


def build(
    mesh: ShellMesh, cut: Cut, params: Params, foam: FoamSheet, *, intervals: Sequence[Sequence[float]]
) -> Pattern:
    """Flattens all pieces together.

    intervals : for each seam, the shares of its length at which its marks are, 0 and 1 included. Between every two of
                them both mates have equal lengths; between vertices a mark lies on the straight edge.

    A piece has the head upwards, seen from outside, and its centre of area in the origin; a centre piece
    is symmetric about x = 0. Left pieces and the left halves of centre pieces are solved, then mirrored.

    Raises OverlapError for a piece that overlaps itself in the plane.
    """
    points = mesh.offset(foam.mid_offset)
    halves = _halves(mesh, cut)
    solved = flatten(
        points[halves.shell_vertices], halves.faces, halves.piece, held=halves.held,
        mates=_mates(mesh, cut, points, halves, intervals), compression=params.compression,
    )  # fmt: skip
    flats: list[FlatPiece] = []
    for piece, place in zip(cut.pieces, halves.place, strict=True):
        if place is None:
            flats.append(_mirrored(mesh, piece, cut.pieces[piece.mirror], flats[piece.mirror]))
        else:
            flats.append(_flat_piece(points, piece, _posed(mesh, piece, _whole(mesh, piece, place, solved.flat))))
    pattern = Pattern(tuple(flats), foam.mid_offset)
    check_overlaps(cut, pattern)
    return pattern


def measured(mesh: ShellMesh, cut: Cut, pattern: Pattern) -> Pattern:
    """The same flat pieces with stretch and areas measured on `mesh`, for pieces that were flattened from another
    dome."""
    points = mesh.offset(pattern.mid_offset)
    flats = [_flat_piece(points, piece, of.flat) for piece, of in zip(cut.pieces, pattern.flats, strict=True)]
    return Pattern(tuple(flats), pattern.mid_offset)


# ---- the left half --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Halves:
    """The left pieces, and the left halves of the centre pieces, as one set of triangles.

    place          : for each piece of the cut, (k,) its vertices' numbers here, -1 on the right; None for a right piece
    shell_vertices : (n,) vertices of the shell
    held           : (n,) bool, inner vertices of a piece on the midline
    """

    place: tuple[Ints | None, ...]
    shell_vertices: Ints
    faces: Ints
    piece: Ints
    held: Bools


def _halves(mesh: ShellMesh, cut: Cut) -> _Halves:
    place: list[Ints | None] = []
    parts: list[tuple[Ints, ...]] = []
    count = 0
    for piece in cut.pieces:
        if piece.side == "R":
            place.append(None)
            continue
        left = _on_left(mesh, piece)
        used = np.zeros((2, len(piece.shell_vertices)), dtype=bool)
        used[0, piece.faces[left]] = used[1, piece.faces[~left]] = True
        own = np.where(used[0], count + np.cumsum(used[0]) - 1, -1)
        count += int(used[0].sum())
        place.append(own)
        triangles = own[piece.faces[left]]
        parts.append((piece.shell_vertices[used[0]], triangles, np.full(len(triangles), len(parts)), used[1][used[0]]))
    return _Halves(tuple(place), *(np.concatenate(part) for part in zip(*parts, strict=True)))


def _on_left(mesh: ShellMesh, piece: Piece) -> Bools:
    """(m,) bool: faces of a piece to be solved; all of a left piece."""
    if piece.side == "L":
        return np.ones(len(piece.faces), dtype=bool)
    return np.asarray(mesh.uv[piece.shell_vertices[piece.faces]][:, :, 1].sum(axis=1) > 0)


def _mates(
    mesh: ShellMesh, cut: Cut, points: Floats, halves: _Halves, intervals: Sequence[Sequence[float]]
) -> Mates | None:
    """The parts of seams on the left half between any two neighbouring marks, of the seam or its mirror image."""
    shares = _shares_with_mirror(mesh, cut, intervals)
    edges, rows, weights = [], [], []
    count = 0
    for seam, breaks in zip(cut.seams, shares, strict=True):
        chains = [_chain(cut, halves, place) for place in seam.sides]
        along = arc_length(points[seam.vertices])
        along /= along[-1]
        whole = np.all([(chain[:-1] >= 0) & (chain[1:] >= 0) for chain in chains], axis=0)
        low, high = np.maximum.outer(breaks[:-1], along[:-1]), np.minimum.outer(breaks[1:], along[1:])
        part = np.where(whole, np.clip(high - low, 0, None) / np.diff(along), 0.0)
        part = part[part.any(axis=1)]
        row, edge = np.nonzero(part)
        for sign, chain in zip((1.0, -1.0), chains, strict=True):
            edges.append(np.stack([chain[edge], chain[edge + 1]], axis=1))
            rows.append(count + row)
            weights.append(sign * part[row, edge])
        count += len(part)
    if not count:
        return None
    row = np.concatenate(rows)
    entries = sparse.coo_array((np.concatenate(weights), (row, np.arange(len(row)))), shape=(count, len(row)))
    return Mates(np.concatenate(edges), entries.tocsr())


def _chain(cut: Cut, halves: _Halves, place: tuple[int, int]) -> Ints:
    """(k,) vertices of the left half along one side, in the seam's direction; -1 where it is on the right."""
    piece, side = place[0], cut.pieces[place[0]].sides[place[1]]
    vertices = side.vertices if side.forward else side.vertices[::-1]
    own = halves.place[piece]
    return np.full(len(vertices), -1) if own is None else own[vertices]


def _shares_with_mirror(mesh: ShellMesh, cut: Cut, intervals: Sequence[Sequence[float]]) -> list[Floats]:
    """For each seam, the shares of its own marks and of its mirror image's, each place once."""
    seam_at = {tuple(seam.vertices.tolist()): index for index, seam in enumerate(cut.seams)}
    shares = []
    for seam, own in zip(cut.seams, intervals, strict=True):
        image = mesh.mirror[seam.vertices]
        twin = seam_at.get(tuple(image.tolist()))
        if twin is not None:
            mirrored = np.asarray(intervals[twin])
        elif (twin := seam_at.get(tuple(image[::-1].tolist()))) is not None:
            mirrored = 1 - np.asarray(intervals[twin])
        else:
            raise GeometryError(f"seam {seam.name} has no mirror image; cut the dome in the same way on both sides")
        both = np.sort(np.concatenate([[0.0, 1.0], own, mirrored]))
        shares.append(both[np.append(True, np.diff(both) > SAME_PLACE)])
    return shares


# ---- whole pieces ----------------------------------------------------------------------------------------------------


def _whole(mesh: ShellMesh, piece: Piece, place: Ints, solved: Floats) -> Complexes:
    """(k,) complex: a piece from its solved left part; the right part is the left one mirrored in the x axis."""
    flat = np.zeros(len(place), dtype=complex)
    left = place >= 0
    flat[left] = solved[place[left], 0] + 1j * solved[place[left], 1]
    if piece.side == "C":
        image = _image(mesh, piece)
        flat[~left] = flat[image[~left]].conj()
    return flat


def _image(mesh: ShellMesh, piece: Piece) -> Ints:
    """(k,) int: mirror image of each vertex of a centre piece, found by its faces, since the two edges of a
    dart are the same vertices of the shell."""
    corner = piece.shell_vertices[piece.faces]
    mirrored = mesh.mirror[corner]
    order, image = np.lexsort(np.sort(corner, axis=1).T), np.lexsort(np.sort(mirrored, axis=1).T)
    if not np.array_equal(np.sort(corner, axis=1)[order], np.sort(mirrored, axis=1)[image]):
        raise GeometryError(
            f"piece {piece.name} is not its own mirror image; cut the dome in the same way on both sides"
        )
    turn = (mirrored[image][:, :, None] == corner[order][:, None, :]).argmax(axis=2)
    result = np.empty(len(piece.shell_vertices), dtype=np.int64)
    result[piece.faces[image]] = np.take_along_axis(piece.faces[order], turn, axis=1)
    return result


def _posed(mesh: ShellMesh, piece: Piece, flat: Complexes) -> Floats:
    """(k, 2) the flat piece turned so that the domain's u, towards the head, increases upwards, its centre of area in
    the origin."""
    xy = np.stack([flat.real, flat.imag], axis=1)
    if piece.side == "C":
        upwards = 1j if np.cov(flat.real, mesh.uv[piece.shell_vertices, 0])[0, 1] > 0 else -1j
    else:
        level = np.column_stack([xy, np.ones(len(xy))])
        slope = np.linalg.lstsq(level, mesh.uv[piece.shell_vertices, 0], rcond=None)[0]
        upwards = 1j * (slope[0] - 1j * slope[1]) / np.hypot(slope[0], slope[1])
    turned = flat * upwards
    xy = np.stack([turned.real, turned.imag], axis=1)
    area = areas(xy, piece.faces)
    middle = (area[:, None] * xy[piece.faces].mean(axis=1)).sum(axis=0) / area.sum()
    return np.asarray(xy - (np.array([0.0, middle[1]]) if piece.side == "C" else middle))


def _mirrored(mesh: ShellMesh, right: Piece, left: Piece, flat: FlatPiece) -> FlatPiece:
    if not np.array_equal(right.shell_vertices, mesh.mirror[left.shell_vertices]):
        raise GeometryError(
            f"piece {right.name} is not the mirror image of {left.name}; cut the dome in the same way on both sides"
        )
    return FlatPiece(flat.flat * np.array([-1.0, 1.0]), flat.stretch, flat.area_flat, flat.area_surface)


def _flat_piece(points: Floats, piece: Piece, flat: Floats) -> FlatPiece:
    curved = points[piece.shell_vertices]
    return FlatPiece(
        flat=flat,
        stretch=stretches(curved, piece.faces, flat),
        area_flat=float(areas(flat, piece.faces).sum()),
        area_surface=float(areas(curved, piece.faces).sum()),
    )


class OverlapError(GeometryError):
    """A piece that overlaps itself when all are flattened together; cell : one of its cells."""

    def __init__(self, text: str, cell: int) -> None:
        super().__init__(text)
        self.cell = cell

    def __reduce__(self) -> tuple[Any, ...]:
        """Keeps the cell when the error was raised in another process."""
        return type(self), (str(self), self.cell)


def check_overlaps(cut: Cut, pattern: Pattern) -> None:
    for piece, flat in zip(cut.pieces, pattern.flats, strict=True):
        outline = shapely.Polygon(flat.flat[piece.outline])
        if not outline.is_valid:
            raise OverlapError(f"piece {piece.name} overlaps itself when laid flat", piece.cells[0])
