"""The static equilibrium of a sheet welded from flat pieces, its rim held along a curve."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.errors import GeometryError
from shellgen.geom.coarsening import CoarseSheet, coarsened
from shellgen.geom.curves import arc_length, at_arc_length
from shellgen.geom.half_sheet import HalfSheet, half_sheet, is_symmetric
from shellgen.geom.halfedges import ends, find
from shellgen.geom.membrane import membrane
from shellgen.geom.relaxation import Relaxed, Stage, relax, sheet
from shellgen.geom.triangles import boundary_loops
from shellgen.geom.tutte import spherical_cap, tutte_embedding
from shellgen.geom.unfolding import rigid_fit

INFLATION = (0.05, 0.01)
"""Twice the strain that the pressure causes, stage by stage. Chosen: no start dented."""
MOST = 8000
"""Number of triangles above which a coarse sheet replaces the fine one. Chosen: edges of 9 mm on an adult's shell."""
WIDE = 1000
"""Number of triangles of the coarse sheet on which the pressure is reduced, if the sheet has twice as many: this only
finds the branch. Chosen: with 600 to 2,000 the demos converge within 0.002 mm of the result without."""
COARSE, FINE = 0.5, 0.01
"""Precision of a stage under pressure and of the last, mm. Chosen: the next Newton step is ten times smaller."""


@dataclass(frozen=True, eq=False)
class WeldedSheet:
    """A welded sheet before it is released.

    faces : (m, 3); rest : (m, 3, 2) each triangle as cut, mm
    rim   : (r,) rim vertices in order; curve : (r, 3) positions at which the edging holds them
    cut_length, rim_length : (2,) of each half of the rim, mm: of the pieces, and of the curve
    mirror : (n,) mirror image of each vertex in the plane y = 0
    """

    faces: Ints
    rest: Floats
    rim: Ints
    curve: Floats
    cut_length: Floats
    rim_length: Floats
    mirror: Ints

    @cached_property
    def cap(self) -> tuple[float, float]:
        """Height and radius of a round cap of the sheet's area over a rim as large, mm."""
        return spherical_cap(float(membrane(self.rest, self.faces, poisson=0.0).area.sum()), self.curve)

    def start(self, *, rise: float | None = None) -> Floats:
        """(n, 3) a bump over the rim, as high as `cap`, or `rise` if given."""
        return tutte_embedding(self.rest, self.faces, self.rim, self.curve, rise=self.cap[0] if rise is None else rise)

    @cached_property
    def coarse(self) -> CoarseSheet | None:
        """A coarse sheet that behaves like this one, if this one is very fine."""
        return self._coarse(MOST)

    def _coarse(self, most: int) -> CoarseSheet | None:
        if len(self.faces) <= most:
            return None
        turn = 2 * np.pi * np.arange(len(self.rim)) / len(self.rim)
        circle = np.column_stack([np.cos(turn), np.sin(turn), np.zeros_like(turn)])
        return coarsened(
            self.rest, self.faces, tutte_embedding(self.rest, self.faces, self.rim, circle, rise=0.0)[:, :2], most=most
        )

    @cached_property
    def _half(self) -> HalfSheet | None:
        return half_sheet(self.faces, self.mirror, self.rim)

    def settle(self, start: Floats, *, poisson: float, rigidity: float, inflate: bool = False,
               rest: Floats | None = None) -> Relaxed:  # fmt: skip
        """The equilibrium from `start`.

        rigidity : bending over membrane stiffness, mm2; inflate : inflate it first, and reduce the pressure in steps
        rest     : (m, 3, 2) rest shapes, if no longer those as cut
        """
        rest = self.rest if rest is None else rest
        if inflate:
            pressures = [strain / self.cap[1] for strain in (*INFLATION, 0.0)]
            stages = [Stage(rigidity, pressure, COARSE) for pressure in pressures]
            coarse = self._coarse(WIDE) if len(self.faces) > 2 * WIDE else None
            start = self._relaxed(start, stages, rest, poisson, coarse).points
        result = self._relaxed(self._on_rim(start), [Stage(rigidity, 0.0, FINE)], rest, poisson, self.coarse)
        return replace(result, points=self._on_rim(result.points))

    def _on_rim(self, points: Floats) -> Floats:
        """(n, 3) positions with the rim where the edging holds it, not on the chords of a coarse rim."""
        points = points.copy()
        points[self.rim] = self.curve
        return points

    def _relaxed(
        self, start: Floats, stages: list[Stage], rest: Floats, poisson: float, coarse: CoarseSheet | None,
        curved: Floats | None = None,
    ) -> Relaxed:  # fmt: skip
        """Equilibrium from `start`: held along the rim, or with the natural curvature `curved`, at one vertex."""
        reduced: CoarseSheet | HalfSheet | None = coarse
        if coarse is None and is_symmetric(self.faces, rest, self.mirror):
            reduced = self._half
        faces, rim, middle = self.faces, self.rim, None
        if reduced is not None:
            faces, rim, middle, rest, start = (
                reduced.faces,
                reduced.rim,
                reduced.middle,
                reduced.rest(rest),
                reduced.restrict(start),
            )
            curved = None if curved is None else reduced.restrict(curved)
        held = np.zeros(len(start), bool)
        held[rim if curved is None else _most_central(start, middle)] = True
        result = relax(sheet(rest, faces, held, start, poisson=poisson, curved=curved, middle=middle), start, stages)
        return result if reduced is None else replace(result, points=reduced.prolong(result.points))

    def release(self, start: Floats, *, poisson: float, rigidity: float, rest: Floats, kept: float) -> Relaxed:
        """Frees the rim of a sheet that was formed at `start` and keeps the share `kept` of its curvature there.

        The result is aligned with `start` by a rigid motion.
        """
        result = self._relaxed(start, [Stage(rigidity, 0.0, FINE)], rest, poisson, self.coarse, kept * start)
        turn, shift = rigid_fit(result.points, start)
        return replace(result, points=result.points @ turn.T + shift)


