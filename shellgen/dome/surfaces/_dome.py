"""Domes as smooth images of the unit hemisphere: shared by the surface kinds.

The disc is wound onto the upper hemisphere by the azimuthal equidistant map, (u, v) -> s = (p, q, w), which is smooth
at the pole and even in v where it must be; a kind then says only where each s goes. Since s is the hemisphere's own
normal, the dome's normal is cof(DF) s, and no pole, no division by the radius enters anywhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError
from shellgen.geom import patches
from shellgen.geom.vectors import cross

QUARTER = np.pi / 2
TIGHTEST = 12.0
"""Least radius, mm, over which the outer face may bend. Chosen: the inner face of 10 mm foam would else fold up."""


_NEAR = 0.5


class Jet(NamedTuple):
    """Where s goes, and how; derivatives that were not asked for may be zero.

    value  : (n, 3) mm
    first  : (3, n, 3): derivatives by p, q and w
    second : (3, 3, n, 3): second derivatives
    """

    value: Floats
    first: Floats
    second: Floats


class Embedding(Protocol):
    """Called with p, q and w, (n,) each; order : up to which derivatives are wanted."""

    def __call__(self, p: Floats, q: Floats, w: Floats, /, *, order: int = 2) -> Jet: ...


def blank(n: int) -> Jet:
    """Room for n places; a page of noughts costs nothing before it is written on."""
    return Jet(np.zeros((n, 3)), np.zeros((3, n, 3)), np.zeros((3, 3, n, 3)))


def sphere(uv: Floats) -> Floats:
    """s (n, 3).

    References: azimuthal equidistant projection, Snyder, Map Projections, USGS PP 1395, 1987, eq. 25-1 to 25-3,
    written with sin x / x so that it holds at the pole.
    """
    return _wound(uv[:, 0], uv[:, 1])[0]


def hemisphere(uv: Floats) -> tuple[Floats, Floats]:
    """s (n, 3), and its derivatives by u and v (2, n, 3)."""
    u, v = uv[:, 0], uv[:, 1]
    s, x, ratio = _wound(u, v)
    slope = -(QUARTER**3) * _bend(x)  # d ratio / dr / r
    by = np.empty((2, len(uv), 3))
    by[0, :, 0], by[1, :, 1] = ratio + u * u * slope, ratio + v * v * slope
    by[0, :, 1] = by[1, :, 0] = u * v * slope
    by[0, :, 2], by[1, :, 2] = -QUARTER * u * ratio, -QUARTER * v * ratio
    return s, by


def _wound(u: Floats, v: Floats) -> tuple[Floats, Floats, Floats]:
    """s (n, 3), the angle x from the pole, and sin(x) / r."""
    x = QUARTER * np.sqrt(u * u + v * v)
    ratio = QUARTER * np.sinc(x / np.pi)
    w = np.cos(x)
    s = np.empty((len(x), 3))
    s[:, 0], s[:, 1] = u * ratio, v * ratio
    s[:, 2] = np.where(np.abs(w) < 1e-15, 0.0, w)  # cos(pi / 2) rounds to 6e-17: the rim lies in its plane
    return s, x, ratio


def _bend(x: Floats) -> Floats:
    """(sin x - x cos x) / x^3, by its series where the difference would lose digits."""
    sine, cosine = np.sin(x), np.cos(x)
    series, far = np.ones_like(x), np.maximum(x, _NEAR)
    for term in (180, 130, 88, 54, 28, 10):  # 2 k (2 k + 3), k = 6 ... 1
        series = 1 - x * x / term * series
    return np.where(x < _NEAR, series / 3, (sine - x * cosine) / (far * far * far))


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Dome:
    """A Surface (see `model`): the image of the hemisphere under `embedding`.

    The embedding must be even in q in x and z, odd in y, and put the rim w = 0 into z = 0.
    """

    embedding: Embedding

    def points(self, uv: Floats, *, offset: float = 0.0) -> Floats:
        s = sphere(uv)
        jet = self.embedding(*s.T, order=int(offset != 0))
        return jet.value if offset == 0 else jet.value + offset * _unit(_cofactor(jet, s))

    def normals(self, uv: Floats) -> Floats:
        s = sphere(uv)
        return _unit(_cofactor(self.embedding(*s.T, order=1), s))

    def tangents(self, uv: Floats, *, offset: float = 0.0) -> Floats:
        s, by = hemisphere(uv)
        jet = self.embedding(*s.T, order=1 + (offset != 0))
        tangent = [_along(jet.first, d) for d in by]
        if offset != 0:
            cofactor = _cofactor(jet, s)
            size = np.linalg.norm(cofactor, axis=1, keepdims=True)
            normal = cofactor / size
            for i, d in enumerate(by):
                change = _cofactor_change(jet, s, d) / size
                change = change - normal * (normal * change).sum(axis=1, keepdims=True)
                tangent[i] = tangent[i] + offset * change
        return np.stack(tangent, axis=2)


def _along(partials: Floats, direction: Floats) -> Floats:
    """(n, 3) derivative in the directions (n, 3), written out so that mirrored input is summed in mirrored order."""
    result: Floats = partials[0] * direction[:, :1] + partials[1] * direction[:, 1:2] + partials[2] * direction[:, 2:]
    return result


def _cofactor(jet: Jet, s: Floats) -> Floats:
    """cof(DF) s, (n, 3): the image of the area element of the sphere."""
    by_p, by_q, by_w = jet.first
    return s[:, :1] * cross(by_q, by_w) + s[:, 1:2] * cross(by_w, by_p) + s[:, 2:] * cross(by_p, by_q)


def _cofactor_change(jet: Jet, s: Floats, direction: Floats) -> Floats:
    """Derivative of `_cofactor` as s moves in `direction`."""
    by_p, by_q, by_w = jet.first
    p_moves, q_moves, w_moves = (_along(row, direction) for row in jet.second)
    return (
        _cofactor(jet, direction)
        + s[:, :1] * (cross(q_moves, by_w) + cross(by_q, w_moves))
        + s[:, 1:2] * (cross(w_moves, by_p) + cross(by_w, p_moves))
        + s[:, 2:] * (cross(p_moves, by_q) + cross(by_p, q_moves))
    )


def _unit(vectors: Floats) -> Floats:
    result: Floats = vectors / np.linalg.norm(vectors, axis=1, keepdims=True)
    return result


def check(dome: Dome, *, rings: int = 48, spokes: int = 96) -> None:
    """GeometryError unless the dome stands over its plan without folds: on a grid the normal nowhere points down,
    no point lies under the rim's plane, the rim lies in it, and no bend is tighter than TIGHTEST. A surface that is
    such a graph does not meet itself.
    """
    uv = patches.polar_grid(np.linspace(0, 1, rings + 1)[1:], spokes)
    rim = np.arange(len(uv)) >= len(uv) - spokes
    s = sphere(uv)
    jet = dome.embedding(*s.T, order=1)
    cofactor = _cofactor(jet, s)
    size = np.linalg.norm(cofactor, axis=1)
    span = np.ptp(jet.value, axis=0).max()
    if not np.isfinite(cofactor).all() or (size < 1e-6 * span**2).any():
        raise GeometryError("the dome folds to a point or a crease: ask for less taper, squareness, keel or flare")
    if (cofactor[:, 2] < -1e-9 * size).any() or (cofactor[~rim, 2] <= 0).any():
        raise GeometryError("the dome overhangs its own rim: ask for less taper, squareness, crown or flare")
    if (jet.value[:, 2] < 0).any() or np.abs(jet.value[rim, 2]).max() > 1e-9 * span:
        raise GeometryError("the dome dips under the plane of its rim: ask for less keel or a greater fullness")
    radius = 1 / patches.curvatures(dome, uv).max()
    if radius < TIGHTEST:
        raise GeometryError(
            f"the dome bends as tightly as a radius of {radius:.1f} mm, foam allows {TIGHTEST:g} mm: "
            "ask for a lower or wider keel, a taller dome, or more flare"
        )
