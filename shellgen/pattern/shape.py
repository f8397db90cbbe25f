"""The shape-aware pattern: the error of the virtual build corrects the flat pieces.

The error of the glued shell, smoothed to what a pattern can achieve, is subtracted from the surface that is flattened,
and the pieces are flattened and built again. A round that does not help, or strains the foam too much, is undone and
the next is smaller; a round that reaches the limits of the foam is the last.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError
from shellgen.fields import params as field
from shellgen.geom.distortion import stretches
from shellgen.geom.triangles import areas, cotangent_laplacian, inner_vertices
from shellgen.model import Built, Cut, Pattern, ShellMesh

SMOOTHING = 5.0
"""Length below which the error is smoothed away, in thicknesses of the foam. Chosen by trial: about the length over
which the foam spreads a bend; with less, the bumps of the pieces come back as stretch; with more, nothing is
corrected."""

CAUTION = 0.9
"""Share of the remaining distance to the limits that the next round uses after one that went too far. Chosen."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    rounds: int = field.count(
        3, 0, 8, "How often the flat pieces are corrected by the error of the virtual build; 0 leaves them as they are."
    )


@dataclass(frozen=True, slots=True, eq=False)
class Round:
    """rms, most : distance of the glued shell from the dome, mm; least, greatest : stretch that the dome asks for."""

    rms: float
    most: float
    least: float
    greatest: float


@dataclass(frozen=True, slots=True, eq=False)
class Corrected:
    """pattern : the best; glued : the shell as glued from it; rounds : the result of each, the first
    uncorrected; kept : index of the best."""

    pattern: Pattern
    glued: Built
    rounds: tuple[Round, ...]
    kept: int


def correct(
    mesh: ShellMesh,
    cut: Cut,
    pattern: Pattern,
    params: Params,
    *,
    thickness: float,
    flatten: Callable[[ShellMesh], Pattern],
    glue: Callable[[Pattern, Floats | None], Built],
    stretch_limit: float = 0.03,
    compression_limit: float | None = None,
) -> Corrected:
    """Corrects the pattern in rounds.

    flatten : flattens the pieces of a mesh that differs from `mesh` only in its points
    glue    : the shell as glued from a pattern, from scratch (None) or from the points of an earlier build
    compression_limit : of the foam in forming; None for as much as `stretch_limit`
    """
    compression = stretch_limit if compression_limit is None else compression_limit
    best, built, kept = pattern, glue(pattern, None), 0
    rounds = [_judged(mesh, cut, pattern, built)]
    least, greatest = min(rounds[0].least, 1 - compression), max(rounds[0].greatest, 1 + stretch_limit)
    shift, gain, full = np.zeros(len(mesh.points)), 1.0, False
    smooth = _smoother(mesh, SMOOTHING * thickness)
    for _ in range(params.rounds):
        moved = shift - gain * smooth(built.distance)
        try:
            tried = flatten(replace(mesh, points=mesh.points + moved[:, None] * mesh.normals))
        except GeometryError:  # the uncorrected pieces can be flattened, so the round went too far
            gain *= 0.5
            continue
        made = glue(tried, built.points)
        rounds.append(_judged(mesh, cut, tried, made))
        before, after = rounds[kept], rounds[-1]
        room = min(
            _share_within(before.least, after.least, least), _share_within(before.greatest, after.greatest, greatest)
        )
        if room >= 1 and after.rms < before.rms:
            best, built, shift, kept = tried, made, moved, len(rounds) - 1
            if full:  # a round was reduced to fit the limits: another would gain little
                break
        else:
            gain, full = gain * (CAUTION * room if room < 1 else 0.5), room < 1
    return Corrected(best, built, tuple(rounds), kept)


def _share_within(before: float, after: float, limit: float) -> float:
    """The share of the change from `before` to `after` that is within the limit; the stretch changes evenly."""
    return np.inf if after == before or (limit - before) / (after - before) < 0 else (limit - before) / (after - before)


def _judged(mesh: ShellMesh, cut: Cut, pattern: Pattern, built: Built) -> Round:
    points = mesh.offset(pattern.mid_offset)
    need = [
        stretches(points[piece.shell_vertices], piece.faces, flat.flat)
        for piece, flat in zip(cut.pieces, pattern.flats, strict=True)
    ]
    return Round(built.rms, built.most, min(float(n.min()) for n in need), max(float(n.max()) for n in need))


def _smoother(mesh: ShellMesh, reach: float) -> Callable[[Floats], Floats]:
    """Smooths values at the vertices over about `reach` mm; 0 along the rim, which does not move.

    References: Desbrun et al., Implicit Fairing of Irregular Meshes, SIGGRAPH 1999.
    """
    inner = inner_vertices(mesh.faces, len(mesh.points))
    weight = np.bincount(mesh.faces.ravel(), np.repeat(areas(mesh.points, mesh.faces) / 3, 3))
    matrix = sparse.diags_array(weight) + reach**2 * cotangent_laplacian(mesh.points, mesh.faces)
    factors = splu(matrix.tocsr()[inner][:, inner].tocsc())

    def smooth(values: Floats) -> Floats:
        result = np.zeros(len(values))
        result[inner] = factors.solve((weight * values)[inner])
        return result

    return smooth
