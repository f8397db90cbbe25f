"""The welded pieces and their equilibrium: as glued, as formed, and of pieces without error."""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats, Ints
from shellgen.errors import GeometryError
from shellgen.geom.half_sheet import REFLECTION, SYMMETRY_TOLERANCE
from shellgen.geom.membrane import lay_flat, membrane
from shellgen.geom.relaxation import Relaxed
from shellgen.geom.signed_distance import signed_distances
from shellgen.geom.triangles import areas
from shellgen.geom.welded_sheet import WeldedSheet, welded_sheet
from shellgen.geom.welding import weld
from shellgen.model import Built, Cut, Pattern, ShellMesh
from shellgen.pattern.proof.params import Params


def glue(
    mesh: ShellMesh, cut: Cut, pattern: Pattern, params: Params, *, thickness: float, start: Floats | None = None
) -> Built:
    """The pieces glued without heat: the foam is elastic and flat at rest.

    thickness : of the foam, mm
    start     : (n, 3) mm, the equilibrium of an earlier build; a bump over the rim if None

    Raises GeometryError if the pieces do not close into one sheet.
    """
    sheet, _, _ = weld_pieces(mesh, cut, pattern)
    begin = sheet.start() if start is None else start
    stiff = _rigidity(params, thickness)
    result = sheet.settle(begin, poisson=params.poisson, rigidity=stiff, inflate=start is None)
    return _measured(mesh, pattern, result)


def form(
    mesh: ShellMesh, cut: Cut, pattern: Pattern, params: Params, glued: Built,
    *, thickness: float, limits: tuple[float, float],
) -> tuple[Built, Built]:  # fmt: skip
    """Heat-stretched as the map says, with the edging and without.

    limits : the most by which forming may stretch and compress
    """
    sheet, _, _ = weld_pieces(mesh, cut, pattern)
    mid, stiff, kept = mesh.offset(pattern.mid_offset), _rigidity(params, thickness), params.kept_curvature
    shapes = stretched(sheet.rest, need(sheet.rest, sheet.faces, mid), params.forming_step, limits)
    held = sheet.settle(glued.points, poisson=params.poisson, rigidity=stiff * (1 - kept), rest=shapes)
    loose = sheet.release(held.points, poisson=params.poisson, rigidity=stiff, rest=shapes, kept=kept)
    return _measured(mesh, pattern, held), _measured(mesh, pattern, loose)


def flawless(mesh: ShellMesh, cut: Cut, pattern: Pattern, params: Params, glued: Built, *, thickness: float) -> Built:
    """As glued, from pieces in which every triangle is as on the dome: the remaining error comes from the foam's
    stiffness."""
    sheet, _, _ = weld_pieces(mesh, cut, pattern)
    rest = lay_flat(mesh.offset(pattern.mid_offset)[sheet.faces])
    result = sheet.settle(glued.points, poisson=params.poisson, rigidity=_rigidity(params, thickness), rest=rest)
    return _measured(mesh, pattern, result)


def weld_pieces(mesh: ShellMesh, cut: Cut, pattern: Pattern) -> tuple[WeldedSheet, Floats, Floats]:
    """The pieces welded seam by seam, in the numbering of the shell, and held along the rim from the midline's ends;
    (s, 2) lengths of the seams' flat sides; and (m, 3, 2) the triangles as in the flat pieces.

    Raises GeometryError if seams are left open.
    """
    first = np.cumsum([0] + [len(piece.shell_vertices) for piece in cut.pieces])
    flat = np.concatenate([piece.flat for piece in pattern.flats])
    faces = np.concatenate([piece.faces + start for piece, start in zip(cut.pieces, first, strict=False)])
    chains = [(_chain(cut, one, first), _chain(cut, other, first)) for one, other in (seam.sides for seam in cut.seams)]
    welded = weld(flat, faces, chains)
    shell = np.concatenate([piece.shell_vertices for piece in cut.pieces])
    number = np.zeros(welded.vertex.max() + 1, int)
    number[welded.vertex] = shell
    if len(number) != len(mesh.points) or not np.array_equal(number[welded.vertex], shell):
        raise GeometryError(f"the pieces weld into {len(number)} points where the shell has {len(mesh.points)}")
    order = np.argsort(np.concatenate([piece.shell_faces for piece in cut.pieces]))
    sheet = welded_sheet(shell[faces][order], welded.rest[order], mesh.offset(pattern.mid_offset), mesh.mirror)
    return sheet, welded.length, flat[faces][order]


def _chain(cut: Cut, place: tuple[int, int], first: Ints) -> Ints:
    """Vertices of one side, counted over all pieces, in the direction of its seam."""
    side = cut.pieces[place[0]].sides[place[1]]
    return np.asarray(first[place[0]] + (side.vertices if side.forward else side.vertices[::-1]))


def need(rest: Floats, faces: Ints, mid: Floats) -> tuple[Floats, Floats, Floats]:
    """Singular values, largest first, and vectors of the map from each flat triangle to the dome."""
    left, size, turn = np.linalg.svd(membrane(rest, faces, poisson=0.0).deformation(mid), full_matrices=False)
    return left, size, turn


def stretched(rest: Floats, need: tuple[Floats, Floats, Floats], step: float, limits: tuple[float, float]) -> Floats:
    """(m, 3, 2) the triangles once heat-stretched as the map says, in whole steps and within the limits."""
    _, size, turn = need
    given = 1 + np.clip(np.round((size - 1) / step) * step, -limits[1], limits[0])
    return rest @ (np.swapaxes(turn, 1, 2) @ (given[:, :, None] * turn))


def _rigidity(params: Params, thickness: float) -> float:
    """Bending over membrane stiffness of a plate, mm2."""
    return thickness**2 / (12 * (1 - params.poisson**2))


def _measured(mesh: ShellMesh, pattern: Pattern, result: Relaxed) -> Built:
    mid = mesh.offset(pattern.mid_offset)
    off, computed = np.empty(len(mid)), np.ones(len(mid), bool)
    if np.abs(result.points[mesh.mirror] * REFLECTION - result.points).max() < SYMMETRY_TOLERANCE:  # one half is enough
        computed = mesh.mirror >= np.arange(len(mid))
    off[computed] = signed_distances(mid, mesh.faces, result.points[computed])
    off[~computed] = off[mesh.mirror[~computed]]
    return Built(result.points, off, rms(mid, mesh.faces, off), float(np.abs(off).max()), result.converged)


def rms(mid: Floats, faces: Ints, values: Floats) -> float:
    """Root mean square by area of values at the vertices."""
    weight = np.bincount(faces.ravel(), np.repeat(areas(mid, faces), 3))
    return float(np.sqrt((values**2 * weight).sum() / weight.sum()))
