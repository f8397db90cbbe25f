"""A Scene under studio light: one soft key light with its shadow, a weak fill, and a sky brighter than the floor.

Light is added up in linear values and turned to sRGB at the very end. The strengths are chosen by eye.

References: wrapped diffuse light (half-Lambert); L. Williams, "Casting Curved Shadows on Curved Surfaces" (1978);
T. Luft, C. Colditz, O. Deussen, "Image Enhancement by Unsharp Masking the Depth Buffer" (2006).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shellgen.canvas import Scene
from shellgen.export import _zbuffer
from shellgen.export._mesh import linear, placements, solids
from shellgen.export._view import Camera, aim

KEY, FILL, SKY, FLOOR = 0.78, 0.16, 0.40, 0.16
_WRAP = 0.2  # how far the key light reaches round the edge of its own shade
_KEY_FROM, _FILL_FROM = (-0.50, 0.68, 0.54), (0.75, 0.10, 0.65)  # right, up, to the viewer
_SHADOW_SIZE = 900  # samples (texels) across the light's own picture
_LIFT = 3.0  # texels: how far a point is held off its surface when the light looks at it
_DARKEN, _DARKEN_OVER = 0.45, 0.035  # most that a hollow is darkened; depth over the picture's size that does it


@dataclass(frozen=True, slots=True, eq=False)
class Soup:
    """All triangles of a scene as they stand: corners (m, 3, 3) mm, normals (m, 3, 3), colours (m, 3) linear, whether
    each belongs to the skin of a solid (m,); and all points (n, 3) mm once, those of the lines too."""

    points: NDArray
    corners: NDArray
    normals: NDArray
    colours: NDArray
    skin: NDArray

    def of(self, which: NDArray) -> Soup:
        """Some of the triangles."""
        mine = (values[which] for values in (self.corners, self.normals, self.colours, self.skin))
        return Soup(self.points, *mine)

    def shown(self, flat: NDArray) -> NDArray:
        """Triangles that may be seen where their corners (m, 3, 2) lie on a picture, rows downward: of a solid, only
        those that face the viewer."""
        (a, b), (c, d) = (flat[:, 1] - flat[:, 0]).T, (flat[:, 2] - flat[:, 0]).T
        return np.flatnonzero(~self.skin | (a * d < b * c))


def soup(scene: Scene) -> Soup:
    points, corners, normals, colours = [np.zeros((0, 3)), *scene.lines], [], [], []
    skin = [np.zeros(0, bool)]
    for part, whole in zip(scene.parts, solids(scene.parts), strict=True):
        own = linear(np.array(part.colour if part.face_colours is None else part.face_colours))
        for place in placements(part):
            stood = part.vertices @ place[:3, :3].T + place[:3, 3]
            points.append(stood)
            corners.append(stood[part.faces])
            if part.vertex_normals is None:
                turned = np.repeat(_crossed(corners[-1])[:, None], 3, axis=1)
            else:
                turned = (part.vertex_normals @ place[:3, :3].T)[part.faces]
            normals.append(turned / np.maximum(np.linalg.norm(turned, axis=2, keepdims=True), 1e-300))
            colours.append(np.broadcast_to(own, (len(part.faces), 3)))
            skin.append(np.full(len(part.faces), whole))
    empty = np.zeros((0, 3, 3))
    return Soup(*map(np.concatenate, (points, [empty, *corners], [empty, *normals], [empty[:, 0], *colours], skin)))


def _crossed(corners: NDArray) -> NDArray:
    return np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])


class Planes:
    """Values given at the corners of triangles, read anywhere on them as linear over the picture."""

    def __init__(self, flat: NDArray, *values: NDArray) -> None:
        """flat : (m, 3, 2) samples; values : (m, 3) each."""
        a, b = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
        area = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
        area = np.where(area == 0, np.inf, area)
        self.tables = []
        for value in values:
            one, two = value[:, 1] - value[:, 0], value[:, 2] - value[:, 0]
            across, down = (one * b[:, 1] - two * a[:, 1]) / area, (two * a[:, 0] - one * b[:, 0]) / area
            base = value[:, 0] - across * (flat[:, 0, 0] - 0.5) - down * (flat[:, 0, 1] - 0.5)
            self.tables.append([table.astype(np.float32) for table in (base, across, down)])

    def read(self, triangle: NDArray, columns: NDArray, rows: NDArray) -> list[NDArray]:
        """(n,) float32 of each value at the centres of samples."""
        columns, rows = columns.astype(np.float32), rows.astype(np.float32)
        return [base[triangle] + x[triangle] * columns + y[triangle] * rows for base, x, y in self.tables]


def samples_of(index: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """Triangle, column and row of every sample that shows one."""
    spot = np.flatnonzero(index.ravel() >= 0)
    rows, columns = np.divmod(spot, index.shape[1])
    return index.ravel()[spot], columns.astype(np.int32), rows.astype(np.int32)


@dataclass(frozen=True, slots=True, eq=False)
class Shadows:
    """What the key light sees: a depth map along its direction, minus infinity where nothing stands."""

    camera: Camera
    depth: NDArray

    def project(self, points: NDArray, normals: NDArray) -> tuple[NDArray, NDArray]:
        """Places of surface points in the light's picture; lifted a little, lest a surface shade itself."""
        return self.camera.project(points + _LIFT / self.camera.scale * normals)

    def lit(self, columns: NDArray, rows: NDArray, depth: NDArray, jitter: tuple[NDArray, NDArray]) -> NDArray:
        """(n,) share of the key light that reaches points given in the light's own picture; `jitter` softens it."""
        bias, out = np.float32(1.0 / self.camera.scale), np.zeros(len(depth), np.float32)
        for turn in (1, -1):
            x = np.clip(columns + turn * jitter[0], 0, self.depth.shape[1] - 1).astype(np.int32)
            y = np.clip(rows + turn * jitter[1], 0, self.depth.shape[0] - 1).astype(np.int32)
            out += depth >= self.depth[y, x] - bias
        return out / 2


