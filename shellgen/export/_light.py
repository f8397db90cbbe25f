"""A Scene under studio light: one soft key light with its shadow, a weak fill, and a sky brighter than the floor.

Light is added up in linear values and turned to sRGB at the very end. The strengths are chosen by eye.

References: wrapped diffuse light (half-Lambert); L. Williams, "Casting Curved Shadows on Curved Surfaces" (1978);
T. Luft, C. Colditz, O. Deussen, "Image Enhancement by Unsharp Masking the Depth Buffer" (2006).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from PIL import Image
from scipy import ndimage

from shellgen.canvas import Scene, ScenePart
from shellgen.core.arrays import Bools, Floats, Ints, Reals, Singles
from shellgen.export._mesh import linear, placements, solids
from shellgen.export._view import Camera, aim
from shellgen.export._zbuffer import Depths
from shellgen.geom.scan_conversion import Facets, Lattice, downwards

KEY, FILL, SKY, FLOOR = 0.78, 0.16, 0.40, 0.16
_WRAP = 0.2  # how far the key light reaches round the edge of its own shade
_KEY_FROM, _FILL_FROM = (-0.50, 0.68, 0.54), (0.75, 0.10, 0.65)  # right, up, to the viewer
COARSE = 4  # of so many pixels, one is asked what surrounds the rest
_DARKEN, _DARKEN_OVER = 0.45, 0.035  # most that a hollow is darkened; depth over the picture's size that does it


@dataclass(frozen=True, slots=True, eq=False)
class Soup:
    """All triangles of a scene as they stand: faces (m, 3), whether each belongs to the skin of a solid (m,); their
    vertices (n, 3) mm with normals (n, 3), followed by the points of the lines; and linear colours, red, green and
    blue, each (bands, m): of all triangles, where the value (n,) lies below the first level, then below the second,
    and so on. lines : (k, 2, 3) mm, the ends of their stretches"""

    points: Floats
    normals: Singles
    faces: Ints
    skin: Bools
    colours: Singles
    values: Singles
    levels: tuple[float, ...]
    lines: Floats

    @property
    def corners(self) -> Floats:
        """(m, 3, 3) mm."""
        return np.asarray(self.points[self.faces])

    def shown(self, flat: Singles) -> Ints:
        """Triangles that may be seen where their corners (m, 3, 2) lie on a picture, rows downward: of a solid, only
        those that face the viewer."""
        return np.flatnonzero(~self.skin | facing(flat))


def facing(flat: Singles) -> Bools:
    """Whether triangles with corners (m, 3, 2) on a picture, rows downward, face the viewer."""
    (x0, x1, x2), (y0, y1, y2) = flat[..., 0].T, flat[..., 1].T
    return np.asarray((x1 - x0) * (y2 - y0) < (y1 - y0) * (x2 - x0))


def soup(scene: Scene) -> Soup:
    points, normals, faces, values = [], [], [], []
    levels, sizes = _levels(scene), [len(placements(part)) * len(part.faces) for part in scene.parts]
    count, skin = 0, np.repeat(solids(scene.parts), sizes)
    for part in scene.parts:
        value = np.zeros(len(part.vertices)) if part.bands is None else part.bands.values
        vertices, mine, own = part.vertices, part.faces, part.vertex_normals
        if own is None:  # no two triangles share a vertex
            vertices, value, mine = vertices[mine.ravel()], value[mine.ravel()], np.arange(mine.size).reshape(-1, 3)
            own = _crossed(vertices[mine]).repeat(3, axis=0)
        for place in placements(part):
            turn = place[:3, :3].T
            points.append(vertices @ turn + place[:3, 3])
            normals.append(own @ turn)
            faces.append(mine + count)
            values.append(value)
            count += len(vertices)
    lines = np.concatenate([np.zeros((0, 3)), *scene.lines])
    ends = [np.zeros((0, 2, 3)), *(np.stack([line[:-1], line[1:]], axis=1) for line in scene.lines)]
    valued = np.concatenate([*values, np.zeros(len(lines))]).astype(np.float32)
    turned = np.concatenate([np.zeros((0, 3)), *normals, np.zeros_like(lines)]).astype(np.float32)
    every = np.concatenate([np.zeros((0, 3), int), *faces])
    return Soup(
        np.concatenate([*points, lines]), turned, every, skin, tints(scene), valued, levels, np.concatenate(ends)
    )


def _levels(scene: Scene) -> tuple[float, ...]:
    return next((part.bands.levels for part in scene.parts if part.bands), ())


def tints(scene: Scene) -> Singles:
    """(3, bands, m) float32 linear colours of all triangles, as in a `Soup`."""
    levels, done = _levels(scene), 0
    sizes = [len(placements(part)) * len(part.faces) for part in scene.parts]
    out = np.empty((3, len(levels) + 1, sum(sizes)), np.float32)
    for part, size in zip(scene.parts, sizes, strict=True):
        own = _colours(part, levels)
        out[:, :, done : done + size] = own if own.shape[2] == 1 else np.tile(own, size // own.shape[2])
        done += size
    return out


def _colours(part: ScenePart, levels: tuple[float, ...]) -> Floats:
    """(3, bands, m) linear, 1 for any number that is the same."""
    if part.bands is None:
        tints = linear(np.array(part.colour if part.face_colours is None else part.face_colours))
        return np.ascontiguousarray(tints.reshape(-1, 3).T)[:, None]
    if part.bands.levels != levels:
        raise ValueError(f"the bands of {part.name!r} have other levels than those before it")
    return linear(part.bands.colours).T[:, :, None]


def _crossed(corners: Floats) -> Floats:
    """(m, 3) unit normals."""
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return np.asarray(across / np.maximum(np.sqrt(np.einsum("ij,ij->i", across, across))[:, None], 1e-300))


@dataclass(frozen=True, slots=True, eq=False)
class Shadows:
    """What the key light sees: a depth map along its direction, minus infinity where nothing stands; and the farthest
    and nearest that stands about each texel."""

    camera: Camera
    depth: Singles
    far: Singles
    near: Singles

    def lit(self, columns: Reals, rows: Reals, depth: Reals, *, soft: bool = True) -> Singles:
        """(n,) float32 share of the key light that reaches points given in the light's own picture; if it is soft,
        the nine texels about each are asked. What is nearer than all of them is lit, what is farther than all is not;
        only of the rest each texel is asked."""
        wide = self.depth.shape[1]
        columns, rows = (np.clip(v, 1, n - 2) for v, n in ((columns, wide), (rows, self.depth.shape[0])))
        column, row = columns.astype(np.intp), rows.astype(np.intp)
        cell = row * wide + column
        if not soft:
            return np.asarray((depth >= self.depth.ravel().take(cell)).astype(np.float32))
        out: Singles = (depth >= self.near.ravel().take(cell)).astype(np.float32)
        mixed = np.flatnonzero((depth >= self.far.ravel().take(cell)) != (out > 0))
        depth, cell = depth.take(mixed), cell.take(mixed)
        across, down = _shares(columns, column, mixed), _shares(rows, row, mixed)
        total = np.zeros(len(mixed), np.float32)
        for k, share in enumerate(down, -1):
            for n, part in enumerate(across, -1):
                total += share * part * (depth >= self.depth.ravel().take(cell + (k * wide + n)))
        out[mixed] = total
        return out


def _shares(place: Reals, texel: Ints, some: Ints) -> tuple[Reals, Reals, Reals]:
    """How much the texel before, the one that holds the place and the one after it count: a quadratic B-spline."""
    off = place.take(some) - texel.take(some).astype(np.float32)
    return (1 - off) ** 2 / 2, 0.5 + off * (1 - off), off**2 / 2


def shadows(triangles: Soup, axes: Floats, scale: float, most: int) -> Shadows:
    """The key light's map, `scale` texels per mm, or fewer: at most `most` along its longer side. `axes`
    are those of the viewer's camera, to which the lights belong."""
    camera = Camera(_key_axes(axes), np.zeros(3))
    x, y, depth = camera.columns(triangles.points[: triangles.faces.max() + 1])
    low, high = np.array([x.min(), y.min()]), np.array([x.max(), y.max()])
    scale = min(scale, float((most - 4) / max(high - low)))
    camera = replace(camera, scale=scale, shift=tuple(2 - low * scale))
    x, y = x * np.float32(scale) + np.float32(camera.shift[0]), y * np.float32(scale) + np.float32(camera.shift[1])
    flat = np.stack([x, y], axis=1).take(triangles.faces, axis=0)
    faces = triangles.faces.take(triangles.shown(flat), axis=0)
    facets = Facets(x, y, faces.take(downwards(y, faces), axis=0))
    columns, rows = (int(n) for n in np.ceil((high - low) * scale) + 4)
    deep = Depths(facets, depth)
    seen = deep.nearest(Lattice((rows, columns)))
    out = np.where(seen < 0, np.float32(-np.inf), deep.decoded(seen)[1]).reshape(rows, columns)
    return Shadows(camera, out, _about(out, np.minimum), _about(out, np.maximum))


