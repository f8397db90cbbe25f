"""How a scanned mesh stands: which way is up, where its plane of symmetry and its head are, where it is cut."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError
from shellgen.geom import mesh_repair, symmetry
from shellgen.geom.mesh_repair import Cleaned

AXES = {f"{sign}{axis}": turn * np.eye(3)[k] for k, axis in enumerate("xyz") for sign, turn in (("", 1), ("-", -1))}
AUTO = "auto"
_LOOK = 4000
"""Points by which symmetry is judged (chosen: holds the plane of a noisy scan to a tenth of a degree)."""
_SECTORS, _SLICES, _FULL = 36, 80, 200
"""The wall is judged in so many sectors, and slices at most, of so many points at least (chosen)."""
_ROUND = 1.1
"""Length over width below which a plan counts as round, and its symmetry is sought at all angles (chosen)."""
_TAPER = 0.015
"""Difference of the mean breadths before and behind the middle, over their sum, that shows the head end (chosen: a
taper of 3 % has it, twice what holes and noise bring about on the made-up scans of the tests)."""
_EDGE = 0.06
"""How far an open edge may lie off its plane (rms), over the scan's size, to tell which way is up (chosen: a quarter of
a ball has 0.11, a rim that waves by 5 % to either side of its plane 0.035)."""
_FLOOR = 0.03
"""Share of the points low down and well within the wall above which a scan has a bottom (chosen)."""


@dataclass(frozen=True, slots=True, eq=False)
class Stood:
    """points, normals : (n, 3) x to the head, y to the left, z up from the cut, y = 0 the mirror plane; cut : height
    above the scan's lowest point; floor : whether it has a bottom; sure : whether the shape shows the head end
    """

    points: Floats
    normals: Floats
    cut: float
    floor: bool
    sure: bool


def stand(scan: Cleaned, *, up: str, head: str, cut: float | None) -> Stood:
    """Turns a mesh into the shell's frame. GeometryError if up and head lie along one line, or nothing is above."""
    if up != AUTO and head != AUTO and abs(AXES[up] @ AXES[head]) > 0.5:
        raise GeometryError(f"the scan's head cannot lie along {head} when up is {up}: name another axis for one")
    points, normals = scan.points, scan.normals()
    upward, sure = (AXES[up], True) if up != AUTO else _up(scan)
    within = upward if sure else None
    pick = np.random.default_rng(0).permutation(len(points))[: 20 * _LOOK]
    height = points @ upward
    level, _ = _level(_plan(points[pick], upward), cut)
    above = pick[height[pick] > level + height.min() if cut is not None else height[pick] > level][:_LOOK]
    if len(above) < 100:
        raise GeometryError("the scan has next to nothing above the cut: cut it lower, or turn up round")
    across = _mirror_normal(points[above], normals[above], upward, within, None if head == AUTO else AXES[head])
    upward = upward - (upward @ across.normal) * across.normal
    upward /= np.linalg.norm(upward)
    turned = np.stack([np.cross(across.normal, upward), across.normal, upward])
    placed = points @ turned.T - [0, across.offset, 0]
    if head != AUTO:
        sure, ahead = True, float(turned[0] @ AXES[head])
    else:
        sure, ahead = _head(placed[above], turned[0])
    if ahead < 0:
        placed, turned = placed * [-1, -1, 1], turned * [[-1], [-1], [1]]
    level, floor = _level(placed, cut)
    lowest = float(placed[:, 2].min())
    level = level if cut is None else lowest + cut
    return Stood(placed - [0, 0, level], normals @ turned.T, level - lowest, floor, sure)


def _up(scan: Cleaned) -> tuple[Floats, bool]:
    """Square to the rim of an open mesh, which is sure; along the thinnest way through a closed one, towards its
    rounder end, which symmetry may yet better.
    """
    points, weight = scan.points, scan.areas()
    middle = weight @ points / weight.sum()
    rim = points[mesh_repair.widest_rim(points, scan.faces)]
    size = np.ptp(points, axis=0).max()
    if len(rim) and np.ptp(rim, axis=0).max() > size / 2:
        axis = np.linalg.svd(rim - rim.mean(axis=0), full_matrices=False)[2][-1]
        _is_flat(rim, axis, size)
        return axis * _sign((middle - rim.mean(axis=0)) @ axis, axis, 0.02 * size), True
    away = points - middle
    axis = np.linalg.eigh((away * weight[:, None]).T @ away)[1][:, 0]
    ends = np.quantile(points @ axis, [0.001, 0.999])
    return axis * _sign(ends.mean() - middle @ axis, axis, 0.02 * np.ptp(ends)), False


def _is_flat(rim: Floats, axis: Floats, size: float) -> None:
    """GeometryError for an open edge that lies in no plane: a part of a dome has one that runs up and down again."""
    off = (rim - rim.mean(axis=0)) @ axis
    if off.std() > _EDGE * size:
        rise = np.ptp(off) / size
        raise GeometryError(
            f"the scan's open edge lies in no plane: it rises and falls by {rise:.0%} of the scan's size, as if a "
            "part of the dome were missing; scan all round, or set up to the axis that points out of the back"
        )