def shadows(triangles: Soup, axes: NDArray) -> Shadows:
    """The key light's map. `axes` are those of the viewer's camera, to which the lights belong."""
    camera = Camera(aim(_turned(_KEY_FROM, axes), axes[1]), np.zeros(3))
    flat, depth = camera.project(triangles.corners)
    shown = triangles.shown(flat)
    flat, depth = flat[shown], depth[shown]
    low, high = (np.array([pick(flat[..., k]) for k in (0, 1)]) for pick in (np.min, np.max))
    scale = float((_SHADOW_SIZE - 4) / max(high - low))
    camera = Camera(camera.axes, np.zeros(3), scale=scale, shift=tuple(2 - low * scale))
    flat = flat * scale + camera.shift
    columns, rows = (int(n) for n in np.ceil((high - low) * scale) + 4)
    index = _zbuffer.nearest(flat, depth, (rows, columns))
    triangle, x, y = samples_of(index)
    out = np.full((rows, columns), -np.inf, np.float32)
    out[index >= 0] = Planes(flat, depth).read(triangle, x, y)[0]
    return Shadows(camera, out)


def light(normals: NDArray, axes: NDArray) -> tuple[NDArray, NDArray]:
    """(m, 3) at every corner: the key light, which a shadow may take away, and all other light."""
    towards = np.stack([_turned(_KEY_FROM, axes), _turned(_FILL_FROM, axes), axes[1]], axis=1)
    key, fill, sky = ((normals.reshape(-1, 3) @ towards).T).reshape(3, -1, 3)
    key, fill = np.clip((key + _WRAP) / (1 + _WRAP), 0, None), np.clip(fill, 0, None)
    return KEY * key, FILL * fill + FLOOR + (SKY - FLOOR) * (0.5 + 0.5 * sky)


def facing(triangles: Soup, eye: NDArray) -> NDArray:
    """(m, 3, 3) normals turned to the viewer, as on the inside of a sheet. eye : (m, 3) towards the viewer."""
    away = (_crossed(triangles.corners) * eye).sum(axis=1) < 0
    return triangles.normals * np.where(away, -1.0, 1.0)[:, None, None]


def _turned(direction: tuple[float, float, float], axes: NDArray) -> NDArray:
    return np.array(direction) / np.linalg.norm(direction) @ axes


def hollows(depth: NDArray, solid: NDArray, size: float) -> NDArray:
    """(rows, columns) 0 to 1: how much darker a pixel is made because what surrounds it is nearer to the viewer.

    depth : mm, any value where `solid` is false; size : of the scene, mm
    """
    coarse, (rows, columns) = 2, depth.shape
    weight = solid[::coarse, ::coarse].astype(np.float32)
    radius = max(round(0.012 * max(depth.shape) / coarse), 1)
    near = blur(depth[::coarse, ::coarse] * weight, radius) / np.maximum(blur(weight, radius), 1e-4)
    around = near.repeat(coarse, axis=0)[:rows].repeat(coarse, axis=1)[:, :columns]
    return _DARKEN * np.clip((around - depth) / (_DARKEN_OVER * size), 0, 1) * solid


def blur(image: NDArray, radius: int) -> NDArray:
    """Two passes of a box of 2 radius + 1 pixels along either axis: nearly a bell curve. Edges are repeated."""
    size = 2 * radius + 1
    for _ in range(2):
        for _ in range(2):
            sums = np.cumsum(np.pad(image, ((radius + 1, radius), (0, 0)), mode="edge"), axis=0, dtype=np.float64)
            image = ((sums[size:] - sums[:-size]) / size).T
    return image
