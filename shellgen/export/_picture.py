"""Views of a Scene laid out on one picture: cameras that fit, samples brought to pixels, scale bars and captions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from shellgen import lettering
from shellgen.canvas import Colour, Scene
from shellgen.export import _light, _zbuffer
from shellgen.export._light import Planes, Shadows, Soup
from shellgen.export._mesh import linear, srgb
from shellgen.export._pencil import Sheet
from shellgen.export._view import Camera, View, aim
from shellgen.export._words import MARGIN, Field, Words, scale_bar

_LINE, _LINE_WIDTH = (38, 33, 28), 1.5  # pixels; drawn as strips in the depth buffer, so that hidden lines hide
_LIFT = 0.004  # of the scene's size: how far lines stand off the surface that they lie on
_FAR = 3.0  # the eye's distance over the scene's size
_STRIP = 3.4  # strip for name and scale over the letters' height
_GROUND = 0.30  # darkness of the shadow on the ground
_SOFT = 2.4  # texels over which the shadow's edge is spread


def draw(
    scene: Scene,
    views: Sequence[View],
    size: tuple[int, int],
    background: Colour | None,
    samples: int,
    *,
    words: Words,
    shade: float,
) -> Image.Image:
    """RGBA picture, one field per view, all at one scale."""
    triangles, letter = _light.soup(scene), max(10.0, 0.012 * float(np.hypot(*size)))
    if not len(triangles.corners):
        raise ValueError(f"the scene {scene.name!r} is empty")
    sheet, halo = Sheet(size), Sheet(size, (255, 255, 255))
    top = words.head(sheet, letter)
    cameras, lows, highs = zip(*(_camera(triangles, view) for view in views), strict=True)
    scale, fields = _fields(np.array(highs) - np.array(lows), size, top, _STRIP * letter)
    picture = np.zeros((size[1], size[0], 4), np.float32)
    for k, (x, y, across, up) in enumerate(fields):
        room = np.array([across, up - _STRIP * letter]) / 2
        camera = replace(cameras[k], scale=scale, shift=tuple(room - scale * (lows[k] + highs[k]) / 2))
        picture[y : y + up, x : x + across] = _field(triangles, scene, views[k], camera, (across, up), samples, shade)
        words.label(sheet, halo, camera, (x, y), letter)
        bar = 0.0
        if words.scale_bar and not views[k].perspective:
            bar = scale_bar(sheet, fields[k], letter, scale, most=0.28 * min(f[2] for f in fields))
        if len(views) > 1:
            free = across * (1 - 2 * MARGIN) - bar - (2 * letter if bar else 0)
            height = min(letter, free / lettering.width(views[k].name, 1.0))
            sheet.letter(views[k].name, (x + MARGIN * across, y + up - 1.1 * letter), height)
    return sheet.over(halo.over(words.swatches(_onto(picture, background), letter)))


def _camera(triangles: Soup, view: View) -> tuple[Camera, NDArray, NDArray]:
    """A camera of scale 1, and the lower and upper corner of what it then shows."""
    low, high = triangles.points.min(axis=0), triangles.points.max(axis=0)
    distance = _FAR * float(np.linalg.norm(high - low)) if view.perspective else np.inf
    camera = Camera(aim(np.array(view.towards), np.array(view.up)), (low + high) / 2, distance)
    flat, _ = camera.project(triangles.points)
    return camera, flat.min(axis=0), flat.max(axis=0)


def _fields(extents: NDArray, size: tuple[int, int], top: int, strip: float) -> tuple[float, list[Field]]:
    """The largest scale, pixels per mm, at which views of these extents (n, 2) mm go on the picture in rows, and the
    field of each: as wide as its column's widest view and as high as its row's highest, plus an equal share of room."""
    count, best = len(extents), None
    for columns in range(1, count + 1):
        column, row = np.arange(count) % columns, np.arange(count) // columns
        wide = np.array([extents[column == k, 0].max() for k in range(columns)])
        high = np.array([extents[row == k, 1].max() for k in range(row[-1] + 1)])
        room = np.array(size) * (1 - MARGIN * np.array([len(wide) + 1, len(high) + 1])) - (0, top + strip * len(high))
        scale = float(min(room[0] / max(wide.sum(), 1e-9), room[1] / max(high.sum(), 1e-9)))
        worth = scale * (count / (len(wide) * len(high))) ** 0.25  # a gap in the rows is not worth a little size
        if best is None or worth > best[0]:
            best = worth, scale, wide, high, column, row
    assert best is not None
    _, scale, wide, high, column, row = best
    x = np.r_[0, np.cumsum(scale * wide + (size[0] - scale * wide.sum()) / len(wide))].round().astype(int)
    y = np.r_[0, np.cumsum(scale * high + (size[1] - top - scale * high.sum()) / len(high))].round().astype(int) + top
    spots = zip(column, row, strict=True)
    return scale, [(int(x[c]), int(y[r]), int(x[c + 1] - x[c]), int(y[r + 1] - y[r])) for c, r in spots]


@dataclass(frozen=True, slots=True, eq=False)
class _Stuff:
    """Triangles on the picture: corners (m, 3, 2) and depths (m, 3), colours (m, 3), and what `Planes` will read:
    key light, other light, column, row and depth in the light's own picture, mm towards the viewer."""

    flat: NDArray
    depth: NDArray
    colours: NDArray
    values: tuple[NDArray, ...]

    def of(self, which: NDArray) -> _Stuff:
        return _Stuff(self.flat[which], self.depth[which], self.colours[which], tuple(v[which] for v in self.values))


