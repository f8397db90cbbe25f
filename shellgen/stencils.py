"""Paper masks for painting: hoods over spikes, collars round rings, sheets for plates, bands along the rim.

Each is laid flat from the finished shell's outer face, with slits whose edges slide over each other where it must bend.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from shellgen.canvas import frozen_array
from shellgen.geom import loops
from shellgen.geom.footpoint import nearest
from shellgen.geom.geodesics import laid_flat, shortest
from shellgen.model import Layout, Ring, Solid, Spike, Surface

PLAY = 1.5
"""mm between a hood and what it covers (chosen)."""
COLLAR = 30.0
"""mm that a collar reaches beyond its ring (chosen: an airbrush's spray is narrower)."""
BAND = 30.0
"""mm that a band reaches in from the rim (chosen, as for a collar)."""
GIVE = 1.5
"""mm by which paper may slide over itself at one slit before there is another (chosen)."""
AROUND = 48
STEPS = 8
BAND_LENGTH = 230.0
"""mm of a band: it goes on one sheet of paper (chosen)."""


@dataclass(frozen=True, slots=True, eq=False)
class Mask:
    """One mask laid flat.

    kind    : "hood", "collar", "plate" or "band"
    outline : (n, 2) mm, counter-clockwise, not closed; holes : the same, clockwise or not, cut out
    slits   : (2, 2) mm lines to cut in from an edge
    overlap : mm by which the edges of each slit slide over each other
    serves  : names of the spikes or plates that it fits
    """

    kind: str
    name: str
    outline: NDArray
    holes: tuple[NDArray, ...]
    slits: tuple[NDArray, ...]
    overlap: float
    serves: tuple[str, ...]


def build(
    surface: Surface,
    layout: Layout,
    spikes: tuple[Spike, ...],
    masters: tuple[Solid, ...],
    rings: tuple[Ring, ...],
) -> tuple[Mask, ...]:
    """All masks of a shell: hoods and collars one for each master, plates and bands for both halves."""
    ring = {r.spike: r for r in rings}
    solid = {s.name: s for s in masters}
    groups: dict[str, list[Spike]] = {}
    for spike in spikes:
        groups.setdefault(spike.master, []).append(spike)
    hoods = [_hood(surface, solid[name], group, ring.get(group[0].name)) for name, group in groups.items()]
    collars = [_collar(surface, name, group, ring.get(group[0].name)) for name, group in groups.items()]
    return (*hoods, *collars, *plates(surface, layout, spikes, ring), *bands(surface))


def _foot(surface: Surface, spike: Spike, ring: Ring | None) -> NDArray:
    """(n, 3) the outer foot of the ring, or of the spike without one."""
    if ring is None:
        return spike.base_curve
    return loops.offset(spike.base_curve, surface.normals(spike.seat_uv), ring.thickness)


# ---- hoods ---------------------------------------------------------------------------------------------------------


def _hood(surface: Surface, solid: Solid, group: list[Spike], ring: Ring | None) -> Mask:
    """The cone of least area over spike and ring, standing on the shell, laid flat.

    References: developed cone, sector angle 2 pi sin a (any handbook of sheet-metal work).
    """
    spike = group[0]
    normal = surface.normals(spike.uv[None])[0]
    ahead = spike.frame[:3, 0] - (spike.frame[:3, 0] @ normal) * normal
    ahead /= np.linalg.norm(ahead)
    axes = np.stack([ahead, np.cross(normal, ahead), normal], axis=1)
    place = spike.frame[:3, :3] @ solid.vertices.T
    covered = [place.T + spike.frame[:3, 3]]
    foot = _foot(surface, spike, ring)
    if ring is not None:
        covered += [foot, foot + ring.width * surface.normals(spike.seat_uv)]
    local = (np.vstack(covered) - spike.frame[:3, 3]) @ axes
    middle = local[local[:, 2] < local[:, 2].max() / 2][:, :2].mean(axis=0)
    top = local[np.argmax(local[:, 2]), :2]
    lean = (top - middle) / max(local[:, 2].max(), 1.0) / 2  # the hood's axis leans half way to the tip
    reach = np.linalg.norm(local[:, :2] - middle - local[:, 2:] * lean, axis=1) + PLAY
    height = np.maximum(local[:, 2], 0.0)

    def wide(slope: float) -> float:
        return float((reach + slope * height).max())

    def area(slope: float) -> float:
        return float(np.pi * wide(slope) ** 2 / slope * np.hypot(1.0, slope))

    slope = float(minimize_scalar(area, bounds=(0.05, 5.0), method="bounded").x)
    base = wide(slope)
    half = np.arctan(slope)
    turn = np.linspace(0, 2 * np.pi, AROUND, endpoint=False)
    drop = _drops(surface, spike, axes, base, slope, turn)
    slant = (base / slope + drop) / np.cos(half)
    sector = np.linspace(0, 2 * np.pi * np.sin(half), AROUND + 1)
    rim = np.append(slant, slant[0])[:, None] * np.stack([np.cos(sector), np.sin(sector)], axis=1)
    outline = np.vstack([[0.0, 0.0], rim])
    names = tuple(s.name for s in group)
    return Mask("hood", spike.master, frozen_array(outline), (), (), 0.0, names)


def _drops(surface: Surface, spike: Spike, axes: NDArray, base: float, slope: float, turn: NDArray) -> NDArray:
    """(n,) mm by which the shell lies below the plane of the spike's foot where a cone about it meets the shell."""
    drop = np.zeros(len(turn))
    uv = spike.seat_uv[np.linspace(0, len(spike.seat_uv), len(turn), endpoint=False).astype(int)]
    for _ in range(4):
        ring = (base + slope * drop)[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        points = spike.frame[:3, 3] + ring @ axes[:, :2].T - drop[:, None] * axes[:, 2]
        uv = nearest(surface, points, uv)
        drop = drop - ((surface.points(uv) - points) @ axes[:, 2])
    return np.maximum(drop, 0.0)


# ---- sheets about a middle: collars and plates ---------------------------------------------------------------------


def _about(surface: Surface, middle: NDArray, uv: NDArray, ahead: NDArray | None = None) -> NDArray:
    """(n, 2) places laid flat about a middle: each at its true distance and in its true direction from there.

    References: azimuthal equidistant projection (Snyder, Map Projections, USGS PP 1395, 1987, section 25), here about
    any place of any dome: geodesic polar coordinates.
    """
    away = shortest(surface, middle, uv, steps=STEPS, close=1e-6)
    normal = surface.normals(middle[None])[0]
    first = surface.tangents(middle[None])[0, :, 0] if ahead is None else ahead - (ahead @ normal) * normal
    first = first / np.linalg.norm(first)
    return away.length[:, None] * np.stack([away.heading @ first, away.heading @ np.cross(normal, first)], axis=1)


def _slits(flat: NDArray, points: NDArray, inner: float) -> tuple[tuple[NDArray, ...], float]:
    """Cuts from the edge inwards as far as `inner`, as a share of the way out, and by how much their edges overlap: the
    flat edge is longer than the edge on the dome, and each slit takes up to GIVE of the difference."""
    edge = np.linalg.norm(np.diff(np.vstack([flat, flat[:1]]), axis=0), axis=1)
    true = np.linalg.norm(np.diff(np.vstack([points, points[:1]]), axis=0), axis=1).sum()
    excess = float(edge.sum() - true)
    count = int(np.ceil(excess / GIVE - 1e-9)) if excess > 0.25 * GIVE else 0
    if not count:
        return (), max(excess, 0.0)
    along = np.concatenate([[0.0], np.cumsum(edge)])
    spots = (np.arange(count) + 0.5) / count * along[-1]
    ends = np.array([[np.interp(s, along, np.append(flat[:, k], flat[0, k])) for k in (0, 1)] for s in spots])
    return tuple(frozen_array(np.array([end, inner * end])) for end in ends), excess / count


def _collar(surface: Surface, name: str, group: list[Spike], ring: Ring | None) -> Mask:
    """An annulus that lies on the shell round a ring, to shield the plate; slit once to be laid round."""
    spike = group[0]
    foot = _foot(surface, spike, ring)
    every = max(1, len(foot) // AROUND)
    inner_uv = nearest(surface, foot, spike.seat_uv)[::every]
    outward = loops.frames(spike.base_curve, surface.normals(spike.seat_uv))[1]
    outer_uv = nearest(surface, (foot + COLLAR * outward)[::every], inner_uv)
    inner, outer = np.split(_about(surface, spike.uv, np.vstack([inner_uv, outer_uv]), spike.frame[:3, 0]), 2)
    slits, overlap = _slits(
        outer, surface.points(outer_uv), 1.1 * float((np.hypot(*inner.T) / np.hypot(*outer.T)).max())
    )
    entry = frozen_array(np.array([outer[0], inner[0]]))
    names = tuple(s.name for s in group)
    return Mask("collar", name, frozen_array(outer), (frozen_array(inner),), (entry, *slits[1:]), overlap, names)


def plates(surface: Surface, layout: Layout, spikes: tuple[Spike, ...], rings: dict[str, Ring]) -> tuple[Mask, ...]:
    """Each plate laid flat about its middle, with a hole for its spike and ring."""
    standing: dict[int, list[Spike]] = {}
    for spike in spikes:
        standing.setdefault(spike.plate, []).append(spike)
    made: dict[int, Mask] = {}
    for index, plate in enumerate(layout.plates):
        here, there = standing.get(index, []), standing.get(plate.mirror, [])
        if plate.mirror in made and plate.mirror != index and _mirrored(here, there):
            made[index] = _flipped(made[plate.mirror], plate.name)
        else:
            made[index] = _plate(surface, layout, index, here, rings)
    return tuple(made[index] for index in range(len(layout.plates)))


def _mirrored(first: list[Spike], second: list[Spike]) -> bool:
    """Whether the spikes of two plates are mirror images."""
    return len(first) == len(second) and all(
        a.shape == b.shape and np.abs(a.uv - b.uv * [1, -1]).max() < 1e-9 for a, b in zip(first, second, strict=True)
    )


def _flipped(mask: Mask, name: str) -> Mask:
    """The mirror image, under its own name."""
    flip = np.array([1.0, -1.0])
    return Mask(
        mask.kind,
        name,
        frozen_array((mask.outline * flip)[::-1]),
        tuple(frozen_array(hole * flip) for hole in mask.holes),
        tuple(frozen_array(slit * flip) for slit in mask.slits),
        mask.overlap,
        (name,) if mask.serves else (),
    )


def _plate(surface: Surface, layout: Layout, index: int, here: list[Spike], rings: dict[str, Ring]) -> Mask:
    uv = _border(layout, index)
    middle = here[0].uv if len(here) == 1 else _middle(uv)
    feet = [nearest(surface, _foot(surface, s, rings.get(s.name))[::2], s.seat_uv[::2]) for s in here]
    flat, *holes = np.split(
        _about(surface, middle, np.vstack([uv, *feet])), np.cumsum([len(uv), *(len(f) for f in feet)])[:-1]
    )
    reach = max((float(np.hypot(*hole.T).max()) for hole in holes), default=0.0)
    inner = min(0.9, (reach + 5.0) / float(np.hypot(*flat.T).min())) if reach else 0.3
    slits, overlap = _slits(flat, surface.points(uv), inner)
    name = layout.plates[index].name
    return Mask("plate", name, frozen_array(flat), tuple(frozen_array(hole) for hole in holes), slits, overlap, (name,))


def _middle(uv: NDArray) -> NDArray:
    """Centre of area of a polygon in the domain."""
    x, y = (uv - uv[0]).T
    cross = x * np.roll(y, -1) - y * np.roll(x, -1)
    return uv[0] + np.array([((x + np.roll(x, -1)) * cross).sum(), ((y + np.roll(y, -1)) * cross).sum()]) / (
        3 * cross.sum()
    )


def _border(layout: Layout, index: int) -> NDArray:
    """(n, 2) uv round a plate, counter-clockwise, thinned; the midline inside it left out."""
    cells = set(layout.plates[index].cells)
    edges: dict[int, tuple[NDArray, int]] = {}
    for cell in layout.plates[index].cells:
        for line, turn in layout.cells[cell]:
            of = layout.lines[line]
            if {of.left, of.right} <= cells:
                continue
            uv = of.uv if turn > 0 else of.uv[::-1]
            start, end = (of.start, of.end) if turn > 0 else (of.end, of.start)
            edges[start] = (uv[:: max(1, len(uv) // STEPS)] if len(uv) > STEPS else uv, end)
            edges[start] = (np.vstack([edges[start][0][:-1], uv[-1:]]), end)
    node = min(edges)
    parts = []
    for _ in range(len(edges)):
        uv, node = edges[node]
        parts.append(uv[:-1])
    return np.vstack(parts)


# ---- bands ---------------------------------------------------------------------------------------------------------


def bands(surface: Surface) -> tuple[Mask, ...]:
    """Strips along the rim, from the head round by the left; the right ones are their mirror images."""
    count = 720
    turn = np.linspace(0, np.pi, count + 1)
    uv = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    points, normals = surface.points(uv), surface.normals(uv)
    along = np.concatenate([[0.0], np.linalg.norm(np.diff(points, axis=0), axis=1).cumsum()])
    parts = int(np.ceil(along[-1] / BAND_LENGTH))
    cuts = np.searchsorted(along, along[-1] * np.arange(parts + 1) / parts)
    result: list[Mask] = []
    for number, (a, b) in enumerate(zip(cuts[:-1], np.minimum(cuts[1:], count), strict=True), 1):
        some = np.unique(np.append(np.arange(a, b, 6), b))
        flat = laid_flat(points[a : b + 1], normals[a : b + 1])[some - a]
        edge = np.diff(flat, axis=0, append=2 * flat[-1:] - flat[-2:-1])
        left = np.stack([-edge[:, 1], edge[:, 0]], axis=1) / np.hypot(*edge.T)[:, None]
        inner = flat + BAND * left
        slits, overlap = _band_slits(surface, points[some], normals[some], uv[some], flat, inner)
        outline = np.vstack([flat, inner[::-1]])
        result.append(Mask("band", f"L-{number}", frozen_array(outline), (), slits, overlap, ()))
    return (*result, *(_flipped(m, f"R{m.name[1:]}") for m in result))


def _band_slits(
    surface: Surface, points: NDArray, normals: NDArray, uv: NDArray, flat: NDArray, inner: NDArray
) -> tuple[tuple[NDArray, ...], float]:
    """Slits from the inner edge of a band where that is longer flat than on the dome, or opens less."""
    tangent = np.gradient(points, axis=0)
    inward = np.cross(normals, tangent)
    inward /= np.linalg.norm(inward, axis=1, keepdims=True)
    uv = nearest(surface, points + BAND * inward, uv)
    true = np.linalg.norm(np.diff(surface.points(uv), axis=0), axis=1).sum()
    excess = float(abs(np.linalg.norm(np.diff(inner, axis=0), axis=1).sum() - true))
    count = int(np.ceil(excess / GIVE - 1e-9)) if excess > 0.25 * GIVE else 0
    at = ((np.arange(count) + 0.5) / max(count, 1) * (len(flat) - 1)).astype(int)
    return tuple(frozen_array(np.array([inner[k], flat[k] + 0.2 * (inner[k] - flat[k])])) for k in at), excess / max(
        count, 1
    )
