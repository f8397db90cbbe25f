"""From where a scene is looked at, and where its points then land on a picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats, Reals, Singles


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A direction to look from.

    towards     : (x, y, z) from the scene to the viewer
    up          : (x, y, z) that points up on the picture
    perspective : seen from three times the scene's size instead of from infinitely far
    """

    name: str
    towards: tuple[float, float, float]
    up: tuple[float, float, float] = (0.0, 0.0, 1.0)
    perspective: bool = False


_HEAD = (1.0, 0.0, 0.0)

VIEWS = {
    v.name: v
    for v in (
        View("three-quarter", (0.75, 1.0, 0.85)),
        View("crown", (0.0, 0.0, 1.0), _HEAD),
        View("left side", (0.0, 1.0, 0.0)),
        View("head end", _HEAD),
        View("tail end", (-1.0, 0.0, 0.0)),
        View("from above", (0.0, 0.0, 1.0), (0.0, -1.0, 0.0)),
        View("from the tail", (-0.75, 1.0, 0.85)),
        View("inside", (0.0, 0.0, -1.0), _HEAD),
        View("worn, from behind", (0.05, 0.0, 1.0), _HEAD),
        View("worn, from the left", (0.0, 1.0, 0.0), _HEAD),
        View("worn, from the front", (0.05, -0.25, -1.0), _HEAD),
        View("worn, three-quarter", (0.25, 0.7, 0.75), _HEAD),
    )
}
"""Lying crown up; where it is worn, the wearer's head is up."""


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """Looks along -`axes[2]`. A point p lands at scale * (axes @ p)[:2] + shift, in samples, rows downward.

    axes     : (3, 3) rows: right, up, to the viewer
    distance : mm from `centre` to the eye; infinite for a parallel projection
    """

    axes: Floats
    centre: Floats
    distance: float = np.inf
    scale: float = 1.0
    shift: tuple[float, float] = (0.0, 0.0)

    def project(self, points: Floats) -> tuple[Floats, Floats]:
        """(..., 2) columns and rows, and (...) depths, linear over the picture and larger towards the eye."""
        seen = (points.reshape(-1, 3) - self.centre) @ self.axes.T  # one flat product: a stack of small ones is slow
        across, up, near = (seen[:, k].reshape(points.shape[:-1]) for k in (0, 1, 2))
        if np.isfinite(self.distance):
            near = 1.0 / (1.0 - near / self.distance)
            across, up = across * near, up * near
        flat = np.empty((*points.shape[:-1], 2))
        flat[..., 0], flat[..., 1] = across * self.scale + self.shift[0], self.shift[1] - up * self.scale
        return flat, near

    def columns(self, points: Floats) -> tuple[Singles, Singles, Singles]:
        """(n,) float32 each of columns, rows and depths of points (n, 3)."""
        across, up, near = self.axes @ points.T - (self.axes @ self.centre)[:, None]
        if np.isfinite(self.distance):
            near = 1.0 / (1.0 - near / self.distance)
            across, up = across * near, up * near
        flat = across * self.scale + self.shift[0], self.shift[1] - up * self.scale, near
        return flat[0].astype(np.float32), flat[1].astype(np.float32), flat[2].astype(np.float32)

    def away(self, depth: Reals) -> Reals:
        """(n,) mm from the centre towards the eye at depths."""
        return depth if np.isinf(self.distance) else np.float32(self.distance) * (1 - 1 / depth)

    def flattened(self, values: Singles, depth: Singles) -> Singles:
        """(n,) what is linear in space, at points of these depths, turned into what is linear over the picture."""
        return values if np.isinf(self.distance) else values * depth

    def restored(self, values: Singles, away: Singles) -> Singles:
        """(n,) what was flattened, read on the picture, as it was; so many mm from the centre towards the eye."""
        return values if np.isinf(self.distance) else values * (1 - away / np.float32(self.distance))

    def eye(self, points: Floats) -> Floats:
        """(n, 3) from each point towards the eye, not of unit length."""
        if np.isinf(self.distance):
            return np.broadcast_to(self.axes[2], points.shape)
        return np.asarray(self.centre + self.distance * self.axes[2] - points)

    def onto(self, columns: Floats, rows: Floats, height: float) -> Floats:
        """(n, 3) points of the plane z = `height` that are seen at these places; the eye looks down on it."""
        flat = np.column_stack([columns - self.shift[0], self.shift[1] - rows, np.zeros(len(rows))]) / self.scale
        points = flat @ self.axes + self.centre
        rays = self.eye(points)
        return points + ((height - points[:, 2]) / rays[:, 2])[:, None] * rays


def bounds(points: Floats) -> tuple[Floats, Floats]:
    """(d,) the lower and upper corner of points (n, d). Column by column: numpy is slow along short axes."""
    columns = [np.ascontiguousarray(column) for column in points.T]
    return np.array([column.min() for column in columns]), np.array([column.max() for column in columns])


def aim(towards: Floats, up: Floats) -> Floats:
    """(3, 3) rows right, up, to the viewer."""
    eye = np.asarray(towards, float) / np.linalg.norm(towards)
    right = np.cross(up, eye)
    right /= np.linalg.norm(right)
    return np.array([right, np.cross(eye, right), eye])
