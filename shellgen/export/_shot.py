"""One view of a Scene: every pixel once, and again, at more places, where neighbours differ.

References: T. Whitted, "An Improved Illumination Model for Shaded Display" (1980), more samples where they differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shellgen.canvas import Scene
from shellgen.export import _light, _zbuffer
from shellgen.export._light import Planes, Shadows, Soup
from shellgen.export._mesh import linear
from shellgen.export._view import Camera

_LINE, _LINE_WIDTH = (38, 33, 28), 1.8  # pixels; drawn as strips in the depth buffer, so that hidden lines hide
_LIFT = 0.0015  # of the scene's size: how far lines stand off the surface that they lie on
_SOFT = 2.0  # texels over which the shadow's edge is spread
_DIFFER = 0.05  # of the way from black to white, as the eye sees it: neighbours further apart are looked at again


@dataclass(frozen=True, slots=True, eq=False)
class Stuff:
    """Triangles on the picture: vertices (n, 2) pixels and depths (n,), faces (m, 3), colours (m, 3), and what is read
    anywhere on them, (n, 6): key light, other light, column, row and depth in the light's own picture, mm towards the
    viewer."""

    flat: NDArray
    depth: NDArray
    values: NDArray
    faces: NDArray
    colours: NDArray


def stuff(triangles: Soup, scene: Scene, camera: Camera, shadow: Shadows, reach: float) -> Stuff:
    """All that may be seen of the solids and the lines. reach : size of the scene, mm"""
    both = _solids(triangles, camera, shadow), _strips(scene.lines, camera, _LINE_WIDTH, _LIFT * reach)
    flat, depth, values, colours = (
        np.concatenate([getattr(part, name) for part in both]) for name in ("flat", "depth", "values", "colours")
    )
    faces = np.concatenate([both[0].faces, both[1].faces + len(both[0].flat)])
    flat, depth, values, colours = (array.astype(np.float32) for array in (flat, depth, values, colours))
    return Stuff(flat, depth, values, faces, colours)


def _solids(triangles: Soup, camera: Camera, shadow: Shadows) -> Stuff:
    points, normals = triangles.points, triangles.normals
    flat, depth = camera.project(points)
    corners = flat[triangles.faces]
    shown = triangles.shown(corners)
    faces = triangles.faces[shown]
    away = depth if np.isinf(camera.distance) else camera.distance * (1 - 1 / depth)
    behind = ~triangles.skin[shown]
    if behind.any():  # the far side of a sheet has its own normals
        behind[behind] = ~_light.facing(corners[shown[behind]])
    if behind.any():
        faces = faces + len(points) * behind[:, None]
        points, flat, depth, away = (np.concatenate([v, v]) for v in (points, flat, depth, away))
        normals = np.concatenate([normals, -normals])
    seen, seen_depth = shadow.project(points, normals)
    values = np.column_stack([*_light.light(normals, camera.axes), seen, seen_depth, away])
    return Stuff(flat, depth, values, faces, triangles.colours[shown])


def _strips(lines: Sequence[NDArray], camera: Camera, width: float, lift: float) -> Stuff:
    """Every stretch of the lines as two triangles, `width` pixels wide, lifted towards the viewer, unlit."""
    runs = [np.stack([line[:-1], line[1:]], axis=1) for line in lines if len(line) > 1]
    ends = np.concatenate(runs) if runs else np.zeros((0, 2, 3))
    flat, depth = camera.project(ends + lift * camera.axes[2])
    along = flat[:, 1] - flat[:, 0]
    along *= width / 2 / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    across = along[:, ::-1] * (-1, 1)
    a, b = flat[:, 0] - along / 2, flat[:, 1] + along / 2
    corners = np.stack([a + across, a - across, b - across, b + across], axis=1).reshape(-1, 2)
    first = 4 * np.arange(len(ends))[:, None]
    values = np.zeros((len(corners), 6))
    values[:, 1], values[:, 5] = 1.0, ((ends - camera.centre) @ camera.axes[2])[:, [0, 0, 1, 1]].ravel()
    faces = np.concatenate([first + np.array(three) for three in ((0, 1, 3), (3, 1, 2))])
    colours = np.tile(linear(np.array(_LINE)), (len(faces), 1))
    return Stuff(corners, depth[:, [0, 0, 1, 1]].ravel(), values, faces, colours)


class Image:
    """Of pixels along the rows: linear light and mm towards the viewer, both times cover, four rows; and cover."""

    def __init__(self, size: tuple[int, int]) -> None:
        self.shape = size[1], size[0]
        self.sums = np.zeros((4, size[0] * size[1]), np.float32)
        self.cover = np.zeros(size[0] * size[1], np.float32)

    def edges(self) -> NDArray:
        """(rows, columns) pixels that differ from one of the eight beside them."""
        edge = np.zeros(self.shape, bool)
        whole, ahead, back = slice(None), slice(1, None), slice(None, -1)
        sides = (((whole, ahead), (whole, back)), ((ahead, whole), (back, whole)),
                 ((ahead, ahead), (back, back)), ((ahead, back), (back, ahead)))  # fmt: skip
        for colour in self.sums[:3]:
            look = (np.sqrt(colour) + self.cover).reshape(self.shape)
            for one, other in sides:
                differ = np.abs(look[one] - look[other]) > _DIFFER
                edge[one] |= differ
                edge[other] |= differ
        return edge


def take(seen: Stuff, shadow: Shadows, size: tuple[int, int], *, samples: int, shade: float) -> Image:
    """size : (columns, rows); samples : along either side of a pixel whose neighbours differ"""
    image = Image(size)
    spot, values = _look(seen, shadow, image.shape, (1, (0.0, 0.0)), None, shade)
    image.sums[:, spot], image.cover[spot] = values, 1.0
    edge = image.edges()
    places = np.flatnonzero(edge)
    if samples > 1 and len(places):
        near = _near(seen.flat[seen.faces], edge)
        some = Stuff(seen.flat, seen.depth, seen.values, seen.faces[near], seen.colours[near])
        sums = np.zeros((5, samples * len(places)), np.float32)
        fine = edge.repeat(samples, axis=1)
        for down in (np.arange(samples) + 0.5) / samples - 0.5:  # rows lean, so that no two samples share a column
            hit, values = _look(some, shadow, fine.shape, (samples, (down / samples, down)), fine, shade)
            sums[:4, hit] += values
            sums[4, hit] += 1.0
        mean = sums.reshape(5, -1, samples).sum(axis=2) / samples**2
        image.sums[:, places], image.cover[places] = mean[:4], mean[4]
    return image


def _look(
    seen: Stuff,
    shadow: Shadows,
    shape: tuple[int, int],
    lattice: tuple[int, tuple[float, float]],
    wanted: NDArray | None,
    shade: float,
) -> tuple[NDArray, NDArray]:
    """Which of the wanted samples show something, and (4, k) linear light and mm to the viewer there.

    lattice : samples to a pixel along a row; how far they lie right and down of their even places, pixels
    wanted  : (rows, columns) bool of samples, None for all
    """
    close, offset = lattice
    corners = ((seen.flat - np.array(offset, np.float32)) * np.array((close, 1), np.float32))[seen.faces]
    found = _zbuffer.nearest(corners, seen.depth[seen.faces], shape, wanted).ravel()
    hit = np.flatnonzero(found >= 0)
    which = found[hit]
    shows = np.zeros(len(corners), bool)
    shows[which] = True
    kept, which = np.flatnonzero(shows), (np.cumsum(shows, dtype=np.int32) - 1)[which]
    spot = (hit if wanted is None else np.flatnonzero(wanted)[hit]).astype(np.int32)
    rows, columns = np.divmod(spot, np.int32(shape[1]))
    planes = Planes(corners[kept], seen.values[seen.faces[kept]])
    key, rest, x, y, depth, away = planes.read(which, columns + np.float32(0.5), rows + np.float32(0.5))
    brightness = 1 + shade * (key * shadow.lit(x, y, depth, _SOFT) + rest - 1)
    return hit, np.stack([*(colour[which] * brightness for colour in seen.colours[kept].T), away])


def _near(corners: NDArray, edge: NDArray) -> NDArray:
    """Triangles whose box holds a pixel of the edges. corners : (m, 3, 2) pixels"""
    sums = np.zeros((edge.shape[0] + 1, edge.shape[1] + 1), np.int32)
    sums[1:, 1:] = edge.cumsum(axis=0, dtype=np.int32).cumsum(axis=1, dtype=np.int32)
    ends = []
    for axis, size in ((0, edge.shape[1]), (1, edge.shape[0])):
        a, b, c = corners[:, :, axis].T
        low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
        ends += [np.clip(np.floor(low), 0, size).astype(int), np.clip(np.ceil(high), 0, size).astype(int)]
    left, right, top, foot = ends
    return np.flatnonzero(sums[foot, right] - sums[top, right] - sums[foot, left] + sums[top, left])
