"""What must be true of any finished shell, whatever its preset asked for."""

from __future__ import annotations

import json
from collections.abc import Iterator

import numpy as np
import shapely
import trimesh

from shellgen import record
from shellgen.finish import scores, stencils
from shellgen.geom.triangles import areas, euler_characteristic
from shellgen.pattern import checks
from shellgen.pipeline.shell import Shell
from shellgen.preset import Preset
from shellgen.record import tables
from shellgen.record.plain import plain


def faults(shell: Shell) -> Iterator[str]:
    """What is wrong with a finished shell, whatever its preset asked for.

    The dome is one disc, and its pieces are discs that cover it once; flat, they turn no triangle over, their outlines
    do not cross, and both sides of every seam are of one length between any two marks; on sheets they keep apart;
    everything to be printed encloses a volume, told by a reader that is not ours; every figure is a number.
    """
    points, faces = shell.ground.mesh.points, shell.ground.mesh.faces
    if not np.isfinite(points).all() or euler_characteristic(faces) != 1:
        yield "the dome is no disc"
    used = np.concatenate([piece.shell_faces for piece in shell.foam.cut.pieces])
    if not np.array_equal(np.sort(used), np.arange(len(faces))):
        yield "the pieces do not cover the dome once"
        return  # nothing of theirs can be measured
    for piece, flat in zip(shell.foam.cut.pieces, shell.foam.pattern.flats, strict=True):
        if euler_characteristic(piece.faces) != 1:
            yield f"{piece.name} is no disc"
        outline = np.concatenate([side.vertices[:-1] for side in piece.sides])
        if not (areas(flat.flat, piece.faces) > 0).all() or not shapely.Polygon(flat.flat[outline]).is_valid:
            yield f"{piece.name} folds over itself"
    yield from _open_seams(shell)
    yield from _open_solids(shell)
    if lost := {piece.name for piece in shell.foam.cut.pieces} ^ {*_on_sheets(shell), *shell.work.nest.left_out}:
        yield f"neither on a sheet nor missed: {lost}"
    for finding in shell.findings:
        if finding.level == "fault" and "choose another seed under nest" in finding.text:
            yield finding.text


def _open_seams(shell: Shell) -> Iterator[str]:
    """Seams whose sides differ: in all, measured here, and between marks, as the shell itself says."""
    for seam, gaps in zip(shell.foam.cut.seams, shell.foam.intervals, strict=True):
        long = []
        for p, s in seam.sides:
            chain = shell.foam.pattern.flats[p].flat[shell.foam.cut.pieces[p].sides[s].vertices]
            long.append(float(np.linalg.norm(np.diff(chain, axis=0), axis=1).sum()))
        most = max(abs(long[0] - long[1]) / max(len(gaps[0]), 1), float(np.abs(gaps[0] - gaps[1]).max()))
        if not most <= checks.MATE_LIMIT:
            yield f"the sides of {seam.name} differ by {most:.3f} mm"


def _open_solids(shell: Shell) -> Iterator[str]:
    for solid in (*shell.top.masters, *(part.solid for part in shell.top.casting.prints)):
        if not trimesh.Trimesh(solid.vertices, solid.faces, process=False).is_volume:
            yield f"{solid.name} is not closed"


def _on_sheets(shell: Shell) -> Iterator[str]:
    return (placed.part.name for sheet in shell.work.nest.sheets for placed in sheet.placements)


def lists(shell: Shell, preset: Preset) -> Iterator[str]:
    """What a pack holds besides drawings can be made: record, lists, score lines; and every mask covers something."""
    json.dumps(plain(record.record(shell)), allow_nan=False)
    tables.tables(shell)
    scores.build(
        shell.ground.surface,
        shell.ground.layout,
        shell.top.spikes,
        preset.scores,
        thickness=preset.foam.thickness,
        ring_thickness=preset.rings.thickness,
    )
    for mask in stencils.build(
        shell.ground.surface, shell.ground.layout, shell.top.spikes, shell.top.masters, shell.trim.rings.rings
    ):
        if not np.isfinite(mask.outline).all() or not shapely.Polygon(mask.outline).area > 0:
            yield f"the mask {mask.kind} {mask.name} has no area"