def _about(image: Singles, choose: np.ufunc) -> Singles:
    """The least or the largest of the three by three about each pixel."""
    for ahead, back in ((np.s_[1:], np.s_[:-1]), (np.s_[:, 1:], np.s_[:, :-1])):
        out = image.copy()
        choose(out[ahead], image[back], out=out[ahead])
        choose(out[back], image[ahead], out=out[back])
        image = out
    return image


def light(normals: Singles, axes: Floats) -> tuple[Singles, ...]:
    """(n,) float32 each under each normal: how straight the key light, which a shadow may take away, falls on it; all
    other light; and how far the normal points right and up on the key light's own picture."""
    right, up, towards = _key_axes(axes)
    ways = np.stack([towards, _turned(_FILL_FROM, axes), axes[1], right, up]).astype(np.float32)
    straight, fill, sky, right, up = ways @ normals.T
    fill, sky = np.float32(FILL) * np.clip(fill, 0, None), np.float32(0.5 * (SKY - FLOOR)) * sky
    return straight, fill + sky + np.float32(0.5 * (SKY + FLOOR)), right, up


def _key_axes(axes: Floats) -> Floats:
    """(3, 3) of the key light's own picture."""
    return aim(_turned(_KEY_FROM, axes), axes[1])


def key(straight: Singles) -> Singles:
    """The key light where it falls so straight, unless it is in shadow."""
    return np.asarray(np.clip((straight + np.float32(_WRAP)) * np.float32(KEY / (1 + _WRAP)), 0, None))


