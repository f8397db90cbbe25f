"""Closed meshes of the spikes, by lofting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError
from shellgen.geom.vectors import cross
from shellgen.model import Solid, Spike, SpikeShape, Surface
from shellgen.spikes.body import SpikeBody, make
from shellgen.spikes.fit import Underside, angles, undersides

NICK, NICK_HEIGHT = 0.6, 9.0
"""mm: depth of the turning line, plain to a thumbnail, and where it ends, under a usual ring (chosen)."""


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Master:
    """What all spikes of one master have in common.

    tilt  : of their axis from the shell's normal, in the plane of the turning line
    solid : in the spike's own frame, at its finished size
    """

    name: str
    body: SpikeBody
    under: Underside
    tilt: float
    spikes: tuple[str, ...]
    solid: Solid


def masters(surface: Surface, spikes: tuple[Spike, ...], *, glue_line: float = 0.1) -> tuple[Master, ...]:
    """The masters of the spikes, ordered by name, their undersides cut to the shell raised by the glue line."""
    groups: dict[str, list[Spike]] = {}
    for spike in spikes:
        groups.setdefault(spike.master, []).append(spike)
    same_shape: dict[SpikeShape, list[str]] = {}
    for name, group in groups.items():
        same_shape.setdefault(group[0].shape, []).append(name)
    unders: dict[str, Underside] = {}
    for shape, names in same_shape.items():
        found = undersides(surface, make(shape), [groups[name] for name in names], glue_line=glue_line)
        unders |= zip(names, found, strict=True)
    return tuple(_master(name, tuple(groups[name]), unders[name]) for name in sorted(groups))


def _master(name: str, spikes: tuple[Spike, ...], under: Underside) -> Master:
    body = make(spikes[0].shape)
    return Master(name, body, under, spikes[0].tilt, tuple(s.name for s in spikes), loft(name, body, under))


def loft(name: str, body: SpikeBody, under: Underside) -> Solid:
    """Side from the edge of the underside to the tip, and the underside, as one closed mesh, with the turning line."""
    return closed(name, _nicked(body, under.s), _tip(body), under.points[1:], under.middle)


def side(body: SpikeBody, s: Floats) -> Floats:
    """(rows, n, 3) rings of the side from the distances `s` (n,) along the spine up to the tip, which is left out."""
    return body.points(_levels(body, s), angles(body.shape))


def _nicked(body: SpikeBody, s: Floats) -> Floats:
    """`side` with the turning line: a small nick up the side from just over its edge, where the ring will hide it."""
    levels = _levels(body, s)
    rings = body.points(levels, angles(body.shape))
    height = levels[:, 0] - s[0]
    here = (height > 0.5) & (height < min(NICK_HEIGHT, 0.35 * body.length))
    inward = rings[here].mean(axis=1) - rings[here, 0]
    rings[here, 0] += NICK * inward / np.linalg.norm(inward, axis=1, keepdims=True)
    return rings


def _tip(body: SpikeBody) -> Floats:
    return np.asarray(body.points(np.array([body.length]), np.zeros(1))[0])


def to_level(body: SpikeBody, tilt: float, height: float) -> Floats:
    """(n,) distances along the spine at which the side reaches a plane parallel to the shell at its foot."""
    angle, normal = angles(body.shape), np.array([-np.sin(tilt), 0.0, np.cos(tilt)])
    s = np.full(len(angle), height)
    for _ in range(20):
        here = body.points(s, angle) @ normal - height
        rate = (body.points(s + 1e-4, angle) - body.points(s - 1e-4, angle)) @ normal / 2e-4
        s = s - here / rate
    return s


def stump(name: str, body: SpikeBody, tilt: float, height: float) -> Solid:
    """The side from its tip down to a flat cut parallel to the shell at the spike's foot."""
    rings = side(body, to_level(body, tilt, height))
    middle = rings[0].mean(axis=0)
    return closed(name, rings, _tip(body), rings[:0], middle)


def _levels(body: SpikeBody, s: Floats) -> Floats:
    """(rows, n) distances along the spine: from the edge evenly up to the first level section, then level."""
    level = body.rows[(body.rows > s.max() + 0.3) & (body.rows < body.length)]
    if not len(level):
        raise GeometryError(
            f"the {body.shape.profile} is buried in the shell up to its tip: make it higher or lean it less"
        )
    spacing = max(1.0, 2 * np.pi * body.shape.diameter / 2 / len(s) * 2)
    steps = int(np.clip(np.ceil((level[0] - s.min()) / spacing), 1, 12))
    blend = (np.arange(steps) / steps)[:, None]
    return np.concatenate([s + blend * (level[0] - s), np.broadcast_to(level[:, None], (len(level), len(s)))])


def closed(name: str, side: Floats, tip: Floats, under: Floats, middle: Floats) -> Solid:
    """A closed mesh from rings of n points each, counter-clockwise seen from the tip.

    side : (k, n, 3) from the edge to the tip; under : (m, n, 3) from inside the edge to the middle
    """
    around = side.shape[1]
    rings = np.concatenate([under[::-1], side])
    vertices = np.vstack([middle, rings.reshape(-1, 3), tip])
    first = 1 + np.arange(len(rings) - 1)[:, None] * around
    here, after = np.arange(around), (np.arange(around) + 1) % around
    a, b = first + here, first + after
    walls = np.concatenate([np.stack([a, b, b + around], -1), np.stack([a, b + around, a + around], -1)], axis=1)
    last = 1 + (len(rings) - 1) * around
    bottom = np.column_stack([np.zeros(around, int), 1 + after, 1 + here])
    top = np.column_stack([last + here, last + after, np.full(around, len(vertices) - 1)])
    return Solid(name, vertices, np.vstack([bottom, walls.reshape(-1, 3), top]))


def volume(solid: Solid) -> float:
    """mm3, by the divergence theorem about the mesh's own middle."""
    corner = (solid.vertices - solid.vertices.mean(axis=0))[solid.faces]
    return float(np.einsum("ni,ni->n", corner[:, 0], cross(corner[:, 1], corner[:, 2])).sum() / 6)


def area(solid: Solid) -> float:
    """mm2 of the whole skin, underside included."""
    corner = solid.vertices[solid.faces]
    return float(np.linalg.norm(cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1).sum() / 2)