def _most_central(points: Floats, middle: Bools | None) -> int:
    """The vertex nearest their mean, in the mirror plane if they are one half."""
    away = np.linalg.norm(points - points.mean(axis=0), axis=1)
    return int((away if middle is None else np.where(middle, away, np.inf)).argmin())


def welded_sheet(faces: Ints, rest: Floats, curve: Floats, mirror: Ints) -> WeldedSheet:
    """The sheet with its rim along a curve, each half distributed evenly by its own length.

    faces : (m, 3), counter-clockwise; rest : (m, 3, 2)
    curve : (n, 3) positions of which only those of the rim's vertices are used: its curve
    mirror : (n,) mirror image of each vertex in the plane y = 0; the two rim vertices that are their own mirror images
             do not move

    Raises GeometryError if more than the rim is open.
    """
    loops = boundary_loops(faces)
    if len(loops) != 1:
        raise GeometryError(f"the welded pieces have {len(loops)} open edges; only the rim may stay open")
    turn = np.flatnonzero(mirror[loops[0]] == loops[0])
    if len(turn) != 2:
        raise GeometryError(f"the rim meets the midline at {len(turn)} of its points, and must meet it at 2")
    rim = np.roll(loops[0], -turn[0])
    half = int(turn[1] - turn[0])
    path = curve[rim]
    cut = np.concatenate([[0.0], np.cumsum(_steps(faces, rest, rim))])
    goal = arc_length(path, closed=True)
    ends = np.array([0, half, len(rim)])
    cut_length, rim_length = np.diff(cut[ends]), np.diff(goal[ends])
    second = np.arange(len(rim)) >= half
    start, scale = np.where(second, half, 0), np.where(second, *(rim_length / cut_length)[::-1])
    places = goal[start] + (cut[:-1] - cut[start]) * scale
    return WeldedSheet(faces, rest, rim, at_arc_length(path, places, closed=True), cut_length, rim_length, mirror)


def _steps(faces: Ints, rest: Floats, rim: Ints) -> Floats:
    """(r,) length as cut of each rim edge, from each rim vertex to the next."""
    length = np.linalg.norm(np.roll(rest, -1, axis=1) - rest, axis=2).ravel()
    return np.asarray(length[find(ends(faces), (rim, np.roll(rim, -1)))])
