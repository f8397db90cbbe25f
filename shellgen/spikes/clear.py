"""Room round each spike: distance to plate lines and to neighbours in space, rings included."""

from __future__ import annotations

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
ROUNDS = 12


def settle(
    surface: Surface, layout: Layout, spikes: list[Spike], groups: list[Group], *, ring_thickness: float
) -> tuple[list[Spike], list[Finding]]:
    """The spikes fitted, made smaller or left out where there is no room and the group allows it; and what was done."""
    lines = plate_lines(surface, layout)
    asked = spikes
    kept: list[Spike | None] = []
    findings: list[Finding] = []
    for spike, group in zip(spikes, groups, strict=True):
        thickness = ring_thickness if group.ring else 0.0
        settled, room = _on_plate(surface, lines, spike, group, thickness)
        kept.append(settled)
        if settled is not None and room < group.clearance - SLACK:
            findings.append(_fault(f"{spike.name} is {room:.1f} mm from a plate line, {group.clearance:g} mm asked"))
    kept = _apart(surface, kept, groups, ring_thickness, findings)
    return [s for s in kept if s is not None], _shrunk(asked, kept) + findings


def plate_lines(surface: Surface, layout: Layout) -> NDArray:
    """(n, 3) points close together on every plate line and the rim."""
    runs = [surface.points(line.uv) for line in layout.lines if line.kind != "midline"]
    return np.vstack([curves.resample(run, 2 + int(curves.length(run) / SPACING)) for run in runs])


def outline(surface: Surface, spike: Spike, thickness: float) -> NDArray:
    """(n, 3) outer edge on the shell of spike and ring."""
    return loops.offset(spike.base_curve, surface.normals(spike.seat_uv), thickness)


def room_to(points: NDArray, surface: Surface, spike: Spike, thickness: float) -> float:
    """Least distance from the outline to the points, mm; how deep they lie inside, below 0."""
    edge = outline(surface, spike, thickness)
    inside = _depth(points, edge, surface, spike)
    if inside > 0:
        return -inside
    return float(cKDTree(points).query(edge)[0].min())


def _depth(points: NDArray, edge: NDArray, surface: Surface, spike: Spike) -> float:
    """How far the deepest point lies inside the outline, seen along the normal; 0 or less outside."""
    reach, radius = _polar(points, edge, surface, spike)
    return float((radius - reach).max(initial=-np.inf))


def _polar(points: NDArray, edge: NDArray, surface: Surface, spike: Spike) -> tuple[NDArray, NDArray]:
    """Distances of near points from the spike's foot, seen along the normal, and the outline's in their directions."""
    origin, normal = spike.frame[:3, 3], surface.normals(spike.uv[None])[0]
    near = points[np.linalg.norm(points - origin, axis=1) < 2 * np.linalg.norm(edge - origin, axis=1).max()]
    ahead, aside = spike.frame[:3, 1], np.cross(normal, spike.frame[:3, 1])
    plane = np.column_stack([ahead, aside])
    p, e = (near - origin) @ plane, (edge - origin) @ plane
    angle = np.arctan2(e[:, 1], e[:, 0])
    order = np.argsort(angle)
    radius = np.interp(np.arctan2(p[:, 1], p[:, 0]), angle[order], np.hypot(*e[order].T), period=2 * np.pi)
    return np.hypot(*p.T), radius


def _on_plate(
    surface: Surface, lines: NDArray, spike: Spike, group: Group, thickness: float
) -> tuple[Spike | None, float]:
    """The spike fitted, and its room to the plate lines; smaller if need be and allowed, None if there is no room."""
    tried: Spike | None = spike
    for _ in range(ROUNDS):
        assert tried is not None
        try:
            done = fitted(surface, tried)
        except FitError:
            if not group.may_shrink:
                raise
            tried = smaller(tried, 0.85, spike)
        else:
            room = room_to(lines, surface, done, thickness)
            if room >= group.clearance - SLACK or not group.may_shrink:
                return done, room
            radius = done.shape.diameter / 2
            tried = smaller(done, (radius - (group.clearance - room)) / radius, spike)
        if tried is None:
            return None, 0.0
    return None, 0.0


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
    surface: Surface, spikes: list[Spike | None], groups: list[Group], ring: float, findings: list[Finding]
) -> list[Spike | None]:
    """Neighbours made smaller together until the gaps are kept; a fault is added where that is not allowed."""
    told: set[tuple[int, int]] = set()
    asked = list(spikes)
    spikes = list(spikes)
    for _ in range(ROUNDS):
        close = [pair for pair in _close(surface, spikes, groups, ring) if pair[:2] not in told]
        if not close:
            break
        for i, j, distance, gap in close:
            one, two = spikes[i], spikes[j]
            if one is None or two is None:
                continue
            may = [k for k in (i, j) if groups[k].may_shrink]
            if not may:
                told.add((i, j))
                findings.append(_fault(f"{one.name} and {two.name} are {distance:.1f} mm apart, {gap:g} mm asked"))
            for k in may:
                mine, wish = spikes[k], asked[k]
                assert mine is not None and wish is not None
                radius = mine.shape.diameter / 2
                less = smaller(mine, (radius - (gap - distance) / len(may)) / radius, wish)
                spikes[k] = None if less is None else fitted(surface, less)
    return spikes


def _close(
    surface: Surface, spikes: list[Spike | None], groups: list[Group], ring: float
) -> list[tuple[int, int, float, float]]:
    """Pairs nearer to each other than they may be: (i, j, distance, gap asked)."""
    skins = {i: _skin(surface, s, ring if groups[i].ring else 0.0) for i, s in enumerate(spikes) if s is not None}
    middles = {i: skin.mean(axis=0) for i, skin in skins.items()}
    sizes = {i: float(np.linalg.norm(skin - middles[i], axis=1).max()) for i, skin in skins.items()}
    found = []
    for i, j in combinations(skins, 2):
        gap = max(groups[i].gap, groups[j].gap)
        if np.linalg.norm(middles[i] - middles[j]) > sizes[i] + sizes[j] + gap:
            continue
        one, two = spikes[i], spikes[j]
        assert one is not None and two is not None
        distance = float(cKDTree(skins[i]).query(skins[j])[0].min())
        count = len(two.base_curve)
        depth = _depth(skins[j][:count], skins[i][: len(one.base_curve)], surface, one)
        distance = -depth if depth > 0 else distance
        if distance < gap - SLACK:
            found.append((i, j, distance, gap))
    return found


def _skin(surface: Surface, spike: Spike, thickness: float) -> NDArray:
    """(n, 3) points all over spike and ring, the outline first."""
    body = make(spike.shape)
    s = np.linspace(0.1, 1, 10)[:, None] * body.length
    side = to_shell(spike.frame, body.points(s, np.linspace(0, 2 * np.pi, 32, endpoint=False)).reshape(-1, 3))
    return np.vstack([outline(surface, spike, thickness), side])


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