def _solids(triangles: Soup, camera: Camera, shadow: Shadows) -> _Stuff:
    flat, depth = camera.project(triangles.corners)
    normals = _light.facing(triangles, camera.eye(triangles.corners[:, 0]))
    key, rest = _light.light(normals, camera.axes)
    seen, seen_depth = shadow.project(triangles.corners, normals)
    away = depth if np.isinf(camera.distance) else camera.distance * (1 - 1 / depth)
    return _Stuff(flat, depth, triangles.colours, (key, rest, seen[..., 0], seen[..., 1], seen_depth, away))


def _strips(lines: Sequence[NDArray], camera: Camera, width: float, lift: float) -> _Stuff:
    """Every stretch of the lines as two triangles, `width` samples wide, lifted towards the viewer, unlit."""
    runs = [np.stack([line[:-1], line[1:]], axis=1) for line in lines if len(line) > 1]
    ends = np.concatenate(runs) if runs else np.zeros((0, 2, 3))
    flat, depth = camera.project(ends + lift * camera.axes[2])
    along = flat[:, 1] - flat[:, 0]
    along *= width / 2 / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    across = along[:, ::-1] * (-1, 1)
    a, b = flat[:, 0] - along / 2, flat[:, 1] + along / 2
    corners = np.concatenate([np.stack(c, axis=1) for c in ((a + across, a - across, b), (b + across, b - across, a))])
    corners[: len(ends), 2] += across
    corners[len(ends) :, 2] -= across
    depths = np.concatenate([depth[:, [0, 0, 1]], depth[:, [1, 1, 0]]])
    away = np.concatenate([((ends - camera.centre) @ camera.axes[2])[:, k] for k in ([0, 0, 1], [1, 1, 0])])
    nothing = np.zeros(corners.shape[:2])
    colours = np.broadcast_to(linear(np.array(_LINE)), (len(corners), 3))
    return _Stuff(corners, depths, colours, (nothing, nothing + 1, nothing, nothing, nothing, away))


