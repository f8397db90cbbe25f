"""The shell as solid parts in 3-D: foam with its plate lines, edging, rings and spikes."""

from __future__ import annotations

from functools import lru_cache
from itertools import groupby

import numpy as np

from shellgen.canvas import Colour, Scene, ScenePart
from shellgen.core.arrays import Floats, Ints
from shellgen.draw.crease import creased_each
from shellgen.draw.light_spikes import AROUND, light
from shellgen.model import Ring, ShellMesh, Solid, Spike, Surface
from shellgen.pipeline.dome import Ground

PALETTE: dict[str, Colour] = {  # chosen: muted marsh tones of our own, light enough for plate lines to show
    "plates": (95, 135, 145),
    "inside": (92, 88, 80),
    "rim": (89, 98, 90),
    "spikes": (201, 183, 124),
    "rings": (89, 98, 90),
}
FOAM = "shell-"
"""Start of the names of parts that are the foam of the plates."""

LINE_LIFT = 0.6
"""Plate lines are drawn this far above the foam, mm, so that they are not half sunk in it (chosen)."""


OFF, LEAST = 0.25, 12
"""Largest error of a round outline in pixels (chosen: too small to see), and its least number of sides (with fewer it
would be shaded as if it had edges)."""


def sides(across: float, pixel: float | None, most: int) -> int:
    """Number of sides of a circle from its diameter and the size of a pixel, both mm; the most if that is not known.

    References: a side of an n-gon is r (1 - cos(pi / n)) off its circle.
    """
    if pixel is None:
        return most
    off = min(2 * OFF * pixel / across, 1.0)
    return int(np.clip(np.ceil(np.pi / np.arccos(1 - off)), LEAST, most))


def shell_scene(
    shell_name: str,
    ground: Ground,
    thickness: float,
    spikes: tuple[Spike, ...],
    rings: tuple[Ring, ...],
    edging: tuple[Solid, ...],
    palette: dict[str, Colour] | None = None,
    *,
    smooth: bool = True,
    pixel: float | None = None,
) -> Scene:
    """The finished shell. Spikes that share a master are copies of one part.

    smooth : whether spikes, rings and edging have their own normals, which a viewer may not need
    pixel  : size of a picture's pixel on the shell, mm, so that small parts have fewer triangles; None for a
             shell that is looked at from any distance
    """
    colours = {**PALETTE, **(palette or {})}
    parts = (
        *foam_parts(ground.mesh, thickness, colours),
        *edging_parts(edging, colours, smooth=smooth),
        *ring_parts(ground.surface, spikes, rings, colours, smooth=smooth, pixel=pixel),
        *spike_parts(spikes, colours, smooth=smooth, pixel=pixel),
    )
    return Scene(shell_name, parts, plate_lines(ground))


def plate_lines(ground: Ground) -> tuple[Floats, ...]:
    """(n, 3) polylines of the plate net, the midline left out."""
    lifted = ground.mesh.offset(LINE_LIFT)
    return tuple(
        lifted[vertices]
        for line, vertices in zip(ground.layout.lines, ground.mesh.line_vertices, strict=True)
        if line.kind == "plate"
    )


def foam_parts(mesh: ShellMesh, thickness: float, colours: dict[str, Colour]) -> tuple[ScenePart, ...]:
    """Outer face, inner face and the edge between them."""
    inner = mesh.offset(-thickness)
    rim = mesh.rim
    count = len(rim)
    k = np.arange(count)
    after = (k + 1) % count
    band = np.concatenate([np.stack([k, k + count, after], 1), np.stack([after, k + count, after + count], 1)])
    return (
        ScenePart("shell-outside", mesh.points, mesh.faces, colours["plates"], vertex_normals=mesh.normals, solid=True),
        ScenePart("shell-inside", inner, mesh.faces[:, ::-1], colours["inside"], "inside", vertex_normals=-mesh.normals,
             solid=True),
        ScenePart("shell-edge", np.vstack([mesh.points[rim], inner[rim]]), band, colours["rim"], "rim", solid=True),
    )  # fmt: skip


