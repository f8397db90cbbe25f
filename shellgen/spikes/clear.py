"""Room round each spike: distance to plate lines and to neighbours in space, rings included."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from shellgen.errors import FitError, GeometryError
from shellgen.geom import curves, loops
from shellgen.model import Finding, Layout, Spike, Surface
from shellgen.spikes.body import make
from shellgen.spikes.fit import fitted, to_shell
from shellgen.spikes.groups import Group

SPACING = 0.5
"""mm between points on plate lines: a distance of 2 mm is right to 0.02 mm."""
SHRINK_STEP = 2.0
"""Shrunk bases come in even mm, so that several share a master (chosen)."""
SMALLEST = 8.0
"""mm: a base under this is left out (chosen: no strip of foam closes round it)."""
SLACK = 0.02


def settle(
    surface: Surface, layout: Layout, spikes: list[Spike], groups: list[Group], *, ring_thickness: float
) -> tuple[list[Spike], list[Finding]]:
    """The spikes fitted, made smaller or left out where there is no room and the group allows it; and what was done."""
    rings = [ring_thickness if group.ring else 0.0 for group in groups]
    kept, findings = _on_plates(surface, cKDTree(plate_lines(surface, layout)), spikes, groups, rings)
    kept = _apart(surface, kept, groups, rings, spikes, findings)
    return [s for s in kept if s is not None], _shrunk(spikes, kept) + findings


def plate_lines(surface: Surface, layout: Layout) -> NDArray:
    """(n, 3) points close together on every plate line and the rim."""
    lines = [line.uv for line in layout.lines if line.kind != "midline"]
    runs = np.split(surface.points(np.vstack(lines)), np.cumsum([len(uv) for uv in lines])[:-1])
    return np.vstack([curves.resample(run, 2 + int(curves.length(run) / SPACING)) for run in runs])


def outlines(surface: Surface, spikes: Sequence[Spike], rings: Sequence[float]) -> list[NDArray]:
    """(n, 3) outer edge on the shell of each spike with its ring of the thickness given."""
    seats = [s.seat_uv for s in spikes]
    normals = np.split(surface.normals(np.vstack(seats)), np.cumsum([len(uv) for uv in seats])[:-1])
    return [loops.offset(s.base_curve, n, t) for s, n, t in zip(spikes, normals, rings, strict=True)]


def room_to(points: cKDTree, spike: Spike, edge: NDArray) -> float:
    """Least distance from the outline to the points, mm; how deep they lie inside it, below 0."""
    reach = np.linalg.norm(edge - spike.frame[:3, 3], axis=1).max()
    near = points.data[points.query_ball_point(spike.frame[:3, 3], 2 * reach)]
    inside = _depth(near, edge, spike)
    return -inside if inside > 0 else float(points.query(edge)[0].min())


def _depth(points: NDArray, edge: NDArray, spike: Spike) -> float:
    """How far the deepest point lies inside the outline, seen along the shell's normal; 0 or less outside."""
    frame = spike.frame
    normal = np.cos(spike.tilt) * frame[:3, 2] - np.sin(spike.tilt) * frame[:3, 0]
    plane = np.column_stack([frame[:3, 1], np.cross(normal, frame[:3, 1])])
    p, e = (points - frame[:3, 3]) @ plane, (edge - frame[:3, 3]) @ plane
    angle = np.arctan2(e[:, 1], e[:, 0])
    order = np.argsort(angle)
    radius = np.interp(np.arctan2(p[:, 1], p[:, 0]), angle[order], np.hypot(*e[order].T), period=2 * np.pi)
    return float((radius - np.hypot(*p.T)).max(initial=-np.inf))


def _on_plates(
    surface: Surface, lines: cKDTree, spikes: list[Spike], groups: list[Group], rings: list[float]
) -> tuple[list[Spike | None], list[Finding]]:
    """The spikes fitted to the shell, each smaller if need be and allowed until it keeps clear of the plate lines."""
    kept: list[Spike | None] = list(spikes)
    findings: list[Finding] = []
    waiting = list(range(len(spikes)))
    while waiting:
        tried = [s for i in waiting if (s := kept[i]) is not None]
        standing = {i: s for i, s in zip(waiting, fitted(surface, tried), strict=True) if s is not None}
        edges = outlines(surface, list(standing.values()), [rings[i] for i in standing]) if standing else []
        rooms = {i: room_to(lines, s, edge) for (i, s), edge in zip(standing.items(), edges, strict=True)}
        kept = [standing.get(i, s) for i, s in enumerate(kept)]
        again = []
        for i in waiting:
            if i in rooms and rooms[i] >= groups[i].clearance - SLACK:
                continue
            if groups[i].may_shrink:
                kept[i] = smaller(
                    tried[waiting.index(i)], _less(standing.get(i), rooms.get(i, 0.0), groups[i]), spikes[i]
                )
                again += [i] if kept[i] is not None else []
            elif i in rooms:
                said = f"{spikes[i].name} is {rooms[i]:.1f} mm from a plate line, {groups[i].clearance:g} mm asked"
                findings.append(_fault(said))
            else:
                raise FitError(
                    f"{spikes[i].name} does not meet the shell all round: it leans too far or hangs over the rim"
                )
        waiting = again
    return kept, findings


