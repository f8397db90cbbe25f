"""The virtual build: welds the flat pieces by arc length, lets the foam come to rest and measures how far the shell
strays from the dome.

Nothing of the dome goes in but the curve of the rim, along which the edging holds the pieces. As glued, the foam is
elastic and wants to be flat. In forming, the maker follows the heat map in steps he can judge by eye and within the
foam's limits, and the foam keeps most of the curvature it cools in.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shellgen import params as preset
from shellgen.errors import GeometryError
from shellgen.geom.blank import Blank, hung
from shellgen.geom.closest import distances
from shellgen.geom.curves import length
from shellgen.geom.membrane import lay_flat, membrane
from shellgen.geom.relaxation import Relaxed
from shellgen.geom.triangles import areas
from shellgen.geom.unfolding import Way, way
from shellgen.geom.welding import weld
from shellgen.model import Built, Cut, Finding, Pattern, Proof, ShellMesh

SPREAD = 1.5
"""How much wider than the shell the flat pieces lie on the table. Chosen: parts the pieces of the demos."""

SLACK = 5e-4
"""How far a stretch may exceed its limit before it is a fault. Chosen: half of what is shown."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    poisson: float = preset.ratio(
        0.3, 0.0, 0.49, "How much the foam narrows when it is pulled; 0 like cork, near 0.5 like rubber."
    )
    kept_curvature: float = preset.ratio(
        0.9, 0.0, 0.99, "The share of its curvature that a formed piece keeps once it has cooled."
    )
    forming_step: float = preset.ratio(
        0.01,
        0.001,
        0.05,
        "The steps in which heat-stretching can be judged by eye; smaller needs are left to the foam.",
    )
    glued_limit: float = preset.length(
        5.0, 0.5, 50.0, "How far the glued, unheated shell may lie from the dome (root mean square)."
    )
    formed_limit: float = preset.length(
        2.0, 0.2, 50.0, "How far the formed shell may lie from the dome (root mean square)."
    )
    gap_limit: float = preset.length(
        1.0, 0.05, 10.0, "How much two mates may differ in length; the foam takes up so much when glued."
    )


def build(
    mesh: ShellMesh,
    cut: Cut,
    pattern: Pattern,
    params: Params,
    *,
    thickness: float,
    stretch_limit: float = 0.03,
    compression_limit: float | None = None,
    start: NDArray | None = None,
) -> Proof:
    """Builds the shell from its flat pieces and measures it.

    thickness : of the foam, mm
    start     : (n, 3) mm, where an earlier `glue` came to rest; from a bump over the rim if None
    stretch_limit, compression_limit : the most that forming may change the foam's length; None for the same as stretch

    Raises GeometryError if the pieces do not close into one sheet.
    """
    limits = stretch_limit, stretch_limit if compression_limit is None else compression_limit
    mid = mesh.offset(pattern.mid_offset)
    blank, sides, flat = weld_pieces(mesh, cut, pattern)
    _, heat, turn = _need(lay_flat(flat), blank.faces, mid)
    base = flat[:, 1] - flat[:, 0]
    builds = _let_rest(blank, mid, params, _rigidity(params, thickness), limits, start)
    built = {name: _measured(mid, mesh.faces, made.points) for name, made in builds.items()}
    seams = np.array([length(built["glued"].points[seam.vertices]) for seam in cut.seams])
    gap = sides[:, 0] - sides[:, 1]
    findings = (
        *_turned(cut, pattern),
        *_unequal(cut, gap, params.gap_limit),
        *_overstrained(cut, heat, limits),
        *_rim(blank.cut_length / blank.rim_length - 1, limits),
        *_restless(builds),
        *_springing(built["formed"].points[blank.rim], built["loose"].points[blank.rim]),
        *_astray("as glued, unheated,", built["glued"], params.glued_limit),
        *_astray("after forming", built["formed"], params.formed_limit),
    )
    return Proof(
        **built,
        pattern_rms=_rms(mid, mesh.faces, built["glued"].distance - built["flawless"].distance),
        heat=heat[:, ::-1],
        heat_direction=np.arctan2(turn[:, 0, 1], turn[:, 0, 0]) + np.arctan2(base[:, 1], base[:, 0]),
        seam_gap=gap,
        seam_strain=seams[:, None] / sides - 1,
        rim_gap=blank.cut_length - blank.rim_length,
        caught=any(finding.level == "fault" for finding in findings),
        findings=findings,
    )


