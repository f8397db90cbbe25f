"""Flattens triangulated pieces so that the largest stretch is as small as possible. No piece is ever folded over.

All pieces at once: a start without folds (each piece projected along its mean normal, or if that folds, Tutte's drawing
in a circle); a few rounds of the as-rigid-as-possible map; Newton steps down the symmetric Dirichlet energy, which also
close mates; then the least largest stretch by `minimax`, which needs this start: from a rougher one it may end in a
worse optimum.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy import sparse
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import spsolve

from shellgen.core.arrays import Bools, Complexes, Floats, Ints
from shellgen.errors import GeometryError
from shellgen.geom.arap import rigid_rounds
from shellgen.geom.halfedges import twins
from shellgen.geom.hessian import Hessian
from shellgen.geom.mates import Mates
from shellgen.geom.minimax import minimise
from shellgen.geom.newton import relax
from shellgen.geom.sheets import Sheets, sheets
from shellgen.geom.triangles import boundary_loops, face_normals


class Shape(NamedTuple):
    """A piece, or of a symmetric one the half on one side of the plane y = 0.

    points : (k, 3) mm; faces : (m, 3), counter-clockwise seen from outside
    held   : (k,) bool of a half, where it continues as its mirror image; None for a whole piece
    """

    points: Floats
    faces: Ints
    held: Bools | None = None

    def whole(self, flat: Floats) -> tuple[Floats, Ints]:
        """(n, 2) points and (p, 3) faces of the whole piece, from the flat (k, 2) of what is given."""
        if self.held is None:
            return flat, self.faces
        image = np.where(self.held, np.arange(len(flat)), len(flat) + np.cumsum(~self.held) - 1)
        both = np.concatenate([flat, flat[~self.held] * (1, -1)])
        return both, np.concatenate([self.faces, image[self.faces][:, ::-1]])


@dataclass(frozen=True, slots=True, eq=False)
class Flattening:
    """Flattened pieces.

    flat   : (n, 2) mm, in the orientation of the start; a half piece has its held vertices on y = 0
    levels : (pieces,) largest log stretch of each piece, compression weighted by `compression`
    gap    : (pieces,) how far, as a share, a level may lie above the least possible
    steps  : Newton steps of the last stage
    """

    flat: Floats
    levels: Floats
    gap: Floats
    steps: int


def flatten(
    points: Floats,
    faces: Ints,
    piece: Ints | None = None,
    *,
    held: Bools | None = None,
    mates: Mates | None = None,
    compression: float = 1.0,
    gap: float = 0.02,
) -> Flattening:
    """Flattens all pieces together.

    points : (n, 3) mm; faces : (m, 3) int, counter-clockwise seen from outside, so they are in the plane
    piece  : (m,) int from 0, piece of each triangle (default: one piece); pieces share no vertex
    held   : (n,) bool, vertices to lie on the line y = 0: the middle of a symmetric piece of which half is given,
             those on it in the plane x, z
    mates  : parts of the outline whose flat lengths must be equal
    compression : log compression that counts as much as a unit of log stretch
    gap    : how far above the least possible the largest stretch may be, as a share

    Raises GeometryError for a piece that is not a disc, and for mates that cannot be made equal.
    """
    pieces = sheets(points, faces, piece, held=held, mates=mates)
    check_discs(pieces)
    matrix = Hessian(pieces)
    flat = relax(matrix, _rounded(pieces, start(pieces), matrix.place[: len(points)]))
    best = minimise(matrix, flat, compression=compression, gap=gap)
    return Flattening(np.stack([best.flat.real, best.flat.imag], axis=1), best.levels, best.gap, best.steps)


def flatten_each(
    shapes: Sequence[Shape], *, compression: float = 1.0, gap: float = 0.02
) -> tuple[tuple[float, Floats], ...]:
    """Largest log stretch and (k, 2) flat points of pieces that are flattened independently.

    One call for many pieces takes less time than a call for each.
    """
    if not shapes:
        return ()
    first = np.cumsum([0, *(len(shape.points) for shape in shapes)])
    faces = np.concatenate([shape.faces + shift for shape, shift in zip(shapes, first[:-1], strict=True)])
    owner = np.repeat(np.arange(len(shapes)), [len(shape.faces) for shape in shapes])
    points = np.concatenate([shape.points for shape in shapes])
    held = np.concatenate([np.zeros(len(of.points), bool) if of.held is None else of.held for of in shapes])
    done = flatten(points, faces, owner, held=held, compression=compression, gap=gap)
    return tuple(
        (float(level), part) for level, part in zip(done.levels, np.split(done.flat, first[1:-1]), strict=True)
    )


def check_discs(pieces: Sheets) -> None:
    """Raises GeometryError if a piece is not in one part with one outline that does not touch itself."""
    faces, n = pieces.faces, len(pieces.points)
    twin = twins(faces)
    outline = faces.ravel()[twin < 0]
    edges = (
        3 * np.bincount(pieces.piece) + np.bincount(pieces.piece[np.flatnonzero(twin < 0) // 3], minlength=pieces.count)
    ) // 2
    euler = np.bincount(pieces.vertex_piece, minlength=pieces.count) - edges + np.bincount(pieces.piece)
    links = sparse.coo_array(
        (np.ones(3 * len(faces)), (faces.ravel(), np.roll(faces, 1, axis=1).ravel())), shape=(n, n)
    )
    if connected_components(links, directed=False)[0] != pieces.count:
        raise GeometryError("a piece falls into several parts (or has points without triangles)")
    for p in np.flatnonzero(euler != 1)[:1]:
        raise GeometryError(f"piece {p} has {2 - euler[p]} outlines, but a flat piece may have only one; cut it open")
    if len(np.unique(outline)) != len(outline):
        raise GeometryError("the outline of a piece passes twice through one point; join or divide the piece there")


def start(pieces: Sheets) -> Complexes:
    """(n,) complex, mm: a first flat state of the right size without folds."""
    flat = _projected(pieces)
    _, _, size, shear = pieces.radii(flat)
    for p in np.flatnonzero(pieces.largest(shear - size) >= 0):
        drawn, inside = _tutte_drawing(pieces, pieces.faces[pieces.piece == p])
        flat[inside] = drawn
    _, _, size, shear = pieces.radii(flat)
    if (shear >= size).any():
        raise GeometryError("no start without folds was found; the mesh may be too thin somewhere")
    scale = pieces.total(pieces.share * (size**2 - shear**2)) ** -0.5
    return flat * scale[pieces.vertex_piece]


def _rounded(pieces: Sheets, flat: Complexes, order: Ints) -> Complexes:
    """(n,) complex: the pieces after some rigid rounds; a piece that folds in them stays as it was."""
    rounded = rigid_rounds(pieces, flat, order)
    _, _, size, shear = pieces.radii(rounded)
    folded = pieces.largest(shear - size) >= 0
    return np.where(folded[pieces.vertex_piece], flat, rounded)


def _projected(pieces: Sheets) -> Complexes:
    """Each piece projected along its mean normal, a half piece along the mean normal of the whole."""
    normal = face_normals(pieces.points, pieces.faces) * pieces.rest.areas[:, None]
    normal = np.stack([pieces.total(part) for part in normal.T], axis=1)
    halved = np.bincount(pieces.vertex_piece, pieces.held, minlength=pieces.count) > 0
    normal[halved, 1] = 0.0
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    side = np.eye(3)[np.where(halved, 1, np.abs(normal).argmin(axis=1))]
    across = np.cross(side, normal)
    across /= np.linalg.norm(across, axis=1, keepdims=True)
    up = np.cross(normal, across)
    own = pieces.vertex_piece
    flat: Complexes = (pieces.points * across[own]).sum(axis=1) + 1j * (pieces.points * up[own]).sum(axis=1)
    return flat


def _tutte_drawing(pieces: Sheets, faces: Ints) -> tuple[Complexes, Ints]:
    """Tutte's drawing of one piece in the unit circle, held vertices on the chord y = 0; (k,) complex, (k,) vertices.

    References: Tutte, How to Draw a Graph, Proc. London Math. Soc. 13, 1963; Floater, Math. Comp. 72, 2003.
    """
    inside, own = np.unique(faces, return_inverse=True)
    own = own.reshape(-1, 3)
    (loop,) = boundary_loops(own)
    held = pieces.held[inside[loop]]
    if held.any():  # the chord first, then the arc from its end back to its start
        loop = np.roll(loop, -int(np.flatnonzero(held & ~np.roll(held, 1))[0]))
    step = np.linalg.norm(np.diff(pieces.points[inside[np.append(loop, loop[0])]], axis=0), axis=1)
    flat = np.zeros(len(inside), dtype=complex)
    chord = int(held.sum())
    if chord:
        along = np.append(0, np.cumsum(step[: chord - 1]))
        flat[loop[:chord]] = 2 * along / along[-1] - 1
        arc = np.cumsum(step[chord - 1 :])
        flat[loop[chord:]] = np.exp(1j * np.pi * arc[:-1] / arc[-1])
    else:
        flat[loop] = np.exp(2j * np.pi * np.cumsum(step) / step.sum())
    links = sparse.coo_array(
        (np.ones(own.size), (own.ravel(), np.roll(own, 1, axis=1).ravel())), shape=(len(inside),) * 2
    )
    links = ((links + links.T).tocsr() > 0).astype(float)
    free = np.setdiff1d(np.arange(len(inside)), loop)
    if len(free):
        stiff = sparse.diags_array(np.asarray(links.sum(axis=1)).ravel()) - links
        pull = -(stiff[free][:, loop] @ flat[loop])
        solved = spsolve(stiff[free][:, free].tocsc(), np.column_stack([pull.real, pull.imag]))
        flat[free] = solved[:, 0] + 1j * solved[:, 1]
    return flat, inside
