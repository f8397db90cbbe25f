"""A scan that stands in the shell's frame, as distances by direction: what to fit, and where nothing was scanned."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.errors import GeometryError
from shellgen.geom import hemisphere_grid

FINE = hemisphere_grid.grid(60, below=2)
HOLES, HALVES, LAYERS = hemisphere_grid.grid(90), hemisphere_grid.grid(45), hemisphere_grid.grid(22)
"""Cells of 1.5 degrees to fit, of 1 to see holes, of 2 to compare the halves, of 4 to see a second layer (chosen)."""
BELOW = 0.05
"""How far under the cut samples still count, as a share of the height: they steady the fit at the rim (chosen)."""
FAR = 7.0
"""Samples further from the middle of their cell, in median distances, are left out (chosen: 4.7 deviations)."""
_DENSE = 3_000_000


@dataclass(frozen=True, slots=True, eq=False)
class ScanSamples:
    """half : (3,) half length, half width and height of the scan, mm; s (n, 3) directions and r (n,) distances of the
    scan's points scaled by them; vertex : (n,) which of its points they are; filled : (cells of HOLES,) what was seen
    """

    half: Floats
    s: Floats
    r: Floats
    vertex: Ints
    filled: Bools


def sample(points: Floats, faces: Ints, normals: Floats, *, floor: bool) -> tuple[Floats, ScanSamples]:
    """The points moved so that the origin lies in the middle of the rim, and their samples. GeometryError if the scan
    has several layers seen from there.

    floor : whether what lies below the cut is a bottom and must not count
    """
    height = float(np.quantile(points[points[:, 2] > 0, 2], 0.9995))
    band = np.abs(points[:, 2]) < 0.06 * height
    ends = np.quantile(points[band if band.sum() > 50 else points[:, 2] > 0, :2], [0.002, 0.998], axis=0)
    points = points - [ends[:, 0].mean(), 0, 0]
    half = np.array([np.ptp(ends[:, 0]) / 2, np.ptp(ends[:, 1]) / 2, height])
    scaled = points / half
    r = np.sqrt(np.einsum("nd,nd->n", scaled, scaled))
    s = scaled / np.maximum(r, 1e-12)[:, None]
    used = (scaled[:, 2] >= (0.0 if floor else -BELOW)) & (r > 0.05)
    used = _outer(s, r, used, normals / np.linalg.norm(half) * half)
    vertex = np.flatnonzero(used)
    return points, ScanSamples(
        half,
        s[vertex],
        r[vertex],
        vertex,
        _filled(s, faces[np.logical_and.reduce([used[corner] for corner in faces.T])]),
    )


def _outer(s: Floats, r: Floats, used: Bools, normals: Floats) -> Bools:
    """The samples that are used: all, or if there are two layers those that face outward."""
    if not _layered(s[used], r[used]):
        return used
    facing = (normals * s).sum(axis=1)
    facing = facing * np.sign((facing * r * r)[used].sum())  # a file may be inside out; the outer layer is the larger
    outer: Bools = used & (facing > 0)
    if outer.sum() < 100 or _layered(s[outer], r[outer]):
        raise GeometryError(
            "the scan lies in several layers seen from the middle of the cut: a dome has one; take arms, straps, folds "
            "and the inside out of the scan, cut it higher, or say which way is up"
        )
    return outer


def _layered(s: Floats, r: Floats) -> bool:
    cells = LAYERS.cell(s)
    sorted_ = hemisphere_grid.sort(cells, r)
    double = hemisphere_grid.split(sorted_, r, gap=0.04, share=0.2) & (sorted_.size >= 8)
    size = LAYERS.sizes()[sorted_.cells]
    return bool(size[double].sum() > 0.05 * size.sum())


def _filled(s: Floats, faces: Ints) -> Bools:
    """(cells of HOLES,) whether any triangle passes there: its corners, and points between them if it is so large
    that it reaches a cell without corners.
    """
    cell, filled = HOLES.cell(s), np.zeros(HOLES.cells, bool)
    filled[cell[faces]] = True
    if filled.all() or not len(faces):
        return filled
    centres = HOLES.centres()
    gap, _ = cKDTree(centres[~filled]).query(centres)
    wide = _longest(s, faces)
    near = wide + 2 * HOLES.step >= gap[cell[faces[:, 0]]]
    corners, parts = s[faces[near]], np.ceil(wide[near] / (0.5 * HOLES.step)).astype(int)
    if ((parts + 1) ** 2).sum() / 2 > len(faces) * 3 + _DENSE:
        raise GeometryError("the scan's triangles lie over each other many times: it is no scan of a surface")
    for count in np.unique(parts):
        i, j = (grid.ravel() for grid in np.meshgrid(np.arange(count + 1), np.arange(count + 1)))
        share = np.column_stack([i, j, count - i - j])[i + j <= count] / max(count, 1)
        place = np.einsum("kc,fcd->fkd", share, corners[parts == count]).reshape(-1, 3)
        filled[HOLES.cell(place / np.maximum(np.linalg.norm(place, axis=1, keepdims=True), 1e-12))] = True
    return filled


def _longest(points: Floats, faces: Ints) -> Floats:
    """(m,) length of each face's longest side."""
    sides = np.zeros((3, len(faces)))
    for x in np.ascontiguousarray(points.T):
        a, b, c = (x[column] for column in faces.T)
        sides += np.square([a - b, b - c, c - a])
    result: Floats = np.sqrt(sides.max(axis=0))
    return result


def per_cell(samples: ScanSamples) -> tuple[Floats, Floats, Floats]:
    """Mean direction, mean distance and solid angle for every fine cell that holds samples, those far off left out."""
    cells = FINE.cell(samples.s)
    sorted_ = hemisphere_grid.sort(cells, samples.r)
    at = np.searchsorted(sorted_.cells, cells)
    off = np.abs(samples.r - hemisphere_grid.medians(sorted_, samples.r)[at])
    several = sorted_.size[at] > 2
    kept = off <= (FAR * np.median(off[several]) + 1e-12 if several.any() else np.inf)
    kept |= (np.bincount(at, kept) == 0)[at]  # a cell whose samples are all far off is for the fit to judge
    share = 1 / np.bincount(at[kept])
    r, *total = (np.bincount(at[kept], of[kept]) * share for of in (samples.r, *samples.s.T))
    mean = np.column_stack(total)
    return mean / np.linalg.norm(mean, axis=1, keepdims=True), r, FINE.sizes()[sorted_.cells]


def asymmetry(samples: ScanSamples) -> Floats:
    """(k,) half the difference of mirrored cells' distances, mm, where both were scanned."""
    sorted_ = hemisphere_grid.sort(HALVES.cell(samples.s), samples.r)
    middle = np.full(HALVES.cells, np.nan)
    middle[sorted_.cells] = hemisphere_grid.medians(sorted_, samples.r) * np.linalg.norm(
        HALVES.centres()[sorted_.cells] * samples.half, axis=1
    )
    half = (middle - middle[HALVES.mirror()]) / 2
    result: Floats = half[np.isfinite(half)]
    return result


def widest_hole(filled: Bools) -> float:
    """Angle across the largest round hole, radians."""
    if filled.all() or not filled.any():
        return 0.0 if filled.all() else np.pi
    centres = HOLES.centres()
    away, _ = cKDTree(centres[filled]).query(centres[~filled])
    return float(4 * np.arcsin(min(away.max() / 2, 1.0)))