def _let_rest(
    blank: Blank, mid: NDArray, params: Params, stiff: float, limits: tuple[float, float], start: NDArray | None
) -> dict[str, Relaxed]:
    """The shell at rest in each of the states that `Proof` names; `stiff` : of the foam as bought."""
    kept, poisson = params.kept_curvature, params.poisson
    shapes = _formed(blank.rest, _need(blank.rest, blank.faces, mid), params.forming_step, limits)
    glued = _glued(blank, start, poisson, stiff)
    formed = blank.settle(glued.points, poisson=poisson, rigidity=stiff * (1 - kept), rest=shapes)
    return {
        "glued": glued,
        "formed": formed,
        "loose": blank.let_go(formed.points, poisson=poisson, rigidity=stiff, rest=shapes, kept=kept),
        "flawless": blank.settle(glued.points, poisson=poisson, rigidity=stiff, rest=lay_flat(mid[blank.faces])),
    }


def _glued(blank: Blank, start: NDArray | None, poisson: float, stiff: float) -> Relaxed:
    begin = blank.start() if start is None else start
    return blank.settle(begin, poisson=poisson, rigidity=stiff, blow=start is None)


def glue(
    mesh: ShellMesh, cut: Cut, pattern: Pattern, params: Params, *, thickness: float, start: NDArray | None = None
) -> Built:
    """The shell as glued alone, from a bump over its rim or from the place `start` (n, 3) of an earlier build."""
    blank, _, _ = weld_pieces(mesh, cut, pattern)
    made = _glued(blank, start, params.poisson, _rigidity(params, thickness))
    return _measured(mesh.offset(pattern.mid_offset), mesh.faces, made.points)


def ways(cut: Cut, pattern: Pattern, built: Built) -> tuple[Way, ...]:
    """For each piece, its way from flat on the table to its place in the shell."""
    crown, table = built.points[built.points[:, 2].argmax()], float(built.points[:, 2].min())
    return tuple(
        way(flat.flat, built.points[piece.shell_vertices], crown=crown, spread=SPREAD, table=table)
        for piece, flat in zip(cut.pieces, pattern.flats, strict=True)
    )


def frames(cut: Cut, pattern: Pattern, built: Built, *, count: int = 12) -> tuple[NDArray, ...]:
    """For each piece (count, k, 3): its vertices from flat on the table to their place in the shell."""
    return tuple(way.at(np.linspace(0, 1, count)) for way in ways(cut, pattern, built))


