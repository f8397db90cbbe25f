"""What forming with heat does to each plate, in the order of the work."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.geom.triangles import areas
from shellgen.pipeline.shell import Shell
from shellgen.record.rounding import rounded

ALIKE = 4
"""Digits by which growths differ: mirror images differ by rounding, and the left one comes first (chosen)."""


@dataclass(frozen=True, slots=True)
class FormingEntry:
    """How a plate must change from flat to formed. The plate that grows most is formed first.

    growth       : by how much its lengths grow on average, as a ratio minus 1; below 0 it shrinks
    middle, edge : the same for the half of its area that is nearest to its middle, and for the other half
    """

    plate: str
    growth: float
    middle: float
    edge: float


def forming(shell: Shell) -> tuple[FormingEntry, ...]:
    mesh, layout, ratio = shell.ground.mesh, shell.ground.layout, shell.proof.heat
    points = mesh.offset(shell.foam.pattern.mid_offset)
    built, middles = areas(points, mesh.faces), points[mesh.faces].mean(axis=1)
    flat = built / ratio.prod(axis=1)
    of = np.array(layout.cell_plate)[mesh.face_cell]
    found = []
    for index, plate in enumerate(layout.plates):
        mine = np.flatnonzero(of == index)
        middle = np.average(middles[mine], axis=0, weights=built[mine])
        mine = mine[np.argsort(np.linalg.norm(middles[mine] - middle, axis=1), kind="stable")]
        half = int(np.searchsorted(np.cumsum(built[mine]), built[mine].sum() / 2)) + 1
        found.append(FormingEntry(plate.name, *(_growth(built[k], flat[k]) for k in (mine, mine[:half], mine[half:]))))
    return tuple(sorted(found, key=lambda entry: -round(entry.growth, ALIKE)))


def _growth(built: Floats, flat: Floats) -> float:
    """References: the root of a ratio of areas is the geometric mean of the two principal stretches."""
    return rounded(np.sqrt(built.sum() / flat.sum()) - 1, 5) if len(flat) else 0.0
