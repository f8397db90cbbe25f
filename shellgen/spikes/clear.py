"""Room round each spike: distance to plate lines and to neighbours in space, rings included."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from scipy.spatial import cKDTree

from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError
from shellgen.model import Finding, Layout, Spike, Surface
from shellgen.spikes.body import make
from shellgen.spikes.clear_findings import NEIGHBOUR, OFF, SMALLEST, Cure, Short, faults, shrunk
from shellgen.spikes.fit import fitted
from shellgen.spikes.groups import Group
from shellgen.spikes.netlines import PLATE, RIM, SEAM, net_points
from shellgen.spikes.skins import SLACK, close_pairs, outlines, room_to, skins_of
from shellgen.spikes.spots import placing

WORDS = {PLATE: "a plate line", SEAM: "a seam", RIM: "the rim"}
SHRINK_STEP = 2.0
"""Shrunk bases come in even mm, so that several share a master (chosen)."""
ALIKE = 1e-9
LEAST_TIP = 0.5
"""mm: the sharpest tip that a preset may ask for."""


def settle(
    surface: Surface, layout: Layout, spikes: list[Spike], groups: list[Group], *, ring_thickness: float
) -> tuple[list[Spike], list[Finding]]:
    """The spikes fitted, made smaller or left out where there is no room; and what was done, with what would help."""
    present = {line.kind for line in layout.lines}
    trees = {kind: cKDTree(net_points(surface, layout, (kind,))) for kind in WORDS if kind in present}
    room = ClearRoom(surface, trees, ring_thickness)
    kept, short, why = _settled(room, spikes, groups)
    gone = [i for i, spike in enumerate(kept) if spike is None]
    cures = _cures(room, spikes, groups, {*gone, *(i for s in short for i in (s.spike, s.other) if i is not None)})
    findings = [*shrunk(spikes, kept, cures, why), *faults(spikes, short, cures)]
    return [s for s in kept if s is not None], findings


@dataclass(frozen=True, slots=True, eq=False)
class ClearRoom:
    """What spikes keep clear of, by kind of line; rings, where they have them, add to their size."""

    surface: Surface
    lines: Mapping[str, cKDTree]
    ring_thickness: float

    def rings(self, groups: Sequence[Group]) -> list[float]:
        return [self.ring_thickness if group.ring else 0.0 for group in groups]

    def to_lines(self, spike: Spike, edge: Floats, group: Group) -> tuple[float, str]:
        """Least distance to the lines that this group keeps clear of, and what kind of line that is."""
        over = placing(group).ON_LINES
        kinds = [kind for kind in self.lines if not (over and kind == PLATE)]
        return min((room_to(self.lines[kind], spike, edge), WORDS[kind]) for kind in kinds)


def _settled(
    room: ClearRoom, spikes: list[Spike], groups: list[Group]
) -> tuple[list[Spike | None], list[Short], dict[int, str]]:
    """The spikes that stand, those that are too near to something, and why the others do not stand."""
    alone, short, why = _on_plates(room, spikes, groups)
    kept = _restored(room, _apart(room, alone, groups, spikes, short), alone, groups)
    return kept, short, {i: why.get(i, NEIGHBOUR) for i, spike in enumerate(kept) if spike is None}


def _cures(room: ClearRoom, spikes: list[Spike], groups: list[Group], ill: set[int]) -> dict[int, Cure]:
    """What would let each of the spikes in question stand: found by trying a smaller base, then an upright axis,
    and only then a sharper tip, each with a base as large as there is room for."""
    if not ill:
        return {}
    free = [replace(group, may_shrink=True) for group in groups]
    cures: dict[int, Cure] = {}
    for upright, sharp in ((False, False), (True, False), (True, True)):
        left = ill - cures.keys()
        if not left:
            break
        tried = [_changed(spike, upright, sharp) if i in left else spike for i, spike in enumerate(spikes)]
        for i, spike in enumerate(_settled(room, tried, free)[0]):
            if i in left and spike is not None:
                tip = _bluntest(spike, spikes[i].shape.tip_radius) if sharp else 0.0
                cures[i] = Cure(spike.base_diameter, tip, upright and spikes[i].tilt > 0)
    return cures


def _changed(spike: Spike, upright: bool, sharp: bool) -> Spike:
    """The spike square to the shell, or with the least tip that a preset may ask for, or both."""
    turn, tilt, tip = np.eye(4), spike.tilt, spike.shape.tip_radius
    if upright:
        cos, sin = np.cos(tilt), np.sin(tilt)
        turn[:3, :3], tilt = [[cos, 0, -sin], [0, 1, 0], [sin, 0, cos]], 0.0
    shape = replace(spike.shape, tip_radius=min(tip, LEAST_TIP) if sharp else tip)
    return replace(spike, frame=spike.frame @ turn, tilt=tilt, shape=shape)


def _bluntest(spike: Spike, asked: float) -> float:
    """The largest tip, in halves of a mm up to what was asked, that goes with the figures of a spike."""
    for tip in np.arange(2 * asked, 2 * LEAST_TIP, -1) / 2:
        try:
            make(replace(spike.shape, tip_radius=float(tip)))
        except GeometryError:
            continue
        return float(tip)
    return min(asked, LEAST_TIP)


def _on_plates(
    room: ClearRoom, spikes: list[Spike], groups: list[Group]
) -> tuple[list[Spike | None], list[Short], dict[int, str]]:
    """The spikes fitted to the shell, each smaller if need be and allowed until it keeps clear of the lines; and what
    each of those left out was last too near to."""
    rings = room.rings(groups)
    kept: list[Spike | None] = list(spikes)
    short: list[Short] = []
    why: dict[int, str] = {}
    waiting = list(range(len(spikes)))
    while waiting:
        tried = [s for i in waiting if (s := kept[i]) is not None]
        standing = {i: s for i, s in zip(waiting, fitted(room.surface, tried), strict=True) if s is not None}
        edges = outlines(room.surface, list(standing.values()), [rings[i] for i in standing]) if standing else []
        near = {i: room.to_lines(s, edge, groups[i]) for (i, s), edge in zip(standing.items(), edges, strict=True)}
        kept = [standing.get(i, s) for i, s in enumerate(kept)]
        again = []
        for i, spike in zip(waiting, tried, strict=True):
            asked = groups[i].clearance
            away, line = near.get(i, (None, OFF))
            if away is not None and away >= asked - SLACK:
                continue
            if groups[i].may_shrink:
                kept[i] = smaller(spike, _less(standing.get(i), away or 0.0, groups[i]), spikes[i])
                again += [i] if kept[i] is not None else []
            else:
                short.append(Short(i, asked, away, near=line))
                kept[i] = standing.get(i)
            if kept[i] is None:
                why[i] = line
        waiting = again
    return kept, short, why


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
    return replace(spike, shape=shape)


def _apart(
    room: ClearRoom, spikes: list[Spike | None], groups: list[Group], asked: list[Spike], short: list[Short]
) -> list[Spike | None]:
    """Neighbours made smaller together until the gaps are kept; added to `short` where that is not allowed."""
    said: set[tuple[int, int]] = set()
    spikes, rings = list(spikes), room.rings(groups)
    while True:
        skins = skins_of(room.surface, spikes, rings)
        close = [pair for pair in close_pairs(skins, groups, combinations(skins, 2)) if pair[:2] not in said]
        if not close:
            return spikes
        scale: dict[int, float] = {}
        for i, j, distance, gap in close:
            may = [k for k in (i, j) if groups[k].may_shrink]
            if not may:
                said.add((i, j))
                short.append(Short(i, gap, distance, j, NEIGHBOUR))
            for k in may:
                spike = spikes[k]
                assert spike is not None
                radius = spike.shape.diameter / 2
                scale[k] = min(scale.get(k, 1.0), (radius - (gap - distance) / len(may)) / radius)
        less = {k: smaller(s, f, asked[k]) for k, f in scale.items() if (s := spikes[k]) is not None}
        standing = fitted(room.surface, [s for s in less.values() if s is not None])
        refitted = iter(standing)
        for k, s in less.items():
            spikes[k] = None if s is None else next(refitted)


def _restored(
    room: ClearRoom, kept: list[Spike | None], alone: list[Spike | None], groups: list[Group]
) -> list[Spike | None]:
    """Of neighbours that are all left out, those put back that have room without the others, with their mirror images.

    alone : as they would stand without neighbours
    """
    gone = {i: spike for i, spike in enumerate(alone) if spike is not None and kept[i] is None}
    if not gone:
        return kept
    kept = list(kept)
    skins = skins_of(room.surface, [now or spike for now, spike in zip(kept, alone, strict=True)], room.rings(groups))
    for i, spike in gone.items():
        pair = {k for k, other in gone.items() if groups[k] is groups[i] and _mirrored(other, spike)}
        there = pair | {k for k, other in enumerate(kept) if other is not None}
        if kept[i] is None and not close_pairs(
            skins, groups, ((k, n) for k in pair for n in there if n not in pair or n > k)
        ):
            kept = [alone[k] if k in pair else other for k, other in enumerate(kept)]
    return kept


def _mirrored(one: Spike, other: Spike) -> bool:
    """Whether a spike stands where the other does, or at its mirror image."""
    return bool(np.abs([one.uv[0] - other.uv[0], abs(one.uv[1]) - abs(other.uv[1])]).max() < ALIKE)
