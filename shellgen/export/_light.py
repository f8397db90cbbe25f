"""A Scene under studio light: one soft key light with its shadow, a weak fill, and a sky brighter than the floor.

Light is added up in linear values and turned to sRGB at the very end. The strengths are chosen by eye.

References: wrapped diffuse light (half-Lambert); L. Williams, "Casting Curved Shadows on Curved Surfaces" (1978);
T. Luft, C. Colditz, O. Deussen, "Image Enhancement by Unsharp Masking the Depth Buffer" (2006).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shellgen.canvas import Part, Scene
from shellgen.export import _zbuffer
from shellgen.export._mesh import linear, placements, solids
from shellgen.export._view import Camera, aim, bounds

KEY, FILL, SKY, FLOOR = 0.78, 0.16, 0.40, 0.16
_WRAP = 0.2  # how far the key light reaches round the edge of its own shade
_KEY_FROM, _FILL_FROM = (-0.50, 0.68, 0.54), (0.75, 0.10, 0.65)  # right, up, to the viewer
_ABOUT = ((0.0, 0.0), (0.25, 0.75), (-0.75, 0.25), (-0.25, -0.75), (0.75, -0.25))  # a turned cross
_LIFT = 2.0  # texels: how far a point is held off its surface when the light looks at it
_DARKEN, _DARKEN_OVER = 0.45, 0.035  # most that a hollow is darkened; depth over the picture's size that does it


@dataclass(frozen=True, slots=True, eq=False)
class Soup:
    """All triangles of a scene as they stand: faces (m, 3), colours (m, 3) linear, whether each belongs to the skin of
    a solid (m,); their vertices (n, 3) mm with normals (n, 3), followed by the points of the lines."""

    points: NDArray
    normals: NDArray
    faces: NDArray
    colours: NDArray
    skin: NDArray

    @property
    def corners(self) -> NDArray:
        """(m, 3, 3) mm."""
        return np.asarray(self.points[self.faces])

    def shown(self, flat: NDArray) -> NDArray:
        """Triangles that may be seen where their corners (m, 3, 2) lie on a picture, rows downward: of a solid, only
        those that face the viewer."""
        return np.flatnonzero(~self.skin | facing(flat))


def facing(flat: NDArray) -> NDArray:
    """Whether triangles with corners (m, 3, 2) on a picture, rows downward, face the viewer."""
    (x0, x1, x2), (y0, y1, y2) = flat[..., 0].T, flat[..., 1].T
    return np.asarray((x1 - x0) * (y2 - y0) < (y1 - y0) * (x2 - x0))


def soup(scene: Scene) -> Soup:
    points, normals, faces, colours = [], [], [np.zeros((0, 3), int)], [np.zeros((0, 3))]
    skin, count = [np.zeros(0, bool)], 0
    for part, whole in zip(scene.parts, solids(scene.parts), strict=True):
        own = linear(np.array(part.colour if part.face_colours is None else part.face_colours))
        vertices, mine = (part.vertices, part.faces) if part.vertex_normals is not None else _parted(part)
        for place in placements(part):
            turn = place[:3, :3].T
            points.append(vertices @ turn + place[:3, 3])
            normals.append(_crossed(points[-1][mine]).repeat(3, axis=0) if part.vertex_normals is None
                           else part.vertex_normals @ turn)  # fmt: skip
            faces.append(mine + count)
            count += len(vertices)
            colours.append(np.broadcast_to(own, (len(mine), 3)))
            skin.append(np.full(len(mine), whole))
    lines = np.concatenate([np.zeros((0, 3)), *scene.lines])
    turned = np.concatenate([np.zeros((0, 3)), *normals, np.zeros_like(lines)])
    turned /= np.maximum(np.sqrt(np.einsum("ij,ij->i", turned, turned))[:, None], 1e-300)
    everywhere = np.concatenate([*points, lines])
    return Soup(everywhere, turned, np.concatenate(faces), np.concatenate(colours), np.concatenate(skin))


def _parted(part: Part) -> tuple[NDArray, NDArray]:
    """Vertices and faces of a part no two triangles of which share a vertex."""
    return part.vertices[part.faces.ravel()], np.arange(part.faces.size).reshape(-1, 3)


def _crossed(corners: NDArray) -> NDArray:
    return np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])


class Planes:
    """Values given at the corners of triangles, read anywhere on them as linear over the picture."""

    def __init__(self, flat: NDArray, values: NDArray) -> None:
        """flat : (m, 3, 2) places on the picture; values : (m, 3, c)."""
        (x0, x1, x2), (y0, y1, y2) = flat[..., 0].T, flat[..., 1].T
        area = (x1 - x0) * (y2 - y0) - (y1 - y0) * (x2 - x0)
        area = np.where(area == 0, np.inf, area)
        first, one, two = np.ascontiguousarray(values.transpose(1, 2, 0))
        one, two = (one - first) / area, (two - first) / area
        across, down = one * (y2 - y0) - two * (y1 - y0), two * (x1 - x0) - one * (x2 - x0)
        self.tables = [t.astype(np.float32) for t in (first - across * x0 - down * y0, across, down)]

    def read(self, triangle: NDArray, x: NDArray, y: NDArray) -> list[NDArray]:
        """(n,) float32 of each value at these places."""
        base, across, down = self.tables
        return [base[k][triangle] + across[k][triangle] * x + down[k][triangle] * y for k in range(len(base))]


@dataclass(frozen=True, slots=True, eq=False)
class Shadows:
    """What the key light sees: a depth map along its direction, minus infinity where nothing stands."""

    camera: Camera
    depth: NDArray

    def project(self, points: NDArray, normals: NDArray) -> tuple[NDArray, NDArray]:
        """Places of surface points in the light's picture; lifted a little, lest a surface shade itself."""
        return self.camera.project(points + _LIFT / self.camera.scale * normals)

    def lit(self, columns: NDArray, rows: NDArray, depth: NDArray, soft: float) -> NDArray:
        """(n,) share of the key light that reaches points given in the light's own picture; `soft` texels about each
        are asked."""
        bias, out = np.float32(1.0 / self.camera.scale), np.zeros(len(depth), np.float32)
        rim, depth = np.array(self.depth.shape) - 1, depth + bias
        for across, down in _ABOUT if soft else _ABOUT[:1]:
            x = np.clip(columns + np.float32(soft * across), 0, rim[1]).astype(np.int32)
            y = np.clip(rows + np.float32(soft * down), 0, rim[0]).astype(np.int32)
            x += y * np.int32(rim[1] + 1)
            out += depth >= self.depth.ravel()[x]
        return out / len(_ABOUT if soft else _ABOUT[:1])


