"""Sheets laid flat about a middle: collars round rings, and plates."""

from __future__ import annotations

import numpy as np
import shapely

from shellgen.canvas import frozen_array
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.finish.stencils._mask import AROUND, GIVE, Mask, flipped, foot
from shellgen.geom import loops
from shellgen.geom.closest_parameters import closest_parameters
from shellgen.geom.geodesics import shortest
from shellgen.model import Layout, Ring, Spike, Surface

COLLAR = 25.0
"""mm that a collar reaches beyond its ring (chosen: half of an airbrush's spray is narrower, and two go side by side on
a page)."""
STEPS = 8
OVER = 0.005
"""Share of a foot on a plate above which the plate's mask makes room for it (chosen: less is the width of a pen)."""


@remembered
def collar(surface: Surface, name: str, group: list[Spike], ring: Ring | None) -> Mask:
    """An annulus that lies on the shell round a ring, to shield the plate; slit once to be laid round."""
    spike = group[0]
    stands = foot(surface, spike, ring)
    every = max(1, len(stands) // AROUND)
    inner_uv = closest_parameters(surface, stands, spike.seat_uv)[::every]
    outward = loops.frames(spike.base_curve, surface.normals(spike.seat_uv))[1]
    outer_uv = closest_parameters(surface, (stands + COLLAR * outward)[::every], inner_uv)
    inner, outer = np.split(about(surface, spike.uv, np.vstack([inner_uv, outer_uv]), spike.frame[:3, 0]), 2)
    true, flat = _around(surface.points(outer_uv)), _around(outer)
    inward = 1.1 * float((np.hypot(*inner.T) / np.hypot(*outer.T)).max())
    inner, outer = _simple(inner), _simple(outer)
    slits, overlap = _slits(outer, true * _around(outer) / flat, min(inward, 0.95))
    entry = frozen_array(np.array([outer[0], inner[0]]))
    names = tuple(s.name for s in group)
    return Mask("collar", name, frozen_array(outer), (frozen_array(inner),), (entry, *slits[1:]), overlap, names)


def plates(surface: Surface, layout: Layout, spikes: tuple[Spike, ...], rings: dict[str, Ring]) -> tuple[Mask, ...]:
    """Each plate laid flat about its middle, with a hole for each spike with its ring, or a notch where it reaches over
    the edge."""
    standing = _standing(surface, layout, spikes, rings)
    made: dict[int, Mask] = {}
    for index, plate in enumerate(layout.plates):
        here, there = standing.get(index, []), standing.get(plate.mirror, [])
        if plate.mirror in made and plate.mirror != index and _mirrored(here, there):
            made[index] = flipped(made[plate.mirror], plate.name)
        else:
            made[index] = _plate(surface, plate.name, border(layout, index), here, [rings.get(s.name) for s in here])
    return tuple(made[index] for index in range(len(layout.plates)))


def _standing(
    surface: Surface, layout: Layout, spikes: tuple[Spike, ...], rings: dict[str, Ring]
) -> dict[int, list[Spike]]:
    """By the number of a plate, the spikes whose feet reach on it."""
    shapes = [shapely.Polygon(border(layout, index)) for index in range(len(layout.plates))]
    tree = shapely.STRtree(shapes)
    standing: dict[int, list[Spike]] = {}
    for spike in spikes:
        uv = closest_parameters(surface, foot(surface, spike, rings.get(spike.name)), spike.seat_uv)
        on = shapely.Polygon(uv).buffer(0)
        for plate in {spike.plate, *tree.query(on).tolist()}:
            if plate == spike.plate or on.intersection(shapes[plate]).area > OVER * on.area:
                standing.setdefault(plate, []).append(spike)
    return standing


def _mirrored(first: list[Spike], second: list[Spike]) -> bool:
    """Whether the spikes of two plates are mirror images."""
    return len(first) == len(second) and all(
        a.shape == b.shape and np.abs(a.uv - b.uv * [1, -1]).max() < 1e-9 for a, b in zip(first, second, strict=True)
    )


@remembered
def _plate(surface: Surface, name: str, uv: Floats, here: list[Spike], rings: list[Ring | None]) -> Mask:
    """uv : (n, 2) round the plate"""
    alone = len(here) == 1 and shapely.Polygon(uv).contains_properly(shapely.Polygon(here[0].seat_uv))
    middle = here[0].uv if alone else _middle(uv)
    feet = [
        closest_parameters(surface, foot(surface, s, ring)[::2], s.seat_uv[::2])
        for s, ring in zip(here, rings, strict=True)
    ]
    flat, *holes = np.split(
        about(surface, middle, np.vstack([uv, *feet])), np.cumsum([len(uv), *(len(f) for f in feet)])[:-1]
    )
    reach = max((float(np.hypot(*hole.T).max()) for hole in holes), default=0.0)
    inner = min(0.9, (reach + 5.0) / float(np.hypot(*flat.T).min())) if reach else 0.3
    slits, overlap = _slits(flat, _around(surface.points(uv)), inner)
    flat, holes = _cut_out(flat, holes)
    return Mask("plate", name, frozen_array(flat), tuple(frozen_array(hole) for hole in holes), slits, overlap, (name,))


def _around(points: Floats) -> float:
    """Length of a closed polyline."""
    return float(np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).sum())


