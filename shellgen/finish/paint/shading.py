"""Where the shade lies: what the spikes and rings hide of the sky, the grooves, and the feet of the rings.

One value stands at every point: the share of the sky that is hidden. Occlusion gives it in the open, a closed form
at the floor of a groove and at a foot, from where it fades out evenly over the distance that the maker sets.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.spatial import cKDTree

from shellgen.core.arrays import Floats, Ints, Numbers
from shellgen.core.memory import remembered
from shellgen.finish.paint.zones import Params
from shellgen.geom import loops, occlusion
from shellgen.geom.subdivision import subdivided
from shellgen.geom.triangles import edges
from shellgen.geom.vertex_clustering import clustered
from shellgen.model import Layout, Ring, Shading, ShellMesh, Solid, Spike, Surface

AXES, PIXEL, CELL = 48, 4.0, 6.0
"""Lines of sight, raster and coarsening of the spikes, mm. Chosen: eight times as many lines and half the raster move
the openness by 0.03 to 0.04 rms on the demos, most of it at the feet, where the closed form below is darker anyway; one
vertex in a hundred or fewer then changes its tone."""
FAR = 200.0
"""mm beyond which nothing is taken to hide the sky (chosen: four spikes' heights)."""
AROUND = 24
"""Sides that a ring is given as it hides the sky (chosen)."""
CORNER = 0.5
"""Share of the sky hidden on a floor at the foot of a long upright wall.

References: Howell, A Catalog of Radiation Heat Transfer Configuration Factors, C-5 (perpendicular strips).
"""
ROUNDS = 12
"""Times that openness is averaged over its neighbours. Chosen: it then spreads by about a brush's width."""
STEP = 2.0
"""mm between the points of the plate lines from which distances are taken (chosen)."""


@dataclass(frozen=True, slots=True, eq=False)
class ShadedGround:
    """What shade lies on, whatever stands there.

    ends    : of both halvings, as in `Shading`
    points, normals, faces : of the finer mesh
    count   : of its vertices that the coarser mesh has too, which come first
    near    : (count, count) sparse, 1 where two vertices of the coarser mesh are joined by an edge
    grooves : (n,) mm to the nearest plate line
    """

    ends: tuple[Ints, ...]
    points: Floats
    normals: Floats
    faces: Ints
    count: int
    near: sparse.csr_array
    grooves: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Foot:
    """Where a spike stands.

    up   : (n, 3) the dome's normals along its base curve
    line : (n, 3) the outer foot of its ring, or its own without one
    """

    up: Floats
    line: Floats


def build(
    surface: Surface, layout: Layout, mesh: ShellMesh, spikes: Sequence[Spike], masters: Sequence[Solid],
    rings: Sequence[Ring], params: Params, *, groove: tuple[float, float],
) -> Shading:  # fmt: skip
    """The shade on the outer face; groove : its width and depth, mm."""
    of_ring, on = {ring.spike: ring for ring in rings}, shaded_ground(surface, layout, mesh)
    feet = _feet(surface, spikes, of_ring)
    hiding = occluders(spikes, masters, of_ring, feet)
    away = distance_to_feet(on.points, [foot.line for foot in feet])
    seen = _smoothed(_seen(on, away[: on.count], hiding), on.near)
    seen = np.append(seen, seen[on.ends[1]].mean(axis=1))
    shade = np.maximum(1 - seen, _fading(on.grooves, 1 - occlusion.slot(*groove), params.reach))
    shade = np.clip(np.maximum(shade, _fading(away, CORNER, params.reach)), 0.0, 1.0)
    return Shading(on.ends, on.points, on.normals, on.faces, seen, shade, (params.middle, params.dark), params.brush)


@remembered
def shaded_ground(surface: Surface, layout: Layout, mesh: ShellMesh) -> ShadedGround:
    """What shade lies on: the mesh with every edge halved twice."""
    coarse, ends = subdivided(mesh.faces, len(mesh.points))
    uv = np.vstack([mesh.uv, mesh.uv[ends].mean(axis=1)])
    faces, again = subdivided(coarse, len(uv))
    count, uv = len(uv), np.vstack([uv, uv[again].mean(axis=1)])
    points = surface.points(uv)
    one, other = edges(coarse).T
    half = sparse.coo_array((np.ones(len(one)), (one, other)), shape=(count, count))
    near = (half + half.T).tocsr()
    return ShadedGround(
        (ends, again), points, surface.normals(uv), faces, count, near, from_grooves(points, mesh, layout)
    )


def _fading(distance: Floats, most: float, reach: float) -> Floats:
    return most * (1 - distance / reach)


def occluders(
    spikes: Sequence[Spike], masters: Sequence[Solid], rings: dict[str, Ring], feet: Sequence[Foot]
) -> Floats:
    """(m, 3, 3) coarse triangles of the spikes and of the rings' outer sides and tops. feet : of the spikes"""
    coarse = {solid.name: _coarse(solid) for solid in masters}
    found = [np.zeros((0, 3, 3))]
    for spike, foot in zip(spikes, feet, strict=True):
        vertices, faces = coarse[spike.master]
        found.append((vertices @ spike.frame[:3, :3].T + spike.frame[:3, 3])[faces])
        ring = rings.get(spike.name)
        if ring is not None:
            some = np.linspace(0, len(spike.base_curve), AROUND, endpoint=False).astype(int)
            low, inner, rise = foot.line[some], spike.base_curve[some], ring.width * foot.up[some]
            found += [_band(low, low + rise), _band(low + rise, inner + rise)]
    return np.concatenate(found)


@remembered
def _coarse(solid: Solid) -> tuple[Numbers, Numbers]:
    return clustered(solid.vertices, solid.faces, CELL)


def _band(low: Floats, high: Floats) -> Floats:
    """(2 n, 3, 3) triangles between two closed curves."""
    ahead, above = np.roll(low, -1, axis=0), np.roll(high, -1, axis=0)
    return np.concatenate([np.stack([low, ahead, above], axis=1), np.stack([low, above, high], axis=1)])


def _feet(surface: Surface, spikes: Sequence[Spike], rings: dict[str, Ring]) -> list[Foot]:
    """Where each spike stands."""
    if not spikes:
        return []
    ups = surface.normals(np.concatenate([spike.seat_uv for spike in spikes]))
    ends = np.cumsum([len(spike.seat_uv) for spike in spikes])[:-1]
    return [_foot(spike, up, rings.get(spike.name)) for spike, up in zip(spikes, np.split(ups, ends), strict=True)]


def _foot(spike: Spike, up: Floats, ring: Ring | None) -> Foot:
    return Foot(up, spike.base_curve if ring is None else loops.offset(spike.base_curve, up, ring.thickness))


def distance_to_feet(points: Floats, feet: Sequence[Floats]) -> Floats:
    """(n,) mm to the nearest foot, negative on ground that a spike or ring covers; infinite without feet."""
    if not feet:
        return np.full(len(points), np.inf)
    owner = np.repeat(np.arange(len(feet)), [len(foot) for foot in feet])
    middle = np.array([foot.mean(axis=0) for foot in feet])
    line = np.concatenate(feet)
    ahead = np.concatenate([np.roll(foot, -1, axis=0) - foot for foot in feet])
    distance, near = cKDTree(line).query(points)
    across = line[near] - middle[owner[near]]
    inside = np.einsum("ij,ij->i", points - line[near], across) < 0
    # to the stretches before and behind, not only to their ends
    off = np.minimum(*(_to_stretch(points, line[k], ahead[k]) for k in (near, _before(owner, near))))
    return np.asarray(np.where(inside, -1.0, 1.0) * np.minimum(off, distance))


def _before(owner: Ints, index: Ints) -> Ints:
    """Index of the point before each on its closed curve."""
    first = np.searchsorted(owner, owner[index])
    last = np.searchsorted(owner, owner[index], side="right") - 1
    return np.where(index == first, last, index - 1)


def _to_stretch(points: Floats, start: Floats, along: Floats) -> Floats:
    share = np.einsum("ij,ij->i", points - start, along) / np.einsum("ij,ij->i", along, along)
    return np.asarray(np.linalg.norm(points - start - np.clip(share, 0, 1)[:, None] * along, axis=1))


def _seen(on: ShadedGround, away: Floats, hiding: Floats) -> Floats:
    """(count,) openness, that of covered ground taken from the nearest open ground, so that nothing dark leaks out at a
    foot. away : (count,) mm to the nearest foot; hiding : (m, 3, 3) what hides the sky"""
    free = away >= PIXEL / 2
    if not free.any():
        free = ~free
    points, normals = on.points[: on.count], on.normals[: on.count]
    seen = occlusion.openness(points[free], normals[free], hiding, axes=AXES, pixel=PIXEL, reach=FAR)
    if free.all():
        return seen
    result = np.empty(on.count)
    result[free], result[~free] = seen, seen[cKDTree(points[free]).query(points[~free])[1]]
    return result


def _smoothed(values: Floats, near: sparse.csr_array) -> Floats:
    """Values spread over their neighbours, so that the outlines of the tones are as smooth as a brush makes them."""
    count = near.sum(axis=1)
    for _ in range(ROUNDS):
        values = (values + near @ values / count) / 2
    return values


def from_grooves(points: Floats, mesh: ShellMesh, layout: Layout) -> Floats:
    """(n,) mm to the nearest plate line, straight through: over the few mm that matter the dome is as good as flat."""
    runs = [
        mesh.points[vertices]
        for line, vertices in zip(layout.lines, mesh.line_vertices, strict=True)
        if line.kind == "plate"
    ]
    if not runs:
        return np.full(len(points), np.inf)
    start, along = np.concatenate([run[:-1] for run in runs]), np.concatenate([np.diff(run, axis=0) for run in runs])
    count = np.ceil(np.linalg.norm(along, axis=1) / STEP).astype(int)
    owner = np.repeat(np.arange(len(start)), count)
    place = (np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count) + 0.5) / count[owner]
    near = owner[cKDTree(start[owner] + place[:, None] * along[owner]).query(points)[1]]
    return _to_stretch(points, start[near], along[near])
