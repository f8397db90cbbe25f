"""What was done to a scan to make a dome of it, in figures and in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.dome.surfaces import _sampling
from shellgen.dome.surfaces._dome import QUARTER, Dome
from shellgen.dome.surfaces._sampling import HOLES, ScanSamples
from shellgen.dome.surfaces._standing import Stood
from shellgen.geom import patches
from shellgen.geom.mesh_repair import Cleaned
from shellgen.model import Finding

_JUDGED = 10_000
"""Points of the scan whose distance is measured (chosen: gives a root mean square to a percent)."""
_FEW_HOLES, _WIDE_HOLE, _UNEVEN, _LOST = 0.03, 60.0, 3.0, 0.05
"""Share of holes, width of one, mm, rms asymmetry, mm, and share of area in dropped parts from which on the maker is
warned (chosen)."""
OUTLIER = 0.5
"""Least distance, mm, at which a point of the scan is an outlier (chosen: nobody would see less)."""
LEAN_NOTED = np.radians(5.0)
"""Lean over the rim that is worth a word (chosen)."""


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Mended:
    """What was done to the scan; mm, mm2, shares of 1.

    triangles, worthless, parts, lost : see `geom.mesh_repair`
    cut       : height of the cut above the scan's lowest point
    scale     : what the file's numbers were multiplied by
    holes, holes_area, hole_width : of what was not scanned and is filled in
    noise     : rms distance of the scan from the dome; strays : share of its points that did not count
    asymmetry : rms by which the scan's halves lay off their mean; asymmetry_most, the greatest but for one in a hundred
    smoothing : waves of this length are halved
    """

    triangles: int
    worthless: int
    parts: int
    lost: float
    cut: float
    scale: float
    holes: float
    holes_area: float
    hole_width: float
    noise: float
    strays: float
    asymmetry: float
    asymmetry_most: float
    smoothing: float


def measured(
    cleaned: Cleaned, stood: Stood, samples: ScanSamples, dome: Dome, points: Floats, *, smoothing: float, scale: float
) -> Mended:
    """What was done. points : (n, 3) of the scan as scaled and placed about the dome."""
    off = _distances(samples, dome, points)
    spread = 1.4826 * np.median(np.abs(off))
    near = np.abs(off) <= max(5 * spread, OUTLIER)
    unlike = _sampling.asymmetry(samples)
    area = _unseen(samples, dome)
    return Mended(
        triangles=len(cleaned.faces) + cleaned.worthless,
        worthless=cleaned.worthless,
        parts=cleaned.parts,
        lost=cleaned.lost,
        cut=stood.cut * scale,
        scale=scale,
        holes=area / patches.area(dome, rings=48, spokes=128),
        holes_area=area,
        hole_width=_sampling.widest_hole(samples.filled) * float(np.prod(samples.half) ** (1 / 3)),
        noise=float(np.sqrt(np.mean(off[near] ** 2))),
        strays=float(1 - near.mean()),
        asymmetry=float(np.sqrt(np.mean(unlike**2))) if len(unlike) else 0.0,
        asymmetry_most=float(np.quantile(np.abs(unlike), 0.99)) if len(unlike) else 0.0,
        smoothing=smoothing,
    )


def _uv(s: Floats) -> Floats:
    """The place in the disc of unit vectors with w > 0."""
    across = np.hypot(s[:, 0], s[:, 1])
    return s[:, :2] * (np.arccos(np.clip(s[:, 2], 0, 1)) / QUARTER / np.maximum(across, 1e-12))[:, None]


def _distances(samples: ScanSamples, dome: Dome, points: Floats) -> Floats:
    """How far some points of the scan lie off the dome, along its normal."""
    pick = np.random.default_rng(0).permutation(len(samples.vertex))[:_JUDGED]
    pick = pick[samples.s[pick, 2] > 0]
    uv = _uv(samples.s[pick])
    return np.asarray(((points[samples.vertex[pick]] - dome.points(uv)) * dome.normals(uv)).sum(axis=1))


def _unseen(samples: ScanSamples, dome: Dome) -> float:
    """Area of the dome in directions where nothing was scanned.

    References: the azimuthal equidistant map has du dv = (2 / pi)^2 x / sin x dS, x the angle from the pole (Snyder,
    Map Projections, USGS PP 1395, 1987, eq. 25-2 and 25-3).
    """
    s, size = HOLES.centres()[~samples.filled], HOLES.sizes()[~samples.filled]
    tangent = dome.tangents(_uv(s))
    element = np.linalg.norm(np.cross(tangent[..., 0], tangent[..., 1]), axis=1)
    polar = np.arccos(s[:, 2])
    return float((size * element * polar / np.sin(polar)).sum() / QUARTER**2)


def findings(mended: Mended, *, sure: bool, lean: float) -> Iterator[Finding]:
    """What the maker should know. sure : whether the head end is known; lean : of the wall over the rim, radians."""
    yield _said(
        mended.lost > _LOST,
        f"the scan has {mended.triangles} triangles; {mended.worthless} worthless ones and {mended.parts} loose "
        f"{'part' if mended.parts == 1 else 'parts'} ({mended.lost:.1%} of its area) were dropped, and what lies lower "
        f"than {mended.cut:.0f} mm above its lowest point was cut off",
    )
    if mended.holes:
        yield _said(
            mended.holes > _FEW_HOLES or mended.hole_width > _WIDE_HOLE,
            f"{mended.holes:.1%} of the dome ({mended.holes_area / 100:.0f} cm2) was not scanned and is filled in, the "
            f"widest hole {mended.hole_width:.0f} mm across: look at it there before you cut",
        )
    yield _said(
        mended.strays > _LOST,
        f"{mended.noise:.2f} mm (rms) of noise and fine detail were taken off the scan; waves shorter than about "
        f"{mended.smoothing:.0f} mm are gone, and {mended.strays:.1%} of its points were outliers that do not count",
    )
    yield _said(
        mended.asymmetry > _UNEVEN,
        f"made symmetric: the scan's halves lay {mended.asymmetry:.1f} mm (rms) off their mean, at most "
        f"{mended.asymmetry_most:.1f} mm but for one place in a hundred",
    )
    if not sure:
        yield _said(True, "the scan's shape does not show which end is the head: if it is wrong, set head")
    if lean > LEAN_NOTED:
        yield _said(
            True, f"the wall leans in over the rim by up to {np.degrees(lean):.0f} degrees: cut it higher to avoid"
        )


def _said(worth: bool, text: str) -> Finding:
    return Finding("caution" if worth else "ok", "scan", text)
