"""The virtual build: welds the flat pieces by arc length, finds the equilibrium of the foam and measures how far the
shell deviates from the dome.

The only input from the dome is the curve of the rim, along which the edging holds the pieces. As glued, the foam is
elastic and flat at rest. In forming, the maker follows the heat map in steps that can be judged by eye and within the
limits of the foam, and the foam keeps most of the curvature in which it cools.
"""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.geom.curves import length
from shellgen.geom.membrane import lay_flat
from shellgen.geom.unfolding import UnfoldingMotion, unfolding_motion
from shellgen.model import Built, Cut, Pattern, Proof, ShellMesh
from shellgen.pattern.proof import findings, rest
from shellgen.pattern.proof.params import Params
from shellgen.pattern.proof.rest import glue

__all__ = ["Params", "build", "glue", "judge", "motions"]

SPREAD = 1.5
"""How much wider than the shell the flat pieces are spread on the table. Chosen: separates the pieces of the demos."""


def build(
    mesh: ShellMesh,
    cut: Cut,
    pattern: Pattern,
    params: Params,
    *,
    thickness: float,
    limits: tuple[float, float] = (0.03, 0.03),
    start: Floats | None = None,
) -> Proof:
    """Builds the shell from its flat pieces and measures it.

    thickness : of the foam, mm
    start     : (n, 3) mm, the equilibrium of an earlier `glue`; a bump over the rim if None
    limits    : the most by which forming may stretch and compress the foam

    Raises GeometryError if the pieces do not close into one sheet.
    """
    of = mesh, cut, pattern, params
    glued = rest.glue(*of, thickness=thickness, start=start)
    formed = rest.form(*of, glued, thickness=thickness, limits=limits)
    return judge(*of, glued, rest.flawless(*of, glued, thickness=thickness), formed, limits=limits)


def judge(
    mesh: ShellMesh, cut: Cut, pattern: Pattern, params: Params,
    glued: Built, flawless: Built, formed: tuple[Built, Built], *, limits: tuple[float, float],
) -> Proof:  # fmt: skip
    """Judges the shell at rest in each of its states; `formed` : with its edging and without."""
    mid = mesh.offset(pattern.mid_offset)
    sheet, sides, flat = rest.weld_pieces(mesh, cut, pattern)
    _, heat, _ = rest.need(lay_flat(flat), sheet.faces, mid)
    built = {"glued": glued, "formed": formed[0], "loose": formed[1], "flawless": flawless}
    seams = np.array([length(glued.points[seam.vertices]) for seam in cut.seams])
    gap = sides[:, 0] - sides[:, 1]
    found = (
        *findings.inverted(cut, pattern),
        *findings.unequal(cut, gap, params.gap_limit),
        *findings.overstrained(cut, heat, limits),
        *findings.rim(sheet.cut_length / sheet.rim_length - 1, limits),
        *findings.unsettled(built),
        *findings.springback(formed[0].points[sheet.rim], formed[1].points[sheet.rim]),
        *findings.deviation("as glued, unheated,", glued, params.glued_limit),
        *findings.deviation("after forming", formed[0], params.formed_limit),
    )
    return Proof(
        **built,
        pattern_rms=rest.rms(mid, mesh.faces, glued.distance - flawless.distance),
        heat=heat[:, ::-1],
        seam_gap=gap,
        seam_strain=seams[:, None] / sides - 1,
        rim_gap=sheet.cut_length - sheet.rim_length,
        caught=any(finding.level == "fault" for finding in found),
        findings=found,
    )


def motions(cut: Cut, pattern: Pattern, built: Built) -> tuple[UnfoldingMotion, ...]:
    """For each piece, its motion from flat on the table to its place in the shell."""
    crown, table = built.points[built.points[:, 2].argmax()], float(built.points[:, 2].min())
    return tuple(
        unfolding_motion(flat.flat, built.points[piece.shell_vertices], crown=crown, spread=SPREAD, table=table)
        for piece, flat in zip(cut.pieces, pattern.flats, strict=True)
    )
