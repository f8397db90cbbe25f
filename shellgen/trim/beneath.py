"""What lies beneath the spikes: plate lines whose grooves end at the foot, and glued seams."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shellgen.geom import loops
from shellgen.geom.covering import covered
from shellgen.model import Finding, Layout, ShellMesh, Spike, Surface
from shellgen.model.said import count, several

PLATE_LINE, SEAM = "plate line", "seam"
LEAST = 1.0
"""mm of line under a foot that counts (chosen: less is a corner that only touches it)."""


@dataclass(frozen=True, slots=True, eq=False)
class Beneath:
    """of : for each spike that stands over something, by its name, what that is: plate line, seam or both"""

    of: dict[str, tuple[str, ...]]
    findings: tuple[Finding, ...]


def build(
    surface: Surface, layout: Layout, mesh: ShellMesh, spikes: tuple[Spike, ...], cut_lines: Sequence[int], *,
    ring_thickness: float,
) -> Beneath:  # fmt: skip
    """What each spike and its ring stand over, and what the hands do about it. cut_lines : of the layout"""
    cut = set(cut_lines)
    kinds = {
        k: SEAM if k in cut else PLATE_LINE for k, line in enumerate(layout.lines) if k in cut or line.kind == "plate"
    }
    lines = [mesh.points[mesh.line_vertices[k]] for k in kinds]
    seams = np.array([kind == SEAM for kind in kinds.values()], bool)
    of: dict[str, tuple[str, ...]] = {}
    for spike in spikes:
        ups = surface.normals(spike.seat_uv)
        foot = loops.offset(spike.base_curve, ups, ring_thickness if spike.ring else 0.0)
        under = covered(lines, foot, ups.mean(axis=0))
        over = tuple(kind for kind, own in ((PLATE_LINE, ~seams), (SEAM, seams)) if under[own].sum() > LEAST)
        if over:
            of[spike.name] = over
    return Beneath(of, tuple(_said(of)))


def _said(of: dict[str, tuple[str, ...]]) -> list[Finding]:
    found = []
    if names := [name for name, over in of.items() if SEAM in over]:
        text = (
            f"{_they(names, SEAM)}. Glue the seam first, sand it level under the foot, and set the spike when the "
            "seam is dry: its outline is on the pieces at both edges."
        )
        found.append(Finding("caution", "spikes", text))
    if names := [name for name, over in of.items() if PLATE_LINE in over]:
        text = f"{_they(names, PLATE_LINE)}. End its groove at the outline of the foot: the glue needs whole foam."
        found.append(Finding("caution", "spikes", text))
    return found


def _they(names: list[str], what: str) -> str:
    """Such as "2 spikes stand over a seam (a and b)"."""
    stand = "stands" if len(names) == 1 else "stand"
    return f"{count(len(names), 'spike')} {stand} over a {what} ({several(names)})"
