"""What forming with heat does to each plate, in the order of the work."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.core.memory import remembered
from shellgen.geom.curves import length
from shellgen.geom.triangles import areas, locate
from shellgen.model import Cut, FlatPiece, Pattern, Piece, ShellMesh
from shellgen.pipeline.shell import Shell
from shellgen.record.rounding import rounded

ALIKE = 4
"""Digits by which growths differ: mirror images differ by rounding, and the left one comes first (chosen)."""
INSIDE = 0.9
"""Length of the cross over the width of the largest circle in the plate (chosen: it ends clear of the grooves)."""
STEP = 10.0
"""mm to which the cross is rounded down, if it is longer (chosen: read without counting)."""
NEAR = 0.5
"""mm by which the circle may be too small (chosen: far less than the cross is rounded by)."""
POINTS = 41
"""Points at which a line of the cross is followed (chosen: closer than the triangles of any demo)."""


@dataclass(frozen=True, slots=True)
class FormingEntry:
    """How a plate must change from flat to formed. The plate that grows most is formed first.

    growth       : by how much its lengths grow on average, as a ratio minus 1; below 0 it shrinks
    middle, edge : the same for the half of its area that is nearest to its middle, and for the other half
    cross_mm     : length of the two lines of a cross that fits the plate, drawn on the outside of the flat foam
    cross_along, cross_across : by how much its line towards the head grows, and the other one: the middle of the
                   foam stretches and the outside also bends
    """

    plate: str
    growth: float
    middle: float
    edge: float
    cross_mm: float
    cross_along: float
    cross_across: float


def forming(shell: Shell) -> tuple[FormingEntry, ...]:
    mesh, layout, ratio = shell.ground.mesh, shell.ground.layout, shell.proof.heat
    points = mesh.offset(shell.foam.pattern.mid_offset)
    built, middles = areas(points, mesh.faces), points[mesh.faces].mean(axis=1)
    flat = built / ratio.prod(axis=1)
    of = np.array(layout.cell_plate)[mesh.face_cell]
    crosses, found = _crosses(mesh, shell.foam.cut, shell.foam.pattern, of), []
    for index, plate in enumerate(layout.plates):
        mine = np.flatnonzero(of == index)
        middle = np.average(middles[mine], axis=0, weights=built[mine])
        near = mine[np.argsort(np.linalg.norm(middles[mine] - middle, axis=1), kind="stable")]
        half = int(np.searchsorted(np.cumsum(built[near]), built[near].sum() / 2)) + 1
        grown, inner, outer = (_growth(built[k], flat[k]) for k in (near, near[:half], near[half:]))
        found.append(FormingEntry(plate.name, grown, inner, outer, *crosses[index]))
    return tuple(sorted(found, key=lambda entry: -round(entry.growth, ALIKE)))


def _growth(built: Floats, flat: Floats) -> float:
    """References: the root of a ratio of areas is the geometric mean of the two principal stretches."""
    return rounded(np.sqrt(built.sum() / flat.sum()) - 1, 5) if len(flat) else 0.0


@remembered
def _crosses(mesh: ShellMesh, cut: Cut, pattern: Pattern, plate: Ints) -> tuple[tuple[float, float, float], ...]:
    """The cross of each plate. plate : (m,) of every triangle"""
    return tuple(_cross(mesh, cut, pattern, plate == index) for index in range(plate.max() + 1))


def _cross(mesh: ShellMesh, cut: Cut, pattern: Pattern, mine: Bools) -> tuple[float, float, float]:
    """The cross on the largest part of a plate that is on one piece. mine : (m,) the triangles of the plate"""
    parts = [
        (piece, of, np.flatnonzero(mine[piece.shell_faces]))
        for piece, of in zip(cut.pieces, pattern.flats, strict=True)
    ]
    piece, of, faces = max(parts, key=lambda part: len(part[2]))
    within = shapely.coverage_union_all(shapely.polygons(of.flat[piece.faces[faces]]))
    middle, rim = shapely.get_coordinates(shapely.maximum_inscribed_circle(within, tolerance=NEAR))
    long = 2 * INSIDE * float(np.linalg.norm(rim - middle))
    long = long // STEP * STEP if long > STEP else rounded(long, 1)
    ahead = _ahead(mesh, piece, of, faces)
    arms = long / 2 * np.array([ahead, [-ahead[1], ahead[0]]])
    along, across = _grows(mesh, piece, of, faces, middle, arms)
    return long, along, across


def _ahead(mesh: ShellMesh, piece: Piece, of: FlatPiece, faces: Ints) -> Floats:
    """(2,) the direction on the flat piece in which the head is nearest."""
    own = np.unique(piece.faces[faces])
    flat, x = of.flat[own], mesh.points[piece.shell_vertices[own], 0]
    slope: Floats = np.linalg.lstsq(flat - flat.mean(axis=0), x - x.mean(), rcond=None)[0]
    return slope / max(float(np.linalg.norm(slope)), 1e-12)


def _grows(
    mesh: ShellMesh, piece: Piece, of: FlatPiece, faces: Ints, middle: Floats, arms: Floats
) -> tuple[float, ...]:
    """By how much each line through `middle`, as far as an arm (2,) both ways, grows on the outer face."""
    lines = middle + np.linspace(-1, 1, POINTS)[:, None] * arms[:, None]
    own, local = np.unique(piece.faces[faces], return_inverse=True)
    owner, weights = locate(of.flat[own], local.reshape(-1, 3), lines.reshape(-1, 2))
    corners = mesh.points[piece.shell_vertices[piece.faces[faces[owner]]]]
    formed = np.einsum("nk,nkd->nd", weights, corners).reshape(*lines.shape[:2], 3)
    return tuple(rounded(length(new) / length(old) - 1, 5) for new, old in zip(formed, lines, strict=True))
