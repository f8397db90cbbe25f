"""Where the shade lies: what the spikes and rings hide of the sky, the grooves, and the feet of the rings.

One value stands at every point: the share of the sky that is hidden. Occlusion gives it in the open, a closed form
at the floor of a groove and at a foot, from where it fades out evenly over the distance that the maker sets.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.spatial import cKDTree

from shellgen.geom import levels, loops, occlusion
from shellgen.geom.triangles import edges
from shellgen.model import Layout, Ring, Shading, ShellMesh, Solid, Spike, Surface
from shellgen.paint.zones import Params

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


def build(
    surface: Surface, layout: Layout, mesh: ShellMesh, spikes: Sequence[Spike], masters: Sequence[Solid],
    rings: Sequence[Ring], params: Params, *, groove: tuple[float, float],
) -> Shading:  # fmt: skip
    """The shade on the outer face; groove : its width and depth, mm."""
    of_ring = {ring.spike: ring for ring in rings}
    feet = [_foot(surface, spike, of_ring.get(spike.name)) for spike in spikes]
    coarse, ends = levels.halved(mesh.faces, len(mesh.points))
    uv, points, normals = _between(surface, mesh.uv, ends)
    seen = occlusion.openness(
        points, normals, occluders(surface, spikes, masters, of_ring), axes=AXES, pixel=PIXEL, reach=FAR
    )
    seen = _smoothed(_from_outside(points, seen, distance_to_feet(points, feet)), coarse)
    faces, again = levels.halved(coarse, len(points))
    seen = np.append(seen, seen[again].mean(axis=1))
    _, points, normals = _between(surface, uv, again)
    shade = np.maximum(1 - seen, _fading(from_grooves(points, mesh, layout), 1 - occlusion.slot(*groove), params.reach))
    shade = np.clip(np.maximum(shade, _fading(distance_to_feet(points, feet), CORNER, params.reach)), 0.0, 1.0)
    return Shading((ends, again), points, normals, faces, seen, shade, (params.middle, params.dark), params.brush)


def _between(surface: Surface, uv: NDArray, ends: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """Places, points and normals with those half way between `ends` added."""
    uv = np.vstack([uv, uv[ends].mean(axis=1)])
    return uv, surface.points(uv), surface.normals(uv)


def _fading(distance: NDArray, most: float, reach: float) -> NDArray:
    return most * (1 - distance / reach)


def occluders(surface: Surface, spikes: Sequence[Spike], masters: Sequence[Solid], rings: dict[str, Ring]) -> NDArray:
    """(m, 3, 3) coarse triangles of the spikes and of the rings' outer sides and tops."""
    coarse = {solid.name: levels.clustered(solid.vertices, solid.faces, CELL) for solid in masters}
    found = [np.zeros((0, 3, 3))]
    for spike in spikes:
        vertices, faces = coarse[spike.master]
        found.append((vertices @ spike.frame[:3, :3].T + spike.frame[:3, 3])[faces])
        ring = rings.get(spike.name)
        if ring is not None:
            some = np.linspace(0, len(spike.base_curve), AROUND, endpoint=False).astype(int)
            up = surface.normals(spike.seat_uv)
            low, inner = loops.offset(spike.base_curve, up, ring.thickness)[some], spike.base_curve[some]
            rise = ring.width * up[some]
            found += [_band(low, low + rise), _band(low + rise, inner + rise)]
    return np.concatenate(found)


def _band(low: NDArray, high: NDArray) -> NDArray:
    """(2 n, 3, 3) triangles between two closed curves."""
    ahead, above = np.roll(low, -1, axis=0), np.roll(high, -1, axis=0)
    return np.concatenate([np.stack([low, ahead, above], axis=1), np.stack([low, above, high], axis=1)])


def _foot(surface: Surface, spike: Spike, ring: Ring | None) -> NDArray:
    """(n, 3) the outer foot of the ring, or of the spike without one."""
    if ring is None:
        return spike.base_curve
    return loops.offset(spike.base_curve, surface.normals(spike.seat_uv), ring.thickness)


def distance_to_feet(points: NDArray, feet: Sequence[NDArray]) -> NDArray:
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
    return np.where(inside, -1.0, 1.0) * np.minimum(off, distance)


def _before(owner: NDArray, index: NDArray) -> NDArray:
    """Index of the point before each on its closed curve."""
    first = np.searchsorted(owner, owner[index])
    last = np.searchsorted(owner, owner[index], side="right") - 1
    return np.where(index == first, last, index - 1)


def _to_stretch(points: NDArray, start: NDArray, along: NDArray) -> NDArray:
    share = np.einsum("ij,ij->i", points - start, along) / np.einsum("ij,ij->i", along, along)
    return np.linalg.norm(points - start - np.clip(share, 0, 1)[:, None] * along, axis=1)


def _from_outside(points: NDArray, seen: NDArray, away: NDArray) -> NDArray:
    """Openness, that of covered ground taken from the nearest open ground, so that nothing dark leaks out at a foot."""
    covered = away < PIXEL / 2
    if not covered.any() or covered.all():
        return seen
    near = cKDTree(points[~covered]).query(points[covered])[1]
    result = seen.copy()
    result[covered] = seen[~covered][near]
    return result


def _smoothed(values: NDArray, faces: NDArray) -> NDArray:
    """Values spread over their neighbours, so that the outlines of the tones are as smooth as a brush makes them."""
    start, end = edges(faces).T
    half = sparse.coo_array((np.ones(len(start)), (start, end)), shape=(len(values), len(values)))
    near = (half + half.T).tocsr()
    count = near.sum(axis=1)
    for _ in range(ROUNDS):
        values = (values + near @ values / count) / 2
    return values


def from_grooves(points: NDArray, mesh: ShellMesh, layout: Layout) -> NDArray:
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