def weld_pieces(mesh: ShellMesh, cut: Cut, pattern: Pattern) -> tuple[Blank, NDArray, NDArray]:
    """The pieces welded seam by seam, in the numbering of the shell, and hung along the rim from the midline's ends;
    (s, 2) lengths of the seams' flat sides; and (m, 3, 2) the triangles as they lie in the flat pieces.

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
    middle = np.flatnonzero(mesh.mirror == np.arange(len(mesh.mirror)))
    blank = hung(shell[faces][order], welded.rest[order], mesh.offset(pattern.mid_offset), middle)
    return blank, welded.length, flat[faces][order]


def _chain(cut: Cut, place: tuple[int, int], first: NDArray) -> NDArray:
    """Vertices of one side, counted over all pieces, in the direction of its seam."""
    side = cut.pieces[place[0]].sides[place[1]]
    return first[place[0]] + (side.vertices if side.forward else side.vertices[::-1])


def _need(rest: NDArray, faces: NDArray, mid: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """Singular values, largest first, and vectors of the way from each flat triangle to the dome."""
    left, size, turn = np.linalg.svd(membrane(rest, faces, poisson=0.0).deformation(mid), full_matrices=False)
    return left, size, turn


def _formed(rest: NDArray, need: tuple[NDArray, NDArray, NDArray], step: float, limits: tuple[float, float]) -> NDArray:
    """(m, 3, 2) the triangles once heat-stretched as the map says, in whole steps and within the limits."""
    _, size, turn = need
    given = 1 + np.clip(np.round((size - 1) / step) * step, -limits[1], limits[0])
    return rest @ (np.swapaxes(turn, 1, 2) @ (given[:, :, None] * turn))


def _rigidity(params: Params, thickness: float) -> float:
    """Bending over membrane stiffness of a plate, mm2."""
    return thickness**2 / (12 * (1 - params.poisson**2))


def _measured(mid: NDArray, faces: NDArray, points: NDArray) -> Built:
    off = distances(mid, faces, points)
    return Built(points, off, _rms(mid, faces, off), float(np.abs(off).max()))


def _rms(mid: NDArray, faces: NDArray, values: NDArray) -> float:
    """Root mean square by area of values at the vertices."""
    weight = np.bincount(faces.ravel(), np.repeat(areas(mid, faces), 3))
    return float(np.sqrt((values**2 * weight).sum() / weight.sum()))


def _turned(cut: Cut, pattern: Pattern) -> Iterator[Finding]:
    for piece, flat in zip(cut.pieces, pattern.flats, strict=True):
        signed = areas(flat.flat, piece.faces)
        if signed.sum() < 0:
            text = "is drawn as seen from the inside: its marks run round it the wrong way. Mirror it."
        elif (signed <= 0).any():
            text = f"is folded over itself in {int((signed <= 0).sum())} triangles; flatten it again."
        else:
            continue
        yield Finding("fault", "proof", f"Piece {piece.name} {text}")


def _unequal(cut: Cut, gap: NDArray, limit: float) -> Iterator[Finding]:
    for seam, miss in zip(cut.seams, gap.tolist(), strict=True):
        if abs(miss) > limit:
            longer, shorter = (cut.pieces[p].name for p, _ in (seam.sides if miss > 0 else seam.sides[::-1]))
            text = (
                f"Seam {seam.name}: the side on {longer} is {abs(miss):.1f} mm longer than its mate on {shorter} "
                f"(limit {limit:.1f} mm) and would stand open or buckle; make the two equal."
            )
            yield Finding("fault", "proof", text)


def _overstrained(cut: Cut, need: NDArray, limits: tuple[float, float]) -> Iterator[Finding]:
    for piece in cut.pieces:
        sizes = need[piece.shell_faces]
        for most, limit, verb in (
            (float(sizes.max()) - 1, limits[0], "stretched"),
            (1 - float(sizes.min()), limits[1], "compressed"),
        ):
            if most > limit + SLACK:
                text = f"Piece {piece.name} would have to be {verb} by {most:.1%} somewhere (limit {limit:.1%}); "
                yield Finding("fault", "proof", text + "it is the wrong size, or must be cut into smaller ones.")


def _rim(excess: NDArray, limits: tuple[float, float]) -> Iterator[Finding]:
    """excess : (2,) of the pieces over each half of the rim, as a share of it"""
    most = float(excess[np.abs(excess).argmax()])
    limit, word = (limits[1], "longer") if most > 0 else (limits[0], "shorter")
    text = f"Along half the rim the pieces are {abs(most):.1%} {word} than the rim itself (limit {limit:.1%})"
    tail = "; the rim would stay wavy." if abs(most) > limit else "; ease them in evenly when edging."
    yield Finding("fault" if abs(most) > limit else "ok", "proof", text + tail)


def _restless(builds: dict[str, Relaxed]) -> Iterator[Finding]:
    for name, made in builds.items():
        if not made.settled:
            text = f"The {name} shell found no place to rest in {made.steps} steps: its pieces do not fit together."
            yield Finding("fault", "proof", text)


def _springing(formed: NDArray, loose: NDArray) -> Iterator[Finding]:
    """How the rim's length (x) and width (y) change when the edging is taken off."""
    along, across = (np.ptp(loose, axis=0) - np.ptp(formed, axis=0))[:2].tolist()
    wide, tall = "wider" if across > 0 else "narrower", "longer" if along > 0 else "shorter"
    text = f"Without edging the formed shell springs {abs(across):.0f} mm {wide} and {abs(along):.0f} mm {tall}"
    yield Finding("ok", "proof", text + "; the edging must hold that.")


def _astray(when: str, built: Built, limit: float) -> Iterator[Finding]:
    text = f"The shell {when} lies {built.rms:.1f} mm (rms) from the dome, at most {built.most:.1f} mm"
    if built.rms > limit:
        yield Finding("fault", "proof", f"{text}; the limit is {limit:.1f} mm rms. Cut it into smaller pieces.")
    else:
        yield Finding("ok", "proof", f"{text} (limit {limit:.1f} mm rms).")
