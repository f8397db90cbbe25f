"""What hands at the bench need to know of a shell: what the tape must read, how round it is, where it is heated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shellgen.geom.curves import length
from shellgen.model import Proof, ShellMesh, Surface
from shellgen.pattern.joins import joins
from shellgen.pipeline.shell import Shell

STEPS = 721
"""Points along a section: its length is then right to 0.01 mm on domes of a metre."""
ALIKE = 1e-5
"""Ratios that differ by less are the same: mirror images differ by rounding, and the left one is named. Chosen: the
last digit the record shows."""


@dataclass(frozen=True, slots=True, eq=False)
class Tape:
    """mm on the outer face, without spikes and edging.

    along, across : over the crown, from rim to rim; `built_along` the same on the virtual build
    built    : (3,) length, width and height of the virtual build once formed
    round_along, round_across : radius of the circle through rim, crown and rim
    """

    along: float
    across: float
    built_along: float
    built: NDArray
    round_along: float
    round_across: float


def tape(surface: Surface, mesh: ShellMesh, proof: Proof, *, mid_offset: float) -> Tape:
    ends = np.linspace(-1.0, 1.0, STEPS)
    still = np.zeros(STEPS)
    sections = [surface.points(np.column_stack(uv)) for uv in ((ends, still), (still, ends))]
    outside = proof.formed.points - mid_offset * mesh.normals
    return Tape(
        length(sections[0]),
        length(sections[1]),
        length(outside[mesh.midline]),
        np.ptp(outside, axis=0),
        *(_radius(section[[0, STEPS // 2, -1]]) for section in sections),
    )


def _radius(three: NDArray) -> float:
    """Of the circle through three points: product of the sides over four times the area; endless on a line."""
    a, b, c = (np.linalg.norm(three[i] - three[j]) for i, j in ((0, 1), (1, 2), (2, 0)))
    area = np.linalg.norm(np.cross(three[1] - three[0], three[2] - three[0])) / 2
    return float(a * b * c / (4 * area)) if area > 0 else float("inf")


@dataclass(frozen=True, slots=True)
class Heat:
    """Of one piece: the most it is stretched and pressed together, as ratios less 1, and on which plates."""

    stretch: float
    stretch_plate: str
    press: float
    press_plate: str


def heat(shell: Shell, piece: int) -> Heat:
    """Where forming asks most of a piece."""
    faces = shell.cut.pieces[piece].shell_faces
    ratio = shell.proof.heat[faces]

    def least(values: NDArray) -> str:
        face = faces[values <= values.min() + ALIKE].min()  # the left half's come first
        return shell.layout.plates[shell.layout.cell_plate[shell.mesh.face_cell[face]]].name

    return Heat(float(ratio[:, 1].max() - 1), least(-ratio[:, 1]), float(1 - ratio[:, 0].min()), least(ratio[:, 0]))


def record(shell: Shell) -> dict[str, Any]:
    """The entries "joins", "tape" and "heat" of the record."""
    return {
        "joins": _joins(shell),
        "tape": _tape(shell),
        "heat": [_heat(shell, k) for k in range(len(shell.cut.pieces))],
    }


def _joins(shell: Shell) -> list[dict[str, Any]]:
    return [
        {
            "number": join.number,
            "seam": shell.cut.seams[join.seam].name,
            "piece": join.piece,
            "to": join.to,
            "dart": join.dart,
            "marks": list(join.marks),
            "length_mm": round(shell.cut.seams[join.seam].design_length, 1),
        }
        for join in joins(shell.cut, shell.mesh, shell.marks)
    ]


def _tape(shell: Shell) -> dict[str, Any]:
    of = tape(shell.surface, shell.mesh, shell.proof, mid_offset=shell.pattern.mid_offset)
    return {
        "along_mm": round(of.along, 1),
        "across_mm": round(of.across, 1),
        "built_along_mm": round(of.built_along, 1),
        "built_size_mm": [round(float(side), 1) for side in of.built],
        "round_along_mm": round(of.round_along),
        "round_across_mm": round(of.round_across),
    }


def _heat(shell: Shell, piece: int) -> dict[str, Any]:
    of = heat(shell, piece)
    return {
        "piece": shell.cut.pieces[piece].name,
        "stretch": round(of.stretch, 5),
        "stretch_plate": of.stretch_plate,
        "press": round(of.press, 5),
        "press_plate": of.press_plate,
    }
