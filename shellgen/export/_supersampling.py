"""One view of a Scene: every pixel once, and again, at more places, where neighbours differ.

References: T. Whitted, "An Improved Illumination Model for Shaded Display" (1980), more samples where they differ.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Bools, Ints, Singles
from shellgen.export import _light
from shellgen.export._picture_scene import PictureScene
from shellgen.geom.scan_conversion import Lattice, Wanted

_BRIGHTEST = 1.6  # linear light, that is distinguished; in 200 steps to white, it is still one byte
_STEPS, _DIFFER = 200, 10  # from black to white, as the eye sees it: neighbours further apart are looked at again


@dataclass(frozen=True, slots=True, eq=False)
class PixelSamples:
    """What is seen at some samples.

    place : (k,) intp which they are
    tint  : (k,) intp where their colours stand among all
    light : (2, k) float32 how bright they are, and how much darker hollows make them
    """

    place: Ints
    tint: Ints
    light: Singles

    def develop(self, colours: Sequence[Singles], shade: float, count: int) -> Singles:
        """(4, count) float32 red, green and blue light of all samples, and whether they show something.

        shade : 1 for the full play of light and shadow, 0 for the bare colours"""
        bright, hollow = self.light
        if shade != 1:
            bright, hollow = 1 + np.float32(shade) * (bright - 1), np.float32(shade) * hollow
        bright = bright * (1 - hollow)
        out = np.zeros((4, count), np.float32)
        for plane, colour in zip(out, colours, strict=False):
            plane[self.place] = colour.take(self.tint) * bright
        out[3, self.place] = 1.0
        return out


@dataclass(frozen=True, slots=True, eq=False)
class Supersampled:
    """What is seen of a view, whatever its colours.

    shape : rows, columns of pixels
    first : of every pixel, along the rows
    edge  : (e,) pixels that were looked at more closely
    again : rows of so many samples to each of them, one after the other
    """

    shape: tuple[int, int]
    first: PixelSamples
    edge: Ints
    again: tuple[PixelSamples, ...]

    def develop(self, colours: Sequence[Singles], shade: float, first: Singles | None = None) -> Singles:
        """(4, rows, columns) float32 linear light times cover, and cover.

        colours : red, green and blue of all tints
        first   : (4, rows * columns) what came of the first look, if that is known; it is used up
        """
        image = self.first.develop(colours, shade, self.shape[0] * self.shape[1]) if first is None else first
        close = len(self.again)
        if close:
            sums = np.zeros((4, len(self.edge)), np.float32)
            for row in self.again:
                fine = row.develop(colours, shade, close * len(self.edge))
                for k in range(close):
                    sums += fine[:, k::close]
            image[:, self.edge] = sums / close**2
        return image.reshape(4, *self.shape)


def take(
    seen: PictureScene, size: tuple[int, int], samples: int, colours: Sequence[Singles]
) -> tuple[Supersampled, Singles]:
    """What is seen, and (4, rows, columns) what comes of it in these colours, by which pixels differ or do not.

    size : (columns, rows); samples : along either side of a pixel whose neighbours differ"""
    sight, shape, half = seen.sight, (size[1], size[0]), np.float32(0.5)
    keys = seen.depths.nearest(Lattice(shape))
    hit = np.flatnonzero(keys >= 0)
    which, depth = seen.depths.decoded(keys.take(hit))
    depth = sight.camera.away(depth)
    away = np.zeros(len(keys), np.float32)
    away[hit] = depth
    about = _light.around(away.reshape(shape), (keys >= 0).reshape(shape), sight.blurred).ravel()
    row, column = np.divmod(hit.astype(np.int32), np.int32(size[0]))
    x, y = column + half, row + half
    first = PixelSamples(hit, seen.tint(which, x, y), seen.light(which, x, y, depth, about.take(hit)))
    image = first.develop(colours, sight.shade, len(keys))
    edge = edges(image.reshape(4, *shape)) if samples > 1 else np.zeros(shape, bool)
    again = tuple(_again(seen, first, about, edge, samples)) if samples > 1 else ()
    shot = Supersampled(shape, first, np.flatnonzero(edge), again)
    return shot, shot.develop(colours, sight.shade, image)


def _again(
    seen: PictureScene, first: PixelSamples, about: Singles, edge: Bools, samples: int
) -> Iterator[PixelSamples]:
    """Looks once more, and more closely, at some pixels (rows, columns) bool. Where a sample shows what the whole pixel
    did, it is as bright. about : of each pixel how near that is which surrounds it"""
    places, (high, wide) = np.flatnonzero(edge), edge.shape
    number = np.full(edge.size, -1, np.intp)
    number[first.place] = np.arange(len(first.place))
    wanted, pixel = Wanted(edge, samples), places.repeat(samples)
    number, about = number.take(pixel), about.take(pixel)
    y, x = (v.astype(np.float32) for v in np.divmod(pixel.astype(np.int32), np.int32(wide)))
    x += np.tile((np.arange(samples, dtype=np.float32) + np.float32(0.5)) / np.float32(samples), len(places))
    for down in (np.arange(samples) + 0.5) / samples - 0.5:  # rows lean, so that no two samples share a column
        keys = seen.depths.nearest(Lattice((high, wide * samples), samples, down / samples, down), wanted)
        hit = np.flatnonzero(keys >= 0)
        which, depth = seen.depths.decoded(keys.take(hit))
        at = x.take(hit) + np.float32(down / samples), y.take(hit) + np.float32(0.5 + down)
        tint, known = seen.tint(which, *at), number.take(hit)
        same = (known >= 0) & (tint == first.tint.take(known))
        light, old, new = np.empty((2, len(hit)), np.float32), np.flatnonzero(same), np.flatnonzero(~same)
        others = [v.take(new) for v in (*at, seen.sight.camera.away(depth), about.take(hit))]
        for row, before, value in zip(light, first.light, seen.light(which.take(new), *others), strict=True):
            row[old], row[new] = before.take(known.take(old)), value
        yield PixelSamples(hit, tint, light)


def edges(image: Singles) -> Bools:
    """(rows, columns) pixels of an image (4, rows, columns) that differ from one of their four neighbours."""
    edge = np.zeros(image.shape[1:], bool)
    for value in image:
        look = np.clip(value, 0, _BRIGHTEST)
        np.sqrt(look, out=look)
        look *= np.float32(_STEPS)
        look = look.astype(np.uint8)
        for ahead, back in ((np.s_[1:], np.s_[:-1]), (np.s_[:, 1:], np.s_[:, :-1])):
            differ = np.maximum(look[ahead], look[back]) - np.minimum(look[ahead], look[back]) > _DIFFER
            edge[ahead] |= differ
            edge[back] |= differ
    return edge
