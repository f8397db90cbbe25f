"""One view of a Scene on its field of a picture: light and shadow brought to pixels, and the shadow on the ground."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from PIL import Image

from shellgen.canvas import Colour
from shellgen.core.arrays import Bytes, Floats, Singles
from shellgen.export import _light, _supersampling
from shellgen.export._light import Shadows, Soup
from shellgen.export._mesh import linear, srgb
from shellgen.export._picture_scene import PictureScene, Sight
from shellgen.export._view import Camera, View, bounds

_FINE, _TEXELS = 0.8, 600  # of the shadow's map: over the pixels of the picture, along its longer side at most
_SMALLER = Image.Resampling.HAMMING  # sharper than with a triangle, and nowhere darker or brighter than it was
_GROUND_STEP = np.float32(0.30 / 255)  # darkness of the shadow on the ground, which has 255 steps
_AT_ONCE = 2**16  # pixels that are coloured at a time: they stay in the processor's cache


@dataclass(frozen=True, slots=True, eq=False)
class OneField:
    """Where a view goes.

    place  : x, y, width, height on the picture, pixels, y down
    window : left, upper, right and lower end of what the scene takes of the field
    camera : of the field
    """

    place: tuple[int, int, int, int]
    window: tuple[int, int, int, int]
    camera: Camera

    @property
    def corner(self) -> Floats:
        """(2,) where on its window the camera's origin lies."""
        return np.asarray(np.array(self.camera.shift) - self.window[:2])


class Taken:
    """A view that was looked at, to be shown in any colours, as large as on its field or smaller."""

    def __init__(self, triangles: Soup, field: OneField, samples: int, tints: Singles, shade: float) -> None:
        """tints : (3, bands, m) by which pixels differ or do not, as by `shade`"""
        camera = replace(field.camera, shift=tuple(field.corner))
        low, high = bounds(triangles.points)
        self.field, self.floor = field, float(low[2])
        self.shadow = _light.shadows(triangles, camera.axes, _FINE * camera.scale, _TEXELS)
        sight = Sight(camera, self.shadow, float((high - low).max()), max(field.place[2:]), shade)
        self.stuff = PictureScene(triangles, sight)
        left, over, right, foot = field.window
        size = right - left, foot - over
        self.shot, self.image = _supersampling.take(self.stuff, size, samples, self.stuff.colours(tints))

    def shown(
        self, field: OneField, view: View, tints: Singles, shade: float, background: Colour | None
    ) -> Iterator[tuple[tuple[int, int], Image.Image]]:
        """Pictures and where on the field they go, one over the other."""
        image = self.image
        if field is not self.field:
            image = self._smaller(self.shot.develop(self.stuff.colours(tints), shade), field)
        left, over, right, foot = field.window
        light, cover = image[:3], image[3]
        if view.up == (0.0, 0.0, 1.0) and field.camera.axes[2, 2] > 0.2:
            ground = _ground(self.shadow, field.camera, field.place[2:], self.floor)
            (x0, x1), (y0, y1) = (_reach(ground.max(axis=axis)) for axis in (0, 1))
            dark = np.arange(256, dtype=np.float32)[None] * _GROUND_STEP
            steps = _onto(np.zeros((3, 1, 256), np.float32), dark, background)
            flat = Image.fromarray(ground[y0:y1, x0:x1])
            bands = [flat.point(list(band.tobytes())) for band in steps.split()]
            yield (x0, y0), Image.merge(steps.mode, bands)
            cover = cover + (1 - cover) * (ground[over:foot, left:right] * _GROUND_STEP)
        yield (left, over), _onto(light, cover, background)

    def _smaller(self, image: Singles, field: OneField) -> Singles:
        """(4, rows, columns) an image of the view brought to another window."""
        left, over, right, foot = field.window
        larger = self.field.camera.scale / field.camera.scale
        size = np.array([right - left, foot - over])
        start = self.field.corner - larger * field.corner
        beyond = np.concatenate([-start, start + larger * size - image.shape[:0:-1]])
        spare = max(int(np.ceil(beyond.max())), 0)
        if spare:
            image, start = np.pad(image, ((0, 0), (spare, spare), (spare, spare))), start + spare
        box = tuple(np.concatenate([start, start + larger * size]).tolist())
        planes = (Image.fromarray(plane).resize(tuple(size.tolist()), _SMALLER, box=box) for plane in image)
        return np.stack([np.asarray(plane) for plane in planes])


def _reach(some: Bytes) -> tuple[int, int]:
    """From the first to the last that is not zero."""
    found = np.flatnonzero(some)
    return (int(found[0]), int(found[-1]) + 1) if len(found) else (0, 1)


def _ground(shadow: Shadows, camera: Camera, size: tuple[int, int], height: float) -> Bytes:
    """(rows, columns) uint8, in steps, darkness of the shadow that falls on the level ground at z = `height`."""
    coarse = 6
    count = [-(-n // coarse) for n in size]
    columns, rows = np.meshgrid(*((np.arange(n) + 0.5) * (whole / n) for n, whole in zip(count, size, strict=True)))
    points = camera.onto(columns.ravel(), rows.ravel(), height)
    flat, depth = shadow.camera.project(points)
    dark = 1 - shadow.lit(flat[:, 0], flat[:, 1], depth, soft=False).reshape(columns.shape)
    soft = _light.blur(dark, max(round(0.012 * max(size) / coarse), 1))
    image = Image.fromarray(np.round(255 * soft).astype(np.uint8)).resize(size, Image.Resampling.BILINEAR)
    return np.asarray(image)


def _onto(light: Singles, cover: Singles, background: Colour | None) -> Image.Image:
    """RGB picture of linear light (3, rows, columns) times cover over a background, in sRGB; RGBA without one."""
    out = np.empty((*cover.shape, 4 if background is None else 3), np.uint8)
    rows = max(_AT_ONCE // cover.shape[1], 1)
    for at in range(0, len(cover), rows):
        part = slice(at, at + rows)
        _colour(out[part], light[:, part], cover[part], background)
    return Image.fromarray(out)


def _colour(out: Bytes, light: Singles, cover: Singles, background: Colour | None) -> None:
    most = np.float32(len(_TO_SRGB) - 1)
    back = most * linear(np.array(background or (0, 0, 0))).astype(np.float32)
    rest = most / np.maximum(cover, np.float32(1e-6)) if background is None else 1 - cover
    for k in range(3):
        value = light[k] * rest if background is None else light[k] * most + rest * back[k]
        value += np.float32(0.5)
        out[..., k] = _TO_SRGB.take(np.minimum(value, most, out=value).astype(np.intp))
    if background is None:
        out[..., 3] = np.round(255 * np.clip(cover, 0, 1))


_TO_SRGB = np.round(srgb(np.linspace(0, 1, 2**14))).astype(np.uint8)
"""sRGB codes of linear light in steps fine enough for the darkest."""
