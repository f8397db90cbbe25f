"""Where a spike meets the shell: its base curve, its underside, and which spikes may share one master."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.cluster.hierarchy import fcluster, linkage

from shellgen.core.arrays import Bools, Floats
from shellgen.errors import FitError
from shellgen.geom.vectors import cross
from shellgen.model import Spike, SpikeShape, Surface
from shellgen.spikes.body import SpikeBody, make

AROUND = 96
"""Points on a base curve (chosen: with Fourier series that is ten digits of its length on any smooth dome)."""
STEP = 1e-4
"""mm, for derivatives along the spike's side by central differences: good to 1e-9."""
ROUNDS = 30
CLOSE = 1e-7
"""mm: a meeting point this near to both is met."""
LEAST_WEDGE = np.radians(5)
"""Least angle of clay between a spike's side and the shell (chosen: under 1 mm of clay 10 mm from its edge flakes off
foam; and a base is no smooth curve where the side hardly differs from the shell)."""


@dataclass(frozen=True, slots=True, eq=False)
class Bases:
    """Where one body, standing in k frames, meets a surface.

    s      : (k, n) distance along the spine of each meeting point, at even angles from the turning line
    points : (k, n, 3) mm, in the shell's frame
    uv     : (k, n, 2) in the domain
    stands : (k,) whether it meets the surface all round
    """

    s: Floats
    points: Floats
    uv: Floats
    stands: Bools


