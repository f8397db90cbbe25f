"""The angle at which the edges of each seam are cut, so that the cut faces meet flush when glued."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.model import Cut, FlatPiece, Pattern, Piece, Seam, ShellMesh


@dataclass(frozen=True, slots=True, eq=False)
class Bevel:
    """Half the angle between neighbours as glued, radians: how far each edge leans from square.

    Positive for a ridge: the inner face is cut back. `mean` is by length along the seam, `low` and `high` its range.
    """

    mean: float
    low: float
    high: float


SQUARE = Bevel(0.0, 0.0, 0.0)


def build(mesh: ShellMesh, cut: Cut, pattern: Pattern, *, formed: bool | Sequence[bool]) -> tuple[Bevel, ...]:
    """The bevel of each seam.

    formed : whether the pieces are heat-formed to the dome's curve, for all or for each; a piece that is not formed
             stays flat

    A formed edge has the direction of the dome's normal, so between two formed pieces of a smooth dome it is square. A
    flat piece is fitted to its place in the dome by least squares. The two edges of a dart belong to one sheet, which
    bends to close it: they stay square.
    """
    points = mesh.offset(pattern.mid_offset)
    shaped = np.broadcast_to(formed, len(cut.pieces))
    planes = [_plane_normal(points, piece, flat) for piece, flat in zip(cut.pieces, pattern.flats, strict=True)]
    return tuple(SQUARE if seam.dart else _bevel(mesh, points, cut, seam, shaped, planes) for seam in cut.seams)


def _plane_normal(points: Floats, piece: Piece, flat: FlatPiece) -> Floats:
    """(3,) outward normal of a flat piece moved rigidly onto its curved place, least squares over the vertices.

    References: Kabsch, A Solution for the Best Rotation to Relate Two Sets of Vectors, Acta Cryst. A32, 1976.
    """
    curved = points[piece.shell_vertices]
    along = (curved - curved.mean(axis=0)).T @ (flat.flat - flat.flat.mean(axis=0))
    left, _, right = np.linalg.svd(along, full_matrices=False)
    across, up = (left @ right).T
    return np.cross(across, up)


def _bevel(mesh: ShellMesh, points: Floats, cut: Cut, seam: Seam, formed: Floats, planes: Sequence[Floats]) -> Bevel:
    step = np.diff(points[seam.vertices], axis=0)
    length = np.linalg.norm(step, axis=1)
    dome = mesh.normals[seam.vertices[:-1]] + mesh.normals[seam.vertices[1:]]
    normal_of = {}
    for piece, side in seam.sides:
        on_left = cut.pieces[piece].sides[side].forward  # outlines run counter-clockwise
        normal_of[on_left] = dome if formed[piece] else np.broadcast_to(planes[piece], dome.shape)
    half = 0.5 * _turn(step / length[:, None], normal_of[True], normal_of[False])
    return Bevel(float(half @ length / length.sum()), float(half.min()), float(half.max()))


def _turn(axis: Floats, start: Floats, end: Floats) -> Floats:
    """(k,) signed angle about each `axis` (k, 3), unit, from `start` to `end`, both seen along the axis."""
    start, end = (v - (v * axis).sum(axis=1, keepdims=True) * axis for v in (start, end))
    return np.asarray(np.arctan2((axis * np.cross(start, end)).sum(axis=1), (start * end).sum(axis=1)))