def _field(
    triangles: Soup, scene: Scene, view: View, camera: Camera, size: tuple[int, int], samples: int, shade: float
) -> NDArray:
    """(rows, columns, 4) of one view: linear light times cover, and cover."""
    across, up = size
    fine = replace(camera, scale=camera.scale * samples, shift=(samples * camera.shift[0], samples * camera.shift[1]))
    shadow = _light.shadows(triangles, camera.axes)
    reach = float(np.ptp(triangles.points, axis=0).max())
    strips = _strips(scene.lines, fine, _LINE_WIDTH * samples, _LIFT * reach)
    stuff, which, columns, rows = _seen(triangles, strips, fine, shadow, (up * samples, across * samples))
    key, rest, x, y, depth, away = Planes(stuff.flat, *stuff.values).read(which, columns, rows)
    brightness = key * shadow.lit(x, y, depth, _jitter(columns, rows, samples)) + rest
    brightness = 1 + shade * (brightness - 1)
    pixel = (rows // samples) * across + columns // samples
    out = np.empty((up, across, 4))
    out[..., 3] = cover = _gather(pixel, None, size)
    hollow = _light.hollows(_gather(pixel, away, size) / np.maximum(cover, 1), cover > 0, reach)
    for k in range(3):
        out[..., k] = _gather(pixel, stuff.colours[which, k] * brightness, size) * (1 - shade * hollow)
    out /= samples**2
    if view.up == (0.0, 0.0, 1.0) and camera.axes[2, 2] > 0.2:
        ground = _ground(shadow, camera, size, float(triangles.points[:, 2].min()))
        out[..., 3] += (1 - out[..., 3]) * ground
    return out


def _seen(
    triangles: Soup, strips: _Stuff, camera: Camera, shadow: Shadows, shape: tuple[int, int]
) -> tuple[_Stuff, NDArray, NDArray, NDArray]:
    """What shows of the solids and the lines, and for each sample which of it, its column and its row."""
    flat, depth = camera.project(triangles.corners)
    shown = triangles.shown(flat)
    triangles, flat, depth, count = triangles.of(shown), flat[shown], depth[shown], len(shown)
    index = _zbuffer.nearest(np.concatenate([flat, strips.flat]), np.concatenate([depth, strips.depth]), shape)
    which, columns, rows = _light.samples_of(index)
    shows = np.zeros(count + len(strips.flat), bool)
    shows[which] = True
    kept = np.flatnonzero(shows)  # the rest need not be lit
    parts = _solids(triangles.of(kept[kept < count]), camera, shadow), strips.of(kept[kept >= count] - count)
    flat, depth, colours = (np.concatenate([getattr(p, k) for p in parts]) for k in ("flat", "depth", "colours"))
    values = tuple(np.concatenate(pair) for pair in zip(*(p.values for p in parts), strict=True))
    return _Stuff(flat, depth, colours.astype(np.float32), values), (np.cumsum(shows) - 1)[which], columns, rows


def _jitter(columns: NDArray, rows: NDArray, samples: int) -> tuple[NDArray, NDArray]:
    """Each sample of a pixel looks at the shadow from a place of its own, so that its edge comes out soft."""
    steps = (_SOFT * (np.arange(samples) - (samples - 1) / 2)).astype(np.float32)
    return steps[columns % samples] + np.float32(0.6), steps[rows % samples] - np.float32(0.6)


def _gather(pixel: NDArray, values: NDArray | None, size: tuple[int, int]) -> NDArray:
    """(rows, columns) sum over the samples of each pixel; their number if there are no values."""
    return np.bincount(pixel, values, size[0] * size[1]).reshape(size[1], size[0])


def _ground(shadow: Shadows, camera: Camera, size: tuple[int, int], height: float) -> NDArray:
    """(rows, columns) darkness of the shadow that falls on the level ground at z = `height`."""
    coarse = 4
    columns, rows = np.meshgrid(np.arange(0, size[0], coarse) + 0.5, np.arange(0, size[1], coarse) + 0.5)
    points = camera.onto(columns.ravel(), rows.ravel(), height)
    flat, depth = shadow.camera.project(points)
    still = np.zeros(len(points), np.float32)
    dark = 1 - shadow.lit(flat[:, 0], flat[:, 1], depth, (still, still)).reshape(columns.shape)
    soft = _light.blur(dark, max(round(0.012 * max(size) / coarse), 1))
    image = Image.fromarray(np.round(255 * soft).astype(np.uint8)).resize(size, Image.Resampling.BILINEAR)
    return _GROUND * np.asarray(image, float) / 255


def _onto(picture: NDArray, background: Colour | None) -> Image.Image:
    """RGBA picture of linear light over a background, in sRGB."""
    cover = np.clip(picture[..., 3:], 0, 1)
    if background is None:
        light, alpha = picture[..., :3] / np.maximum(cover, 1e-6), cover
    else:
        light, alpha = picture[..., :3] + (1 - cover) * linear(np.array(background)), np.ones_like(cover)
    codes = _TO_SRGB[np.clip(light * (len(_TO_SRGB) - 1) + 0.5, 0, len(_TO_SRGB) - 1).astype(np.int32)]
    return Image.fromarray(np.dstack([codes, np.round(255 * alpha).astype(np.uint8)]), "RGBA")


_TO_SRGB = np.round(srgb(np.linspace(0, 1, 2**14))).astype(np.uint8)
"""sRGB codes of linear light in steps fine enough for the darkest."""
