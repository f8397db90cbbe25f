"""The dome in the record: what was designed, how a scan was repaired, and how the virtual build deviates."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats, Ints
from shellgen.core.memory import remembered
from shellgen.dome.surfaces.scan import Scanned
from shellgen.geom.curves import length
from shellgen.geom.triangles import areas, total_curvature
from shellgen.pipeline.shell import Shell
from shellgen.record.rounding import rounded


@dataclass(frozen=True, slots=True)
class FaceEntry:
    """A face of the dome, or the surface in the middle of the foam."""

    area_mm2: float
    rim_length_mm: float
    total_curvature_rad: float


@dataclass(frozen=True, slots=True)
class ScanEntry:
    """What was done to a scan; shares of 1 where no unit is named."""

    triangles: int
    worthless: int
    parts: int
    lost: float
    cut_mm: float
    scale: float
    holes: float
    holes_area_mm2: float
    hole_width_mm: float
    noise_mm: float
    strays: float
    asymmetry_mm: float
    asymmetry_most_mm: float
    smoothing_mm: float


@dataclass(frozen=True, slots=True)
class DomeEntry:
    """The outer face as designed, and the mid surface on which the pattern is developed."""

    area_mm2: float
    rim_length_mm: float
    total_curvature_rad: float
    surface: str
    length_mm: float
    width_mm: float
    height_mm: float
    mid_surface: FaceEntry
    scan: ScanEntry | None

    @property
    def size_mm(self) -> tuple[float, float, float]:
        """Length, width and height."""
        return self.length_mm, self.width_mm, self.height_mm


@dataclass(frozen=True, slots=True)
class ProofEntry:
    """How far the virtual build is from the dome: as glued, and once formed with heat."""

    distance_max_mm: float
    distance_rms_mm: float
    formed_distance_max_mm: float
    formed_distance_rms_mm: float
    flawless_distance_rms_mm: float
    pattern_rms_mm: float
    rim_gap_mm: tuple[float, ...]
    seam_strain_max: float
    caught: bool


def dome(shell: Shell) -> DomeEntry:
    mesh = shell.ground.mesh
    outer, middle = _face(shell, mesh.points), _face(shell, mesh.offset(shell.foam.pattern.mid_offset))
    along, across, up = (rounded(side) for side in np.ptp(mesh.points, axis=0))
    scan = _scan(shell.ground.surface) if isinstance(shell.ground.surface, Scanned) else None
    return DomeEntry(
        area_mm2=outer.area_mm2,
        rim_length_mm=outer.rim_length_mm,
        total_curvature_rad=outer.total_curvature_rad,
        surface="outer face",
        length_mm=along,
        width_mm=across,
        height_mm=up,
        mid_surface=middle,
        scan=scan,
    )


def _face(shell: Shell, points: Floats) -> FaceEntry:
    mesh = shell.ground.mesh
    rims = [line for of, line in zip(shell.ground.layout.lines, mesh.line_vertices, strict=True) if of.kind == "rim"]
    area, curvature = _measured(points, mesh.faces, mesh.normals)
    return FaceEntry(rounded(area), rounded(sum(length(points[line]) for line in rims)), rounded(curvature, 6))


@remembered
def _measured(points: Floats, faces: Ints, normals: Floats) -> tuple[float, float]:
    """Area and total curvature of the dome."""
    return float(areas(points, faces).sum()), total_curvature(points, faces, normals)


def _scan(surface: Scanned) -> ScanEntry:
    of = surface.mended
    return ScanEntry(
        triangles=of.triangles,
        worthless=of.worthless,
        parts=of.parts,
        lost=round(of.lost, 6),
        cut_mm=round(of.cut, 6),
        scale=round(of.scale, 6),
        holes=round(of.holes, 6),
        holes_area_mm2=round(of.holes_area, 6),
        hole_width_mm=round(of.hole_width, 6),
        noise_mm=round(of.noise, 6),
        strays=round(of.strays, 6),
        asymmetry_mm=round(of.asymmetry, 6),
        asymmetry_most_mm=round(of.asymmetry_most, 6),
        smoothing_mm=round(of.smoothing, 6),
    )


def proof(shell: Shell) -> ProofEntry:
    of = shell.proof
    return ProofEntry(
        distance_max_mm=rounded(of.glued.most),
        distance_rms_mm=rounded(of.glued.rms),
        formed_distance_max_mm=rounded(of.formed.most),
        formed_distance_rms_mm=rounded(of.formed.rms),
        flawless_distance_rms_mm=rounded(of.flawless.rms),
        pattern_rms_mm=rounded(of.pattern_rms),
        rim_gap_mm=tuple(rounded(gap) for gap in of.rim_gap),
        seam_strain_max=rounded(np.abs(of.seam_strain).max(initial=0.0), 6),
        caught=bool(of.caught),
    )