def shadows(triangles: Soup, axes: NDArray, size: int) -> Shadows:
    """The key light's map, `size` texels along its longer side. `axes` are those of the viewer's camera, to which the
    lights belong."""
    camera = Camera(aim(_turned(_KEY_FROM, axes), axes[1]), np.zeros(3))
    flat, depth = camera.project(triangles.points[: triangles.faces.max() + 1])
    low, high = bounds(flat)
    scale = float((size - 4) / max(high - low))
    camera = Camera(camera.axes, np.zeros(3), scale=scale, shift=tuple(2 - low * scale))
    corners = (flat * scale + camera.shift).astype(np.float32)[triangles.faces]
    shown = triangles.shown(corners)
    corners, depth = corners[shown], depth.astype(np.float32)[triangles.faces[shown]]
    columns, rows = (int(n) for n in np.ceil((high - low) * scale) + 4)
    index = _zbuffer.nearest(corners, depth, (rows, columns)).ravel()
    spot = np.flatnonzero(index >= 0)
    row, column = np.divmod(spot.astype(np.int32), np.int32(columns))
    out = np.full(rows * columns, -np.inf, np.float32)
    out[spot] = Planes(corners, depth[..., None]).read(index[spot], column + np.float32(0.5), row + np.float32(0.5))[0]
    return Shadows(camera, out.reshape(rows, columns))


def light(normals: NDArray, axes: NDArray) -> tuple[NDArray, NDArray]:
    """(n,) under each normal: the key light, which a shadow may take away, and all other light."""
    towards = np.stack([_turned(_KEY_FROM, axes), _turned(_FILL_FROM, axes), axes[1]], axis=1)
    key, fill, sky = (normals @ towards).T
    key, fill = np.clip((key + _WRAP) / (1 + _WRAP), 0, None), np.clip(fill, 0, None)
    return KEY * key, FILL * fill + FLOOR + (SKY - FLOOR) * (0.5 + 0.5 * sky)


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
