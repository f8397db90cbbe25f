"""Distances from the outer edge of a spike, ring included: to points, and to other spikes in space."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from shellgen.core.arrays import Floats
from shellgen.geom import loops
from shellgen.model import Spike, Surface
from shellgen.spikes.body import make
from shellgen.spikes.fit import to_shell
from shellgen.spikes.groups import Group

SLACK = 0.02
"""mm by which a distance may be short."""


def outlines(surface: Surface, spikes: Sequence[Spike], rings: Sequence[float]) -> list[Floats]:
    """(n, 3) outer edge on the shell of each spike with its ring of the thickness given."""
    seats = [s.seat_uv for s in spikes]
    normals = np.split(surface.normals(np.vstack(seats)), np.cumsum([len(uv) for uv in seats])[:-1])
    return [loops.offset(s.base_curve, n, t) for s, n, t in zip(spikes, normals, rings, strict=True)]


def room_to(points: cKDTree, spike: Spike, edge: Floats) -> float:
    """Least distance from the outline to the points, mm; how deep they lie inside it, below 0."""
    reach = np.linalg.norm(edge - spike.frame[:3, 3], axis=1).max()
    near = points.data[points.query_ball_point(spike.frame[:3, 3], 2 * reach)]
    inside = _depth(near, edge, spike)
    return -inside if inside > 0 else float(points.query(edge)[0].min())


def _depth(points: Floats, edge: Floats, spike: Spike) -> float:
    """How far the deepest point lies inside the outline, seen along the shell's normal; 0 or less outside."""
    frame = spike.frame
    normal = np.cos(spike.tilt) * frame[:3, 2] - np.sin(spike.tilt) * frame[:3, 0]
    plane = np.column_stack([frame[:3, 1], np.cross(normal, frame[:3, 1])])
    p, e = (points - frame[:3, 3]) @ plane, (edge - frame[:3, 3]) @ plane
    angle = np.arctan2(e[:, 1], e[:, 0])
    order = np.argsort(angle)
    radius = np.interp(np.arctan2(p[:, 1], p[:, 0]), angle[order], np.hypot(*e[order].T), period=2 * np.pi)
    return float((radius - np.hypot(*p.T)).max(initial=-np.inf))


@dataclass(frozen=True, slots=True, eq=False)
class SpikeSkin:
    """The outer edge of a spike with its ring, and points all over both. middle : (3,); size : from there, at most"""

    spike: Spike
    edge: Floats
    points: Floats
    middle: Floats
    size: float
    tree: cKDTree


def skins_of(surface: Surface, spikes: list[Spike | None], rings: list[float]) -> dict[int, SpikeSkin]:
    """Of those that stand, by their number."""
    there = {i: s for i, s in enumerate(spikes) if s is not None}
    if not there:
        return {}
    skins = {}
    edges = outlines(surface, list(there.values()), [rings[i] for i in there])
    for (i, spike), edge in zip(there.items(), edges, strict=True):
        points = np.vstack([edge, _side(spike)])
        middle = points.mean(axis=0)
        size = float(np.linalg.norm(points - middle, axis=1).max())
        skins[i] = SpikeSkin(spike, edge, points, middle, size, cKDTree(points))
    return skins


def close_pairs(
    skins: dict[int, SpikeSkin], groups: list[Group], pairs: Iterable[tuple[int, int]]
) -> list[tuple[int, int, float, float]]:
    """Pairs nearer to each other than they may be: (i, j, distance, gap asked)."""
    found = []
    for i, j in pairs:
        gap, one, other = max(groups[i].gap, groups[j].gap), skins[i], skins[j]
        if np.linalg.norm(one.middle - other.middle) > one.size + other.size + gap:
            continue
        depth = _depth(other.edge, one.edge, one.spike)
        distance = -depth if depth > 0 else float(one.tree.query(other.points)[0].min())
        if distance < gap - SLACK:
            found.append((i, j, distance, gap))
    return found


def _side(spike: Spike) -> Floats:
    """(n, 3) points all over the spike's side."""
    body = make(spike.shape)
    s = np.linspace(0.1, 1, 10)[:, None] * body.length
    angle = np.linspace(0, 2 * np.pi, 32, endpoint=False)
    return to_shell(spike.frame, body.points(s, angle).reshape(-1, 3))
