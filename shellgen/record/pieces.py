"""Plates, pieces and seams in the record."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.geom.triangles import areas
from shellgen.model import Piece
from shellgen.pipeline.shell import Shell
from shellgen.record.rounding import rounded


@dataclass(frozen=True, slots=True)
class PlateEntry:
    """One plate of the layout. side : "L", "R" or "C"; sides : how many it has"""

    id: str
    kind: str
    side: str
    sides: int
    area_mm2: float
    neighbours: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PieceEntry:
    """One piece of foam. mirror : the piece that is its mirror image, possibly itself; stretches as ratios minus 1"""

    id: str
    mirror: str
    plates: tuple[str, ...]
    area_flat_mm2: float
    area_surface_mm2: float
    stretch_max: float
    stretch_rms: float
    template: str


@dataclass(frozen=True, slots=True)
class SeamEntry:
    """One seam. length_mm : on the templates of both sides; bevel_deg : half the angle between the neighbours"""

    id: str
    pieces: tuple[str, ...]
    dart: bool
    length_mm: tuple[float, ...]
    mark_difference_max_mm: float
    bevel_deg: float
    marks: tuple[int, ...]


def plates(shell: Shell) -> tuple[PlateEntry, ...]:
    mesh, layout = shell.ground.mesh, shell.ground.layout
    cell_area = np.bincount(mesh.face_cell, areas(mesh.points, mesh.faces), minlength=len(layout.cells))
    return tuple(
        PlateEntry(
            id=plate.name,
            kind=plate.kind,
            side=plate.side,
            sides=int(plate.sides),
            area_mm2=rounded(cell_area[list(plate.cells)].sum()),
            neighbours=tuple(layout.plates[k].name for k in plate.neighbours),
        )
        for plate in layout.plates
    )


def pieces(shell: Shell) -> tuple[PieceEntry, ...]:
    return tuple(_piece(shell, index) for index in range(len(shell.foam.cut.pieces)))


def _piece(shell: Shell, index: int) -> PieceEntry:
    piece, flat = shell.foam.cut.pieces[index], shell.foam.pattern.flats[index]
    return PieceEntry(
        id=piece.name,
        mirror=shell.foam.cut.pieces[piece.mirror].name,
        plates=_plates_of(shell, piece),
        area_flat_mm2=rounded(flat.area_flat),
        area_surface_mm2=rounded(flat.area_surface),
        stretch_max=rounded(max(flat.stretch[:, 1].max() - 1, 1 - flat.stretch[:, 0].min()), 6),
        stretch_rms=rounded(_stretch_rms(shell, index), 6),
        template=f"templates/{piece.name}.svg",
    )


def _plates_of(shell: Shell, piece: Piece) -> tuple[str, ...]:
    """Names of the plates that a piece holds, whole or in part, in the layout's order."""
    found = {shell.ground.layout.cell_plate[cell] for cell in piece.cells}
    return tuple(shell.ground.layout.plates[k].name for k in sorted(found))


def _stretch_rms(shell: Shell, index: int) -> float:
    """Root mean square of both principal stretches minus one, weighted by area."""
    piece, flat = shell.foam.cut.pieces[index], shell.foam.pattern.flats[index]
    mid = shell.ground.mesh.offset(shell.foam.pattern.mid_offset)
    weight = areas(mid[piece.shell_vertices], piece.faces)
    return float(np.sqrt(np.average(((flat.stretch - 1) ** 2).mean(axis=1), weights=weight)))


def seams(shell: Shell) -> tuple[SeamEntry, ...]:
    return tuple(_seam(shell, index) for index in range(len(shell.foam.cut.seams)))


def _seam(shell: Shell, index: int) -> SeamEntry:
    seam, gaps = shell.foam.cut.seams[index], shell.foam.intervals[index]
    return SeamEntry(
        id=seam.name,
        pieces=tuple(shell.foam.cut.pieces[piece].name for piece, _ in seam.sides),
        dart=seam.dart,
        length_mm=tuple(rounded(total) for total in gaps.sum(axis=1)),
        mark_difference_max_mm=rounded(np.abs(gaps[0] - gaps[1]).max(), 5),
        bevel_deg=rounded(np.degrees(shell.foam.bevels[index]), 2),
        marks=tuple(mark.number for mark in shell.foam.marks if mark.seam == index),
    )
