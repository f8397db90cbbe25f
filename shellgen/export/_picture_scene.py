"""What may be seen of a Scene by a camera: its triangles on the picture, and what is read anywhere on them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats, Ints, Reals, Singles
from shellgen.export import _light
from shellgen.export._light import Shadows, Soup
from shellgen.export._mesh import linear
from shellgen.export._view import Camera
from shellgen.export._zbuffer import Depths
from shellgen.geom.scan_conversion import Facets, downwards, read

_LINE, _LINE_WIDTH = (38, 33, 28), 1.8  # pixels; drawn as strips in the depth buffer, so that hidden lines hide
_LIFT = 0.0015  # of the scene's size: how far lines stand off the surface that they lie on
_OFF = (
    1.5  # texels: how far a point is held off its surface when the light looks at it, so that it does not shade itself
)
_AT_ONCE = 2**16  # samples that are shaded at a time: they stay in the processor's cache


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """What a camera sees and in what light. reach : size of the scene, mm; blurred : of the picture, pixels, which
    blurs go by; shade : of the look that decides which pixels differ"""

    camera: Camera
    shadow: Shadows
    reach: float
    blurred: int
    shade: float


@dataclass(frozen=True, slots=True, eq=False)
class PictureMesh:
    """Triangles on a picture.

    vertices : (n,) float32 each of columns, rows, depths, the values that bands go by, how straight the key light
               falls, all other light, and columns, rows and depths on the key light's own picture
    faces    : (m, 3)
    """

    vertices: Sequence[Singles]
    faces: Ints


class PictureScene:
    """All that may be seen of the solids and the lines."""

    def __init__(self, triangles: Soup, sight: Sight) -> None:
        self.sight, camera = sight, sight.camera
        self.shown, solids = _solids(triangles, sight)
        strips = _strips(triangles.lines, camera, _LIFT * sight.reach)
        x, y, depth, value, *light = (
            np.concatenate(both) for both in zip(solids.vertices, strips.vertices, strict=True)
        )
        facets = Facets(x, y, np.concatenate([solids.faces, strips.faces + len(solids.vertices[0])]))
        self.depths = Depths(facets, depth)
        self.straight, self.rest = (facets.plane(v) for v in light[:2])
        self.lit = [facets.plane(camera.flattened(v, depth)) for v in light[2:]]
        self.value, self.levels = facets.plane(value) if triangles.levels else None, triangles.levels
        self.count, self.strips = len(facets.x[0]), len(strips.faces)

    def colours(self, tints: Singles) -> list[Singles]:
        """Red, green and blue of all tints where the triangles of the soup have these (3, bands, m)."""
        inks = zip(tints, linear(np.array(_LINE)).tolist(), strict=True)
        every = ([own.take(self.shown, axis=1), np.full((len(own), self.strips), ink, np.float32)] for own, ink in inks)
        return [np.concatenate(both, axis=1).ravel() for both in every]

    def tint(self, which: Ints, x: Reals, y: Reals) -> Ints:
        """(k,) intp where the colours of places of triangles stand among all."""
        if self.value is None:
            return which
        value = read(self.value, which, x, y)
        return which + self.count * sum((value >= np.float32(level)).astype(np.intp) for level in self.levels)

    def light(self, which: Ints, x: Reals, y: Reals, away: Reals, about: Reals) -> Singles:
        """(2, k) how bright places of triangles are, and how much darker because they lie in a hollow; so many mm
        towards the viewer, as is what surrounds them."""
        out, sight = np.empty((2, len(which)), np.float32), self.sight
        for at in range(0, len(which), _AT_ONCE):
            part = slice(at, at + _AT_ONCE)
            places = which[part], x[part], y[part]
            bright = _light.key(read(self.straight, *places))
            bright *= sight.shadow.lit(*(sight.camera.restored(read(plane, *places), away[part]) for plane in self.lit))
            bright += read(self.rest, *places)
            out[0, part], out[1, part] = bright, _light.hollows(about[part], away[part], sight.reach)
        return out


def _solids(triangles: Soup, sight: Sight) -> tuple[Ints, PictureMesh]:
    """Those triangles that may be seen, and which they are."""
    x, y, depth = sight.camera.columns(triangles.points)
    corners = np.stack([x, y], axis=1).take(triangles.faces, axis=0)
    shown = triangles.shown(corners)
    shown = shown.take(downwards(y, triangles.faces.take(shown, axis=0)))
    faces, normals, value = triangles.faces.take(shown, axis=0), triangles.normals, triangles.values
    column, row, near = sight.shadow.camera.columns(triangles.points)
    behind = ~triangles.skin[shown]
    if behind.any():  # the far side of a sheet has its own normals
        behind[behind] = ~_light.facing(corners[shown[behind]])
    if behind.any():
        faces = faces + len(x) * behind[:, None]
        x, y, depth, value, column, row, near = (
            np.concatenate([v, v]) for v in (x, y, depth, value, column, row, near)
        )
        normals = np.concatenate([normals, -normals])
    straight, rest, right, up = _light.light(normals, sight.camera.axes)
    column, row = column + np.float32(_OFF) * right, row - np.float32(_OFF) * up
    near = near + (1 + np.float32(_OFF) * straight) * np.float32(1 / sight.shadow.camera.scale)
    return shown, PictureMesh((x, y, depth, value, straight, rest, column, row, near), faces)


def _strips(ends: Floats, camera: Camera, lift: float) -> PictureMesh:
    """Every stretch (k, 2, 3) of the lines as two triangles, lifted towards the viewer, unlit."""
    flat, depth = camera.project(ends + lift * camera.axes[2])
    along = flat[:, 1] - flat[:, 0]
    along *= _LINE_WIDTH / 2 / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    across = along[:, ::-1] * (-1, 1)
    a, b = flat[:, 0] - along / 2, flat[:, 1] + along / 2
    corners = np.stack([a + across, a - across, b - across, b + across], axis=1).reshape(-1, 2).astype(np.float32)
    first = 4 * np.arange(len(ends))[:, None]
    faces = np.concatenate([first + np.array(three) for three in ((0, 1, 3), (3, 1, 2))])
    one = np.ones(len(corners), np.float32)
    x, y = np.ascontiguousarray(corners.T)
    deep, none = depth[:, [0, 0, 1, 1]].ravel().astype(np.float32), 0 * one
    return PictureMesh((x, y, deep, none, -one, one, none, none, none), faces)