def angles(shape: SpikeShape) -> Floats:
    """(n,) even angles about the spine, n a multiple of 4 and of the ridges: quarters and crests have their own."""
    step = 4 * max(1, shape.ridges)
    return np.linspace(0, 2 * np.pi, step * -(-AROUND // step), endpoint=False)


def meet(
    surface: Surface, curve: Callable[[Floats], Floats], t: Floats, uv: Floats, *, offset: float = 0.0
) -> tuple[Floats, Floats, Floats]:
    """Where each of k x n curves goes through the surface, by Newton's method: parameters (k, n), uv (k, n, 2) and
    whether they were found (k, n).

    curve : maps (k, n) parameters to (k, n, 3) points, one on each curve
    t, uv : where to begin
    """
    shape = t.shape
    for _ in range(ROUNDS):
        flat = uv.reshape(-1, 2)
        gap = surface.points(flat, offset=offset) - curve(t).reshape(-1, 3)
        if np.abs(gap).max() < CLOSE:
            break
        along = (curve(t + STEP) - curve(t - STEP)).reshape(-1, 3) / (2 * STEP)
        move = -_solved(surface.tangents(flat, offset=offset), -along, gap)
        uv = _into_disc(flat + np.clip(move[:, :2], -0.2, 0.2)).reshape(*shape, 2)
        t = t + np.clip(move[:, 2], -1e3, 1e3).reshape(shape)
    return t, uv, (np.abs(gap).max(axis=1) < CLOSE).reshape(shape)


def _solved(tangents: Floats, third: Floats, gap: Floats) -> Floats:
    """(n, 3) x with [tangents, third] x = gap, by Cramer's rule; large but finite where that is singular."""
    a, b = tangents[:, :, 0], tangents[:, :, 1]
    whole = (cross(a, b) * third).sum(axis=1)
    whole = np.where(np.abs(whole) < 1e-9, 1e-9, whole)
    parts = (cross(gap, b) * third, cross(a, gap) * third, cross(a, b) * gap)
    return np.stack([part.sum(axis=1) for part in parts], axis=1) / whole[:, None]


def _into_disc(uv: Floats) -> Floats:
    """Points beyond the rim brought back to it."""
    return uv / np.maximum(1.0, np.hypot(uv[..., 0], uv[..., 1]))[..., None]


def bases(surface: Surface, body: SpikeBody, frames: Floats, uv: Floats, *, offset: float = 0.0) -> Bases:
    """Where the body, in frames (k, 4, 4) at uv (k, 2), meets the outer face moved outward by `offset`."""
    angle = angles(body.shape)

    def side(s: Floats) -> Floats:
        return to_shell(frames, body.points(s, angle))

    start = np.zeros((len(frames), len(angle)))
    s, where, met = meet(surface, side, start, _guess(surface, uv, side(start)))
    if offset:  # from the face itself: from afar, a ray of a low cone can end at another face of the shell
        s, where, met = meet(surface, side, s, where, offset=offset)
    return Bases(s, side(s), where, met.all(axis=1) & (s.max(axis=1) < 0.95 * body.length))


def _guess(surface: Surface, uv: Floats, points: Floats) -> Floats:
    """uv (k, n, 2) of points (k, n, 3) near the places uv (k, 2), as if the shell were flat at each."""
    back = np.linalg.pinv(surface.tangents(uv))
    away = points - surface.points(uv)[:, None]
    return _into_disc(uv[:, None] + np.einsum("kai,kni->kna", back, away))


def floors(surface: Surface, spikes: Sequence[Spike], xy: Floats, *, offset: float) -> Floats:
    """(k, n) height of the surface in each spike's frame over the places `xy` (n, 2) or (k, n, 2) of its base plane.

    FitError where the surface does not reach so far.
    """
    frames, uv = np.stack([s.frame for s in spikes]), np.stack([s.uv for s in spikes])

    def plumb(z: Floats) -> Floats:
        flat = np.broadcast_to(xy, (*z.shape, 2))
        return to_shell(frames, np.concatenate([flat, z[..., None]], axis=-1))

    start = np.zeros((len(spikes), xy.shape[-2]))
    z, _, met = meet(surface, plumb, start, _guess(surface, uv, plumb(start)), offset=offset)
    _must_stand(spikes, np.asarray(met.all(axis=1)))
    return z


def _must_stand(spikes: Sequence[Spike], stands: Bools) -> None:
    if not stands.all():
        name = spikes[int(np.argmin(stands))].name
        raise FitError(f"{name} hangs over the rim of the shell: move it inward or make it smaller")


def fitted(surface: Surface, spikes: Sequence[Spike]) -> list[Spike | None]:
    """The spikes with their base curves, seats and flanks; None for one that does not meet the shell all round, or that
    runs out on it too thin."""
    done: list[Spike | None] = [None] * len(spikes)
    for shape in dict.fromkeys(s.shape for s in spikes):
        same_shape = [i for i, s in enumerate(spikes) if s.shape == shape]
        body, frames = make(shape), np.stack([spikes[i].frame for i in same_shape])
        found = bases(surface, body, frames, np.stack([spikes[i].uv for i in same_shape]))
        up = body.points(found.s + STEP, angles(shape)) - body.points(found.s - STEP, angles(shape))
        up = up / np.linalg.norm(up, axis=-1, keepdims=True) @ frames[:, :3, :3].transpose(0, 2, 1)
        thick = _wedges(surface, body, frames, found, up).min(axis=1) >= LEAST_WEDGE
        for k, i in enumerate(same_shape):
            if found.stands[k] and thick[k]:
                done[i] = replace(spikes[i], base_curve=found.points[k], seat_uv=found.uv[k], flank=up[k])
    return done


def _wedges(surface: Surface, body: SpikeBody, frames: Floats, found: Bases, up: Floats) -> Floats:
    """(k, n) angle between the outward normals of side and shell at each point of the bases. up : (k, n, 3) flanks"""
    angle = angles(body.shape)
    along = body.points(found.s, angle + STEP) - body.points(found.s, angle - STEP)
    side = cross(along @ frames[:, :3, :3].transpose(0, 2, 1), up)
    shell = surface.normals(found.uv.reshape(-1, 2)).reshape(side.shape)
    cosine = (side * shell).sum(axis=-1) / np.maximum(np.linalg.norm(side, axis=-1), 1e-12)  # 0 where none was met
    return np.asarray(np.arccos(np.clip(cosine, -1, 1)))


def to_shell(frames: Floats, points: Floats) -> Floats:
    """Points (..., n, 3) of spikes' own frames (..., 4, 4) in the shell's."""
    return points @ np.swapaxes(frames[..., :3, :3], -1, -2) + frames[..., None, :3, 3]


def share_masters(surface: Surface, spikes: tuple[Spike, ...], *, tolerance: float) -> tuple[Spike, ...]:
    """The spikes, each with the name of its master: one for all whose figures are equal and whose bases nowhere
    differ by more than `tolerance`, any two of them.
    """
    masters = [""] * len(spikes)
    taken: set[str] = set()
    for shape in sorted({s.shape for s in spikes}, key=lambda f: (f.profile, -f.diameter, -f.height, repr(f))):
        same_shape = [i for i, s in enumerate(spikes) if s.shape == shape]
        groups = _agreeing(surface, [spikes[i] for i in same_shape], tolerance)
        stem = f"{shape.profile}-{shape.diameter:.0f}x{shape.height:.0f}"
        names = (n for n in (f"{stem}-{_letters(k)}" for k in range(10**4)) if n not in taken)
        order = {group: next(names) for group in dict.fromkeys(groups)}
        taken |= set(order.values())
        for i, group in zip(same_shape, groups, strict=True):
            masters[i] = order[group]
    return tuple(replace(s, master=m) for s, m in zip(spikes, masters, strict=True))


def _letters(k: int) -> str:
    """a, b, ... z, aa, ab, ..."""
    return (_letters(k // 26 - 1) if k >= 26 else "") + chr(ord("a") + k % 26)


def _agreeing(surface: Surface, spikes: list[Spike], tolerance: float) -> list[int]:
    """A group number for each spike: in a group no two bases differ by more than `tolerance`."""
    if len(spikes) == 1:
        return [0]
    shape = spikes[0].shape
    reach, angle = np.meshgrid([0.35, 0.7, 1.0], np.linspace(0, 2 * np.pi, 24, endpoint=False))
    xy = np.column_stack(
        [
            reach.ravel() * shape.diameter / 2 * np.cos(angle.ravel()),
            reach.ravel() * shape.width / 2 * np.sin(angle.ravel()),
        ]
    )
    tree = linkage(floors(surface, spikes, xy, offset=0.0), method="complete", metric="chebyshev")
    return [int(g) for g in fcluster(tree, tolerance, criterion="distance")]


@dataclass(frozen=True, slots=True, eq=False)
class Underside:
    """The base that a master is cut to, in its own frame: midway between those of the spikes that share it.

    s      : (n,) where the side ends
    points : (k, n, 3) rings of the underside, from its edge towards its middle
    middle : (3,)
    """

    s: Floats
    points: Floats
    middle: Floats


def undersides(
    surface: Surface, body: SpikeBody, groups: Sequence[Sequence[Spike]], *, glue_line: float
) -> list[Underside]:
    """The shell's outer face raised by the glue line, under the spikes that share a master: for each such group of
    spikes of one body."""
    spikes = [spike for group in groups for spike in group]
    ends = np.cumsum([0, *map(len, groups)])
    spans = list(map(slice, ends[:-1], ends[1:]))
    frames, uv = np.stack([s.frame for s in spikes]), np.stack([s.uv for s in spikes])
    found = bases(surface, body, frames, uv, offset=glue_line)
    _must_stand(spikes, found.stands)
    s = np.stack([_midway(found.s[span]) for span in spans])
    edges = body.points(s, angles(body.shape))
    rings = max(6, int(np.ceil(max(body.shape.diameter, body.shape.width) / 5)))
    shares = np.linspace(1, 0, rings, endpoint=False)
    xy = shares[:, None, None] * edges[:, None, :, :2]
    inner = np.concatenate([xy[:, 1:].reshape(len(xy), -1, 2), np.zeros((len(xy), 1, 2))], axis=1)
    heights = floors(surface, spikes, np.repeat(inner, np.diff(ends), axis=0), offset=glue_line)
    made = []
    for k, span in enumerate(spans):
        z = _midway(heights[span])
        up = np.concatenate([edges[k][None, :, 2], z[:-1].reshape(rings - 1, -1)])
        points = np.concatenate([xy[k], up[..., None]], axis=2)
        made.append(Underside(s[k], points, np.array([0.0, 0.0, z[-1]])))
    return made


def _midway(values: Floats) -> Floats:
    """Halfway between the least and the greatest of the rows."""
    return np.asarray(0.5 * (values.min(axis=0) + values.max(axis=0)))
