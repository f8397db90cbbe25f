"""Where a spike meets the shell: its base curve, its underside, and which spikes may share one master."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.cluster.hierarchy import fcluster, linkage

from shellgen.errors import FitError, GeometryError
from shellgen.model import Spike, SpikeShape, Surface
from shellgen.spikes.body import Body, make

AROUND = 96
"""Points on a base curve (chosen: with Fourier series that is ten digits of its length on any smooth dome)."""
STEP = 1e-4
"""mm, for derivatives along the spike's side by central differences: good to 1e-9."""
ROUNDS = 30
CLOSE = 1e-7
"""mm: a meeting point this near to both is met."""


@dataclass(frozen=True, slots=True, eq=False)
class Base:
    """Where a body meets a surface.

    s      : (n,) distance along the spine of each meeting point, at even angles from the turning line
    points : (n, 3) mm, in the shell's frame
    uv     : (n, 2) in the domain
    """

    s: NDArray
    points: NDArray
    uv: NDArray


def angles(shape: SpikeShape) -> NDArray:
    """(n,) even angles about the spine, n a multiple of 4 and of the ridges: quarters and crests have their own."""
    step = 4 * max(1, shape.ridges)
    return np.linspace(0, 2 * np.pi, step * -(-AROUND // step), endpoint=False)


def meet(
    surface: Surface, curve: Callable[[NDArray], NDArray], t: NDArray, uv: NDArray, *, offset: float = 0.0
) -> tuple[NDArray, NDArray]:
    """(n,) parameters and (n, 2) uv where each of n curves goes through the surface, by Newton's method.

    curve : maps (n,) parameters to (n, 3) points, one on each curve
    t, uv : where to begin
    FitError where a curve does not meet the surface.
    """
    for _ in range(ROUNDS):
        gap = surface.points(uv, offset=offset) - curve(t)
        if np.abs(gap).max() < CLOSE:
            return t, uv
        along = (curve(t + STEP) - curve(t - STEP)) / (2 * STEP)
        jacobian = np.concatenate([surface.tangents(uv, offset=offset), -along[:, :, None]], axis=2)
        try:
            move = -np.linalg.solve(jacobian, gap[:, :, None])[:, :, 0]
        except np.linalg.LinAlgError:
            break
        uv = _into_disc(uv + np.clip(move[:, :2], -0.2, 0.2))
        t = t + move[:, 2]
    raise FitError("it does not meet the shell all round: it leans too far for its width or hangs over the rim")


def _into_disc(uv: NDArray) -> NDArray:
    """Points beyond the rim brought back to it."""
    return uv / np.maximum(1.0, np.hypot(uv[:, 0], uv[:, 1]))[:, None]


def foot(surface: Surface, points: NDArray, uv: NDArray) -> NDArray:
    """(n, 2) uv of the nearest places on the outer face to points near it, from a first guess `uv`."""
    for _ in range(ROUNDS):
        tangents = surface.tangents(uv)
        away = points - surface.points(uv)
        metric = np.einsum("nia,nib->nab", tangents, tangents)
        move = np.linalg.solve(metric, np.einsum("nia,ni->na", tangents, away)[:, :, None])[:, :, 0]
        uv = _into_disc(uv + np.clip(move, -0.2, 0.2))
        if np.abs(move).max() < 1e-12:
            break
    return uv


def base(surface: Surface, body: Body, frame: NDArray, uv: NDArray, *, offset: float = 0.0) -> Base:
    """Where the body's side meets the outer face moved outward by `offset`. FitError if it does not all round."""
    angle = angles(body.shape)

    def side(s: NDArray) -> NDArray:
        return to_shell(frame, body.points(s, angle))

    s = np.zeros(len(angle))
    s, where = meet(surface, side, s, _guess(surface, uv, side(s)), offset=offset)
    if s.max() > 0.95 * body.length:
        raise FitError("it is sunk into the shell up to its tip: make it higher or lean it less")
    return Base(s, side(s), where)


def _guess(surface: Surface, uv: NDArray, points: NDArray) -> NDArray:
    """uv of points near the place `uv` (2,), as if the shell were flat there."""
    tangent = surface.tangents(uv[None])[0]
    away = points - surface.points(uv[None])[0]
    return _into_disc(uv + np.linalg.lstsq(tangent, away.T, rcond=None)[0].T)


def flank(body: Body, frame: NDArray, s: NDArray) -> NDArray:
    """(n, 3) unit directions up the side at the meeting points."""
    angle = angles(body.shape)
    up = body.points(s + STEP, angle) - body.points(s - STEP, angle)
    return (up / np.linalg.norm(up, axis=1, keepdims=True)) @ frame[:3, :3].T


def floor(surface: Surface, spike: Spike, xy: NDArray, *, offset: float) -> NDArray:
    """(n,) height of the surface in the spike's frame over the places `xy` (n, 2) of its base plane."""
    frame = spike.frame

    def plumb(z: NDArray) -> NDArray:
        return to_shell(frame, np.column_stack([xy, z]))

    z = np.zeros(len(xy))
    return meet(surface, plumb, z, _guess(surface, spike.uv, plumb(z)), offset=offset)[0]


def to_shell(frame: NDArray, points: NDArray) -> NDArray:
    """Points of a spike's own frame in the shell's."""
    return points @ frame[:3, :3].T + frame[:3, 3]


def to_spike(frame: NDArray, points: NDArray) -> NDArray:
    """Points of the shell's frame in a spike's own."""
    return (points - frame[:3, 3]) @ frame[:3, :3]


def share(surface: Surface, spikes: tuple[Spike, ...], *, tolerance: float) -> tuple[Spike, ...]:
    """The spikes, each with the name of its master: one for all whose figures are equal and whose bases nowhere
    differ by more than `tolerance`, any two of them.
    """
    masters = [""] * len(spikes)
    taken: set[str] = set()
    for shape in sorted({s.shape for s in spikes}, key=lambda f: (f.profile, -f.diameter, -f.height, repr(f))):
        alike = [i for i, s in enumerate(spikes) if s.shape == shape]
        groups = _agreeing(surface, [spikes[i] for i in alike], tolerance)
        stem = f"{shape.profile}-{shape.diameter:g}x{shape.height:g}"
        names = (n for n in (f"{stem}-{_letters(k)}" for k in range(10**4)) if n not in taken)
        order = {group: next(names) for group in dict.fromkeys(groups)}
        taken |= set(order.values())
        for i, group in zip(alike, groups, strict=True):
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
    floors = np.stack([floor(surface, spike, xy, offset=0.0) for spike in spikes])
    tree = linkage(floors, method="complete", metric="chebyshev")
    return [int(g) for g in fcluster(tree, tolerance, criterion="distance")]


@dataclass(frozen=True, slots=True, eq=False)
class Underside:
    """The base that a master is cut to, in its own frame: midway between those of the spikes that share it.

    s      : (n,) where the side ends
    points : (k, n, 3) rings of the underside, from its edge towards its middle
    middle : (3,)
    """

    s: NDArray
    points: NDArray
    middle: NDArray


def underside(surface: Surface, body: Body, spikes: tuple[Spike, ...], *, glue_line: float) -> Underside:
    """The shell's outer face raised by the glue line, under the spikes that share a master."""
    ends = np.stack([base(surface, body, spike.frame, spike.uv, offset=glue_line).s for spike in spikes])
    s = _midway(ends)
    edge = body.points(s, angles(body.shape))
    rings = max(6, int(np.ceil(max(body.shape.diameter, body.shape.width) / 5)))
    share_out = np.linspace(1, 0, rings, endpoint=False)
    xy = share_out[:, None, None] * edge[None, :, :2]
    flat = np.vstack([xy[1:].reshape(-1, 2), [[0.0, 0.0]]])
    z = _midway(np.stack([floor(surface, spike, flat, offset=glue_line) for spike in spikes]))
    points = np.concatenate([xy, np.concatenate([edge[None, :, 2], z[:-1].reshape(rings - 1, -1)])[..., None]], axis=2)
    return Underside(s, points, np.array([0.0, 0.0, z[-1]]))


def _midway(values: NDArray) -> NDArray:
    """Halfway between the least and the greatest of the rows."""
    return 0.5 * (values.min(axis=0) + values.max(axis=0))


def fitted(surface: Surface, spike: Spike) -> Spike:
    """The spike with its base curve, seat and flank. FitError, naming it, if it does not meet the shell."""
    try:
        body = make(spike.shape)
        ring = base(surface, body, spike.frame, spike.uv)
    except (FitError, GeometryError) as error:
        raise type(error)(f"{spike.name}: {error}") from None
    return replace(spike, base_curve=ring.points, seat_uv=ring.uv, flank=flank(body, spike.frame, ring.s))
