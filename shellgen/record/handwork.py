"""What a maker needs while building: lengths by tape, radii of the dome, where to heat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.geom.curves import length
from shellgen.pattern.joins import joins
from shellgen.pipeline.shell import Shell

STEPS = 721
"""Points along a section: its length is then exact to 0.01 mm on domes of a metre."""
ALIKE = 1e-5
"""Ratios that differ by less count as equal: mirror images differ by rounding, and the left one is named (chosen: the
last digit that the record shows)."""


@dataclass(frozen=True, slots=True)
class JoinEntry:
    """One seam to glue, in the order of gluing. marks : in the order of gluing"""

    number: int
    seam: str
    piece: str
    to: str
    dart: bool
    marks: tuple[int, ...]
    length_mm: float


@dataclass(frozen=True, slots=True)
class TapeEntry:
    """mm on the outer face, without spikes and edging.

    along, across : over the crown, from rim to rim; built_along the same on the virtual build
    built_size : length, width and height of the formed virtual build
    round_along, round_across : radius of the circle through rim, crown and rim
    """

    along_mm: float
    across_mm: float
    built_along_mm: float
    built_size_mm: tuple[float, ...]
    round_along_mm: int
    round_across_mm: int


@dataclass(frozen=True, slots=True)
class HeatEntry:
    """How much one piece is stretched (stretch) and compressed (press) at most, as ratios minus 1, and on which
    plates."""

    piece: str
    stretch: float
    stretch_plate: str
    press: float
    press_plate: str


def joined(shell: Shell) -> tuple[JoinEntry, ...]:
    return tuple(
        JoinEntry(
            number=join.number,
            seam=shell.foam.cut.seams[join.seam].name,
            piece=join.piece,
            to=join.to,
            dart=join.dart,
            marks=tuple(join.marks),
            length_mm=round(shell.foam.cut.seams[join.seam].design_length, 1),
        )
        for join in joins(shell.foam.cut, shell.ground.mesh, shell.foam.marks)
    )


def tape(shell: Shell) -> TapeEntry:
    surface, mesh = shell.ground.surface, shell.ground.mesh
    ends = np.linspace(-1.0, 1.0, STEPS)
    still = np.zeros(STEPS)
    along, across = (surface.points(np.column_stack(uv)) for uv in ((ends, still), (still, ends)))
    outside = shell.proof.formed.points - shell.foam.pattern.mid_offset * mesh.normals
    return TapeEntry(
        along_mm=round(length(along), 1),
        across_mm=round(length(across), 1),
        built_along_mm=round(length(outside[mesh.midline]), 1),
        built_size_mm=tuple(round(float(side), 1) for side in np.ptp(outside, axis=0)),
        round_along_mm=round(_radius(along[[0, STEPS // 2, -1]])),
        round_across_mm=round(_radius(across[[0, STEPS // 2, -1]])),
    )


def _radius(three: Floats) -> float:
    """Radius of the circle through three points: product of the sides over four times the area; infinite on a line."""
    a, b, c = (np.linalg.norm(three[i] - three[j]) for i, j in ((0, 1), (1, 2), (2, 0)))
    area = np.linalg.norm(np.cross(three[1] - three[0], three[2] - three[0])) / 2
    return float(a * b * c / (4 * area)) if area > 0 else float("inf")


def heat(shell: Shell, piece: int) -> HeatEntry:
    """Where forming stretches and compresses a piece most."""
    layout, faces = shell.ground.layout, shell.foam.cut.pieces[piece].shell_faces
    ratio = shell.proof.heat[faces]

    def least(values: Floats) -> str:
        face = faces[values <= values.min() + ALIKE].min()  # the left half's come first
        return layout.plates[int(layout.cell_plate[shell.ground.mesh.face_cell[face]])].name

    return HeatEntry(
        piece=shell.foam.cut.pieces[piece].name,
        stretch=round(float(ratio[:, 1].max() - 1), 5),
        stretch_plate=least(-ratio[:, 1]),
        press=round(float(1 - ratio[:, 0].min()), 5),
        press_plate=least(ratio[:, 0]),
    )