def _simple(outline: Floats) -> Floats:
    """The outline, or the line of a thread pulled tight round it where it crosses itself: beyond a wavy foot the
    valleys' own offsets overlap, and paper spans them."""
    if shapely.Polygon(outline).is_valid:
        return outline
    hull = np.array(shapely.MultiPoint(outline).convex_hull.exterior.coords)[:-1]
    first = int(np.hypot(*(hull - outline[0]).T).argmin())
    return np.roll(hull, -first, axis=0)


def _cut_out(outline: Floats, holes: list[Floats]) -> tuple[Floats, list[Floats]]:
    """Outline and holes of a plate's mask. Holes that meet become one; one that reaches over the edge notches it."""
    holes = [_simple(hole) for hole in holes]
    shapes, whole = [shapely.Polygon(hole) for hole in holes], shapely.Polygon(_simple(outline))
    gone = shapely.union_all(shapes)
    if whole.contains_properly(gone) and len(shapely.get_parts(gone)) == len(holes):
        return outline, holes
    left = max(shapely.get_parts(whole.difference(gone)), key=lambda part: part.area, default=whole)
    left = shapely.orient_polygons(left) if left.area > 0 else whole
    return np.array(left.exterior.coords)[:-1], [np.array(hole.coords)[:-1] for hole in left.interiors]


def _middle(uv: Floats) -> Floats:
    """Centre of area of a polygon in the domain."""
    x, y = (uv - uv[0]).T
    cross = x * np.roll(y, -1) - y * np.roll(x, -1)
    moments = np.array([((x + np.roll(x, -1)) * cross).sum(), ((y + np.roll(y, -1)) * cross).sum()])
    return np.asarray(uv[0] + moments / (3 * cross.sum()))


def border(layout: Layout, index: int) -> Floats:
    """(n, 2) uv round a plate, counter-clockwise, thinned; the midline inside it left out."""
    cells = set(layout.plates[index].cells)
    edges: dict[int, tuple[Floats, int]] = {}
    for cell in layout.plates[index].cells:
        for line, turn in layout.cells[cell]:
            of = layout.lines[line]
            if {of.left, of.right} <= cells:
                continue
            uv = of.uv if turn > 0 else of.uv[::-1]
            start, end = (of.start, of.end) if turn > 0 else (of.end, of.start)
            edges[start] = (uv[:: max(1, len(uv) // STEPS)] if len(uv) > STEPS else uv, end)
            edges[start] = (np.vstack([edges[start][0][:-1], uv[-1:]]), end)
    node = min(edges)
    parts = []
    for _ in range(len(edges)):
        uv, node = edges[node]
        parts.append(uv[:-1])
    return np.vstack(parts)


def about(surface: Surface, middle: Floats, uv: Floats, ahead: Floats | None = None) -> Floats:
    """(n, 2) places laid flat about a middle: each at its true distance and in its true direction from there.

    References: azimuthal equidistant projection (Snyder, Map Projections, USGS PP 1395, 1987, section 25), here about
    any place of any dome: geodesic polar coordinates.
    """
    away = shortest(surface, middle, uv, steps=STEPS, close=1e-6)
    normal = surface.normals(middle[None])[0]
    first = surface.tangents(middle[None])[0, :, 0] if ahead is None else ahead - (ahead @ normal) * normal
    first = first / np.linalg.norm(first)
    return np.asarray(
        away.length[:, None] * np.stack([away.heading @ first, away.heading @ np.cross(normal, first)], axis=1)
    )


def _slits(flat: Floats, true: float, inner: float) -> tuple[tuple[Floats, ...], float]:
    """Cuts from the edge inwards as far as `inner`, as a share of the way out, and by how much their edges overlap: the
    flat edge is longer than the `true` one on the dome, and each slit takes up to GIVE of the difference."""
    edge = np.linalg.norm(np.diff(np.vstack([flat, flat[:1]]), axis=0), axis=1)
    excess = float(edge.sum() - true)
    count = int(np.ceil(excess / GIVE - 1e-9)) if excess > 0.25 * GIVE else 0
    if not count:
        return (), max(excess, 0.0)
    along = np.concatenate([[0.0], np.cumsum(edge)])
    spots = (np.arange(count) + 0.5) / count * along[-1]
    ends = np.array([[np.interp(s, along, np.append(flat[:, k], flat[0, k])) for k in (0, 1)] for s in spots])
    return tuple(frozen_array(np.array([end, inner * end])) for end in ends), excess / count