def _sign(value: float, axis: Floats, least: float) -> float:
    """Of the value if that is clear, otherwise such that the axis points along the file's own."""
    return float(np.sign(value if abs(value) > least else axis[np.abs(axis).argmax()]))


def _plan(points: Floats, upward: Floats) -> Floats:
    """Points with z up, turned about it anyhow."""
    ahead = np.cross(upward, np.eye(3)[np.abs(upward).argmin()])
    ahead /= np.linalg.norm(ahead)
    result: Floats = points @ np.stack([ahead, np.cross(upward, ahead), upward]).T
    return result


def _mirror_normal(
    points: Floats, normals: Floats, upward: Floats, within: Floats | None, head: Floats | None
) -> symmetry.MirrorPlane:
    """The mirror plane, its normal to the left of a wearer with the head along the plane's own axis."""
    if head is not None:
        return symmetry.mirror_plane(points, normals, np.cross(upward, head), within=within)
    first = _plan(np.eye(3), upward).T[:2]
    away = (points - points.mean(axis=0)) @ first.T
    values, vectors = np.linalg.eigh(away.T @ away)
    narrow = vectors[0, 0] * first[0] + vectors[1, 0] * first[1]
    narrow *= _sign(0.0, np.cross(narrow, upward), 1.0)
    if values[1] > _ROUND**2 * values[0]:
        return symmetry.mirror_plane(points, normals, narrow, within=within)
    tried = []
    for angle in np.radians(np.arange(0, 180, 15)):
        start = np.cos(angle) * narrow + np.sin(angle) * np.cross(upward, narrow)
        tried.append(symmetry.mirror_plane(points[:800], normals[:800], start, within=within, rounds=6))
    best = min(plane.error for plane in tried)
    likely = next(plane for plane in tried if plane.error <= 1.1 * best)  # the first is across the longest way
    return symmetry.mirror_plane(points, normals, likely.normal, within=within)


def _head(points: Floats, axis: Floats) -> tuple[bool, float]:
    """Whether the shape shows it, and the sign of x towards the head: the narrower end of the plan."""
    ahead = points[:, 0] > np.quantile(points[:, 0], [0.002, 0.998]).mean()
    front, rear = (np.abs(points[part, 1]).mean() for part in (ahead, ~ahead))
    taper = (rear - front) / (rear + front)
    return abs(taper) > _TAPER, _sign(taper, axis, _TAPER)


def _level(points: Floats, cut: float | None) -> tuple[float, bool]:
    """Height z to cut at: as asked for above the lowest, else where the wall is complete, not under its widest place;
    and whether there is a bottom, above which the cut is then made.
    """
    low, high = np.quantile(points[:, 2], [0.0005, 0.9995])
    if high <= low:
        raise GeometryError("the scan is flat: a dome stands out from its rim")
    ends = np.quantile(points[:, :2], [0.005, 0.995], axis=0)
    away = points[:, :2] - ends.mean(axis=0)
    radius = np.hypot(*away.T)
    sector = ((np.arctan2(away[:, 1], away[:, 0]) / (2 * np.pi) % 1) * _SECTORS).astype(int).clip(0, _SECTORS - 1)
    slices = int(np.clip(len(points) / _FULL, 10, _SLICES))
    slice_ = ((points[:, 2] - low) / (high - low) * slices).astype(int).clip(0, slices - 1)
    reach = np.full((slices, _SECTORS), np.nan)
    np.fmax.at(reach, (slice_, sector), radius)
    covered = np.isfinite(reach).mean(axis=1) > 0.5
    if covered.sum() < 8:
        raise GeometryError("the scan is no dome: it does not close round an upright axis; scan all round, or set up")
    middle = (np.flatnonzero(covered) + 0.5) / slices * (high - low) + low
    furthest = np.fmax.reduce(reach[covered], axis=0)
    widest = float(np.nanmedian(furthest))
    profile = np.nanmedian(reach[covered] / furthest, axis=1)
    wall = np.full(_SECTORS, np.inf)
    np.minimum.at(wall, sector[radius > 0.6 * widest], points[radius > 0.6 * widest, 2])
    complete = float(np.sort(wall)[int(0.75 * _SECTORS)])
    if not np.isfinite(complete):
        raise GeometryError(
            "the scan is no dome: less than three quarters of its rim is there; scan all round, or set up"
        )
    level = max(complete, _widest(middle, profile))
    near_floor = (points[:, 2] < low + 0.02 * (high - low)) & (radius < 0.6 * widest)
    floor = bool(near_floor.mean() > _FLOOR)
    if floor and level < low + 0.03 * (high - low):
        level = low + 0.03 * (high - low)  # above the bottom and its noise
    return (level if cut is None else cut), floor


def _widest(height: Floats, profile: Floats) -> float:
    """Height at which the plan is widest, if it clearly narrows again below; a parabola through what is near."""
    if profile[0] > 0.985 * profile.max():
        return -np.inf
    near = profile**2 > 0.75 * profile.max() ** 2
    bend, slope, _ = np.polyfit(height[near], profile[near] ** 2, 2)
    top = -slope / (2 * bend) if bend < 0 else height[profile.argmax()]
    return float(top) if height[0] <= top <= height[-1] else float(height[profile.argmax()])
