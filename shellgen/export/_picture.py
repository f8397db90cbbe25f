"""Views of a Scene laid out on one picture: cameras that fit, samples brought to pixels, scale bars and captions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from shellgen import lettering
from shellgen.canvas import Colour, Scene
from shellgen.export import _light, _shot
from shellgen.export._light import Shadows, Soup
from shellgen.export._mesh import linear, srgb
from shellgen.export._pencil import Sheet
from shellgen.export._view import Camera, View, aim, bounds
from shellgen.export._words import MARGIN, Field, Words, scale_bar

_FAR = 3.0  # the eye's distance over the scene's size
_STRIP = 3.4  # strip for name and scale over the letters' height
_TEXELS = 1.0  # of the shadow's map, over the pixels of the picture
_GROUND = 0.30  # darkness of the shadow on the ground


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
    image = words.swatches(_onto(picture, background), letter)
    return sheet.over(halo.over(image) if words.labels else image)


def _camera(triangles: Soup, view: View) -> tuple[Camera, NDArray, NDArray]:
    """A camera of scale 1, and the lower and upper corner of what it then shows."""
    low, high = bounds(triangles.points)
    distance = _FAR * float(np.linalg.norm(high - low)) if view.perspective else np.inf
    camera = Camera(aim(np.array(view.towards), np.array(view.up)), (low + high) / 2, distance)
    flat, _ = camera.project(triangles.points)
    return camera, *bounds(flat)


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


def _field(
    triangles: Soup, scene: Scene, view: View, camera: Camera, size: tuple[int, int], samples: int, shade: float
) -> NDArray:
    """(rows, columns, 4) of one view: linear light times cover, and cover."""
    across, up = size
    shadow = _light.shadows(triangles, camera.axes, round(_TEXELS * max(size)))
    low, high = bounds(triangles.points)
    reach = float((high - low).max())
    seen = _shot.stuff(triangles, scene, camera, shadow, reach)
    image = _shot.take(seen, shadow, size, samples=samples, shade=shade)
    cover = image.cover.reshape(up, across)
    *light, away = image.sums.reshape(4, up, across)
    hollow = 1 - shade * _light.hollows(away / np.maximum(cover, 1e-6), cover > 0, reach)
    out = np.empty((up, across, 4), np.float32)
    for k in range(3):
        np.multiply(light[k], hollow, out=out[..., k])
    out[..., 3] = cover
    if view.up == (0.0, 0.0, 1.0) and camera.axes[2, 2] > 0.2:
        ground = _ground(shadow, camera, size, float(low[2]))
        out[..., 3] += (1 - cover) * ground
    return out


def _ground(shadow: Shadows, camera: Camera, size: tuple[int, int], height: float) -> NDArray:
    """(rows, columns) darkness of the shadow that falls on the level ground at z = `height`."""
    coarse = 4
    columns, rows = np.meshgrid(np.arange(0, size[0], coarse) + 0.5, np.arange(0, size[1], coarse) + 0.5)
    points = camera.onto(columns.ravel(), rows.ravel(), height)
    flat, depth = shadow.camera.project(points)
    dark = 1 - shadow.lit(flat[:, 0], flat[:, 1], depth, 0.0).reshape(columns.shape)
    soft = _light.blur(dark, max(round(0.012 * max(size) / coarse), 1))
    image = Image.fromarray(np.round(255 * soft).astype(np.uint8)).resize(size, Image.Resampling.BILINEAR)
    return _GROUND * np.asarray(image, float) / 255


def _onto(picture: NDArray, background: Colour | None) -> Image.Image:
    """RGBA picture of linear light over a background, in sRGB."""
    cover = np.clip(picture[..., 3], 0, 1)
    back = None if background is None else (len(_TO_SRGB) - 1) * linear(np.array(background))
    out = np.full((*cover.shape, 4), 255, np.uint8)
    for k in range(3):
        light = picture[..., k] * np.float32(len(_TO_SRGB) - 1)
        if back is None:
            light /= np.maximum(cover, 1e-6)
        else:
            light += (1 - cover) * np.float32(back[k])
        light += 0.5
        out[..., k] = _TO_SRGB[np.clip(light, 0, len(_TO_SRGB) - 1, out=light).astype(np.int16)]
    if back is None:
        out[..., 3] = np.round(255 * cover)
    return Image.fromarray(out, "RGBA")


_TO_SRGB = np.round(srgb(np.linspace(0, 1, 2**14))).astype(np.uint8)
"""sRGB codes of linear light in steps fine enough for the darkest."""