def _turned(direction: tuple[float, float, float], axes: Floats) -> Floats:
    return np.asarray(np.array(direction) / np.linalg.norm(direction) @ axes)


def around(depth: Singles, solid: Bools, size: int) -> Singles:
    """(rows, columns) float32 how near to the viewer that is which surrounds each pixel, mm.

    depth : mm, zero where `solid` is false; size : of the picture, pixels
    """
    coarse, (rows, columns) = COARSE, depth.shape
    weight = np.ascontiguousarray(solid[::coarse, ::coarse], np.float32)
    radius = max(round(0.012 * size / coarse), 1)
    near = blur(depth[::coarse, ::coarse], radius) / np.maximum(blur(weight, radius), 1e-4)
    near = np.pad(near.astype(np.float32), ((0, 1), (0, 1)), mode="edge")
    wide = Image.fromarray(near).resize((coarse * near.shape[1], coarse * near.shape[0]), Image.Resampling.BILINEAR)
    middle = (coarse - 1) // 2  # the coarse pixels' own places
    return np.asarray(wide)[middle : middle + rows, middle : middle + columns]


def hollows(around: Singles, depth: Singles, size: float) -> Singles:
    """(n,) how much darker places are made because what surrounds them is nearer to the viewer, mm. size : of the
    scene, mm"""
    return np.asarray(np.float32(_DARKEN) * np.clip((around - depth) * np.float32(1 / (_DARKEN_OVER * size)), 0, 1))


def blur(image: Reals, radius: int) -> Reals:
    """Two passes of a box of 2 radius + 1 pixels along either axis: nearly a bell curve. Edges are repeated."""
    size = 2 * radius + 1
    for _ in range(2):
        image = ndimage.uniform_filter(image, size, output=np.float64, mode="nearest")
    return image