def _less(spike: Spike | None, room: float, group: Group) -> float:
    """Scale at which the spike would keep clear; a guess where it does not yet stand."""
    if spike is None:
        return 0.85
    radius = spike.shape.diameter / 2
    return (radius - (group.clearance - room)) / radius


def smaller(spike: Spike, scale: float, asked: Spike) -> Spike | None:
    """The spike as asked, at `scale` times the present size, down to an even base; None if its tip does not fit."""
    diameter = SHRINK_STEP * np.floor(spike.shape.diameter * scale / SHRINK_STEP + 1e-6)
    if diameter >= spike.shape.diameter:
        diameter -= SHRINK_STEP
    whole = asked.shape
    shape = replace(
        whole,
        diameter=float(diameter),
        width=float(diameter * whole.width / whole.diameter),
        height=float(np.floor(diameter * whole.height / whole.diameter + 1e-6)),
    )
    if diameter < SMALLEST:
        return None
    try:
        make(shape)
    except GeometryError:
        return None
    return replace(spike, shape=shape, base_diameter=shape.diameter, height=shape.height)


def _apart(
    surface: Surface,
    spikes: list[Spike | None],
    groups: list[Group],
    rings: list[float],
    asked: list[Spike],
    findings: list[Finding],
) -> list[Spike | None]:
    """Neighbours made smaller together until the gaps are kept; a fault is added where that is not allowed."""
    told: set[tuple[int, int]] = set()
    spikes = list(spikes)
    while close := [pair for pair in _close(surface, spikes, groups, rings) if pair[:2] not in told]:
        scale: dict[int, float] = {}
        for i, j, distance, gap in close:
            may = [k for k in (i, j) if groups[k].may_shrink]
            if not may:
                told.add((i, j))
                said = f"{asked[i].name} and {asked[j].name} are {distance:.1f} mm apart, {gap:g} mm asked"
                findings.append(_fault(said))
            for k in may:
                spike = spikes[k]
                assert spike is not None
                radius = spike.shape.diameter / 2
                scale[k] = min(scale.get(k, 1.0), (radius - (gap - distance) / len(may)) / radius)
        less = {k: smaller(s, f, asked[k]) for k, f in scale.items() if (s := spikes[k]) is not None}
        standing = fitted(surface, [s for s in less.values() if s is not None])
        refitted = iter(standing)
        for k, s in less.items():
            spikes[k] = None if s is None else next(refitted)
    return spikes


def _close(
    surface: Surface, spikes: list[Spike | None], groups: list[Group], rings: list[float]
) -> list[tuple[int, int, float, float]]:
    """Pairs nearer to each other than they may be: (i, j, distance, gap asked)."""
    there = {i: s for i, s in enumerate(spikes) if s is not None}
    if len(there) < 2:
        return []
    edges = dict(zip(there, outlines(surface, list(there.values()), [rings[i] for i in there]), strict=True))
    skins = {i: np.vstack([edges[i], _side(s)]) for i, s in there.items()}
    middles = {i: skin.mean(axis=0) for i, skin in skins.items()}
    sizes = {i: float(np.linalg.norm(skin - middles[i], axis=1).max()) for i, skin in skins.items()}
    trees = {i: cKDTree(skin) for i, skin in skins.items()}
    found = []
    for i, j in combinations(there, 2):
        gap = max(groups[i].gap, groups[j].gap)
        if np.linalg.norm(middles[i] - middles[j]) > sizes[i] + sizes[j] + gap:
            continue
        depth = _depth(edges[j], edges[i], there[i])
        distance = -depth if depth > 0 else float(trees[i].query(skins[j])[0].min())
        if distance < gap - SLACK:
            found.append((i, j, distance, gap))
    return found


def _side(spike: Spike) -> NDArray:
    """(n, 3) points all over the spike's side."""
    body = make(spike.shape)
    s = np.linspace(0.1, 1, 10)[:, None] * body.length
    angle = np.linspace(0, 2 * np.pi, 32, endpoint=False)
    return to_shell(spike.frame, body.points(s, angle).reshape(-1, 3))


def _fault(text: str) -> Finding:
    return Finding("fault", "spikes", f"{text}: make it smaller, move it, or set may_shrink: yes.")


def _shrunk(asked: list[Spike], kept: list[Spike | None]) -> list[Finding]:
    """What was made smaller or left out, one sentence for each size and what became of it."""
    said: dict[str, list[str]] = {}
    for before, after in zip(asked, kept, strict=True):
        if after is None:
            said.setdefault("left out: there is no room for it", []).append(before.name)
        elif after.shape != before.shape:
            change = f"base {before.base_diameter:g} mm made {after.base_diameter:g} mm, for want of room"
            said.setdefault(change, []).append(before.name)
    return [Finding("caution", "spikes", f"{', '.join(names)}: {change}.") for change, names in said.items()]
