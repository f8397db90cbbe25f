"""A mirror-symmetric patch laid flat about the image of the disc's centre, true along every ray from there.

References: azimuthal equidistant projection, Snyder, Map Projections, USGS PP 1395, 1987, p. 191, with the rays of the
disc in place of great circles: on a sphere they are, and both maps are the same.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.integrate import cumulative_simpson
from scipy.interpolate import RectBivariateSpline

from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.geom.patches import SurfacePatch

SPOKES, RINGS = 181, 129
"""Rays over the half, and points on each. Chosen: arc lengths on the demos are then right to 1e-4 mm."""
BEYOND = 12
"""Rays past the midline on either hand, so that the spline has no end there."""
ROUNDS = 60
"""Most rounds of the inverse. Chosen: Newton's method needs five, halving the bracket forty."""


@dataclass(frozen=True, slots=True, eq=False)
class EquidistantChart:
    """x towards growing u, y towards growing v, mm; the origin is the image of the disc's centre.

    A ray of the disc is straight on the chart, in the direction in which it leaves the centre on the patch, and as long
    as on the patch. So the chart is an isometry at the centre, keeps the midline and is symmetric about it.

    stretch_u, stretch_v : mm per unit of u and of v at the centre
    reach : spline of length along the ray over radius, by the ray's angle and the radius
    """

    patch: SurfacePatch
    stretch_u: float
    stretch_v: float
    reach: RectBivariateSpline

    def flat(self, uv: Floats) -> Floats:
        """(n, 2) mm of uv (n, 2) in the closed disc."""
        angle = np.arctan2(np.abs(uv[:, 1]), uv[:, 0])
        length = np.hypot(*uv.T) * self.reach.ev(angle, np.hypot(*uv.T))
        bearing = self._bearing(angle)
        side = np.where(uv[:, 1] < 0, -1.0, 1.0)
        return np.column_stack([length * np.cos(bearing), side * length * np.sin(bearing) * (uv[:, 1] != 0)])

    def uv(self, xy: Floats) -> Floats:
        """(n, 2) in the closed disc of chart points (n, 2); a point beyond the rim goes to the rim on its ray."""
        away = np.hypot(*xy.T)
        angle = self._angle(np.arctan2(np.abs(xy[:, 1]), xy[:, 0]))
        radius = self._radius(angle, away)
        side = np.where(xy[:, 1] < 0, -1.0, 1.0)
        return np.column_stack([radius * np.cos(angle), side * radius * np.sin(angle) * (xy[:, 1] != 0)])

    def rim(self, bearing: Floats) -> Floats:
        """(n,) mm from the origin to the rim in directions on the chart, radians from x."""
        angle = self._angle(np.arccos(np.cos(bearing)))
        return np.asarray(self.reach.ev(angle, np.ones_like(angle)))

    def outline(self, count: int = 361) -> Floats:
        """(count, 2) the left half of the rim, from x > 0 to x < 0."""
        turn = np.linspace(0, np.pi, count)
        return self.flat(np.column_stack([np.cos(turn), np.sin(turn) * (turn < np.pi)]))

    def stretches(self, uv: Floats) -> Floats:
        """(n, 2) least and greatest length on the chart over that on the patch, by direction. Not for the centre.

        References: Tissot's indicatrix (Snyder, p. 20): the singular values of the map's derivative.
        """
        angle, radius = np.arctan2(np.abs(uv[:, 1]), uv[:, 0]), np.hypot(*uv.T)
        reach, turned = self.reach.ev(angle, radius), self.reach.ev(angle, radius, dx=1)
        out = reach + radius * self.reach.ev(angle, radius, dy=1)
        turn = self._bearing_slope(angle)
        polar = np.array([[out, radius * turned], [np.zeros_like(out), radius * reach * turn]]).transpose(2, 0, 1)
        tangent = self.patch.tangents(np.column_stack([uv[:, 0], np.abs(uv[:, 1])]))
        along = np.array([[np.cos(angle), -radius * np.sin(angle)], [np.sin(angle), radius * np.cos(angle)]])
        rays = np.einsum("nij,jkn->nik", tangent, along)
        metric = np.einsum("nij,nik->njk", rays, rays)
        whitened = polar @ np.linalg.inv(np.linalg.cholesky(metric).transpose(0, 2, 1))
        return np.asarray(np.linalg.svd(whitened, compute_uv=False)[:, ::-1])

    def _bearing(self, angle: Floats) -> Floats:
        return np.asarray(np.arctan2(self.stretch_v * np.sin(angle), self.stretch_u * np.cos(angle)))

    def _angle(self, bearing: Floats) -> Floats:
        return np.asarray(np.arctan2(np.sin(bearing) / self.stretch_v, np.cos(bearing) / self.stretch_u))

    def _bearing_slope(self, angle: Floats) -> Floats:
        u, v = self.stretch_u * np.cos(angle), self.stretch_v * np.sin(angle)
        return np.asarray(self.stretch_u * self.stretch_v / (u * u + v * v))

    def _radius(self, angle: Floats, away: Floats) -> Floats:
        """The radius at which a ray is `away` long: Newton's method, kept within a bracket."""
        low, high = np.zeros_like(away), np.ones_like(away)
        radius = np.minimum(away / self.reach.ev(angle, high), 1.0)
        for _ in range(ROUNDS):
            reach = self.reach.ev(angle, radius)
            over = radius * reach - away
            low, high = np.where(over <= 0, radius, low), np.where(over >= 0, radius, high)
            step = radius - over / (reach + radius * self.reach.ev(angle, radius, dy=1))
            new = np.where((step >= low) & (step <= high), step, (low + high) / 2)
            if np.abs(new - radius).max(initial=0) < 1e-15:
                break
            radius = new
        return np.asarray(radius)


@remembered
def chart(patch: SurfacePatch) -> EquidistantChart:
    """The chart of a patch that is symmetric in v and whose rays grow longer all the way to the rim."""
    turn = np.pi / (SPOKES - 1) * np.arange(-BEYOND, SPOKES + BEYOND)
    radius = np.linspace(0, 1, RINGS)
    unit = np.column_stack([np.cos(turn), np.sin(turn)])
    uv = (radius[None, :, None] * unit[:, None]).reshape(-1, 2)
    tangent = patch.tangents(uv).reshape(len(turn), RINGS, 3, 2)
    speed = np.linalg.norm(np.einsum("trij,tj->tri", tangent, unit), axis=-1)
    length = cumulative_simpson(speed, x=radius, axis=1, initial=0)
    reach = np.concatenate([speed[:, :1], length[:, 1:] / radius[1:]], axis=1)
    ahead, left = np.linalg.norm(patch.tangents(np.zeros((1, 2)))[0], axis=0).tolist()
    return EquidistantChart(patch, ahead, left, RectBivariateSpline(turn, radius, reach))