def edging_parts(
    edging: tuple[Solid, ...], colours: dict[str, Colour], *, smooth: bool = True
) -> tuple[ScenePart, ...]:
    """The pieces of bevel stock along the rim."""
    meshes = [(piece.vertices, piece.faces) for piece in edging]
    shaped = creased_each(meshes) if smooth else [(*mesh, None) for mesh in meshes]
    return tuple(
        ScenePart(piece.name, points, faces, colours["rim"], "rim", vertex_normals=normals, solid=True)
        for piece, (points, faces, normals) in zip(edging, shaped, strict=True)
    )


def ring_parts(
    surface: Surface,
    spikes: tuple[Spike, ...],
    rings: tuple[Ring, ...],
    colours: dict[str, Colour],
    *,
    smooth: bool = True,
    pixel: float | None = None,
) -> tuple[ScenePart, ...]:
    """Foam strips around the spikes, bent along their true base curves, outer top edge chamfered."""
    of = {spike.name: spike for spike in spikes}
    feet = [_foot(of[ring.spike], ring, pixel) for ring in rings]
    if not feet:
        return ()
    up = surface.normals(np.concatenate([uv for _, uv in feet]))
    ups = np.split(up, np.cumsum([len(uv) for _, uv in feet])[:-1])
    meshes = [_ring(ring, base, up) for ring, (base, _), up in zip(rings, feet, ups, strict=True)]
    shaped = creased_each(meshes) if smooth else [(*mesh, None) for mesh in meshes]
    return tuple(
        ScenePart(f"ring-{ring.spike}", points, faces, colours["rings"], "rings", vertex_normals=normals, solid=True)
        for ring, (points, faces, normals) in zip(rings, shaped, strict=True)
    )


RING_POINTS = 40
"""Least number of points kept of a base curve (chosen: an error of 0.05 mm on a spike of 50 mm)."""


def _foot(spike: Spike, ring: Ring, pixel: float | None) -> tuple[Floats, Floats]:
    """(n, 3) points of a spike's base curve, as many as its ring needs or a few more, and their (n, 2) uv."""
    count = sides(spike.shape.diameter + 2 * ring.thickness, pixel, RING_POINTS)
    kept = slice(None, None, max(len(spike.base_curve) // count, 1))
    return spike.base_curve[kept], spike.seat_uv[kept]


def _ring(ring: Ring, base: Floats, up: Floats) -> tuple[Floats, Ints]:
    """Vertices and faces around a base curve (n, 3) with the dome's normals (n, 3) there."""
    tangent = np.roll(base, -1, axis=0) - np.roll(base, 1, axis=0)
    outward = np.cross(tangent, up)
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    # The base curve runs counter-clockwise seen from outside, or else this sign reverses it.
    outward *= np.sign(((base - base.mean(axis=0)) * outward).sum())
    t, w, chamfer = ring.thickness, ring.width, ring.thickness / 3
    section = [(0.0, 0.0), (t, 0.0), (t, w - chamfer), (t - chamfer, w), (0.0, w)]
    rows = np.stack([base + a * outward + b * up for a, b in section], axis=1)  # (n, 5, 3)
    return rows.reshape(-1, 3), _tube_faces(len(base), len(section))


@lru_cache(maxsize=64)
def _tube_faces(around: int, section: int) -> Ints:
    i, j = np.meshgrid(np.arange(around), np.arange(section), indexing="ij")
    a = i * section + j
    b = ((i + 1) % around) * section + j
    c = ((i + 1) % around) * section + (j + 1) % section
    d = i * section + (j + 1) % section
    return np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])


def spike_parts(
    spikes: tuple[Spike, ...], colours: dict[str, Colour], *, smooth: bool = True, pixel: float | None = None
) -> tuple[ScenePart, ...]:
    """One part per master, with a placement for each spike that is made from it, with few triangles, for a screen."""
    by_master = sorted(spikes, key=lambda s: s.master)
    groups = {master: list(group) for master, group in groupby(by_master, key=lambda s: s.master)}
    solids = light(tuple(by_master), around=lambda spike: sides(spike.shape.diameter, pixel, AROUND))
    meshes = [(solid.vertices, solid.faces) for solid in solids]
    shaped = creased_each(meshes) if smooth else [(*mesh, None) for mesh in meshes]
    return tuple(
        ScenePart(solid.name, points, faces, colours["spikes"], "spikes", vertex_normals=normals,
             placements=np.stack([spike.frame for spike in groups[solid.name]]), solid=True)
        for solid, (points, faces, normals) in zip(solids, shaped, strict=True)
    )  # fmt: skip
