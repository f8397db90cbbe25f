"""Scattered centres of cells on a dome, the corners where three of them are equally far, and short sides made longer.

References: G. Voronoi, Journal fuer die reine und angewandte Mathematik 134 (1908); cells are cut out of the face by
the planes half-way between centres in space (Edelsbrunner & Shah, restricted Delaunay triangulations, 1997).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.errors import GeometryError
from shellgen.geom.straightest import closest_uv
from shellgen.model import Surface
from shellgen.plates._honeycomb import Centres, Contacts, Fine

APART, SHRINK, MISSES = 0.65, 0.95, 60
"""How far centres lie apart at first, over the width of a cell; by what factor this shrinks after so many misses.
Chosen: closer ones leave slivers, wider ones are nearly even before they are relaxed."""
STEPS = 12
"""Newton's steps to a corner. Chosen: it converges in five."""
ROUNDS = 80
"""Rounds in which short sides are made longer. Chosen: most are long enough after twenty."""


def scattered(mesh: Fine, size: Floats, count: int, rng: np.random.Generator) -> Centres:
    """Centres at random vertices of the mesh, `count` with their mirror images, none much nearer to another than a cell
    is wide there. size : (vertices,) mm. GeometryError if there is no room for so many.

    References: R. L. Cook, Stochastic Sampling in Computer Graphics, ACM TOG 5(1), 1986 (dart throwing).
    """
    chance = mesh.weight / size**2
    chance = chance / chance.sum()
    on_middle = np.zeros(len(mesh.uv), dtype=bool)
    on_middle[mesh.middle] = True
    apart, misses = APART, 0
    points, middle, reach = np.zeros((0, 3)), np.zeros(0, dtype=bool), np.zeros(0)
    while (left := count - int(np.where(middle, 1, 2).sum())) > 0:
        vertex = int(rng.choice(len(chance), p=chance))
        here, own = mesh.points[vertex], apart * size[vertex]
        central = bool(here[1] < own / 2 or on_middle[vertex])
        if central:
            vertex = int(mesh.middle[np.linalg.norm(mesh.points[mesh.middle] - here * (1, 0, 1), axis=1).argmin()])
            here = mesh.points[vertex]
        away = np.linalg.norm(points - here, axis=1)
        if (central or left > 1) and (away > (own + apart * reach) / 2).all():
            points = np.concatenate([points, here[None]])
            middle, reach = np.append(middle, central), np.append(reach, size[vertex])
            continue
        misses += 1
        if misses % MISSES == 0:
            apart *= SHRINK
            if misses > 100 * MISSES:
                raise GeometryError("there is no room for so many cells")
    return Centres(points, middle)


def sharpened(surface: Surface, found: Contacts, centres: Centres, *, limit: float) -> Floats:
    """(n, 2) uv of the corners where they are equally far from the centres of the cells that meet there. A corner that
    would move by more than `limit` mm stays: four cells nearly meet, and others than on the mesh may touch.

    References: Newton's method on |p - a|^2 = |p - b|^2 = |p - c|^2 for a point p of the face.
    """
    uv = found.uv.copy()
    free = np.array([cells if len(cells) > 1 else (0, 0) for cells in (c + c[-1:] * (3 - len(c)) for c in found.cells)])
    rim, middle = np.array(found.rim[1:-1]), np.array(found.middle[1:-1])
    basis = np.tile(np.eye(2), (len(uv), 1, 1))
    for _ in range(STEPS):
        basis[rim] = np.stack([np.column_stack([-uv[rim, 1], uv[rim, 0]]), np.zeros((len(rim), 2))], axis=2)
        basis[middle] = [[1, 0], [0, 0]]
        points, tangent = surface.points(uv), surface.tangents(uv) @ basis
        first, *others = np.moveaxis(centres.points[free], 1, 0)
        error = np.stack([((points - first) ** 2 - (points - c) ** 2).sum(axis=1) for c in others], axis=1)
        slope = np.stack([2 * np.einsum("nik,ni->nk", tangent, c - first) for c in others], axis=1)
        step = -np.einsum("nkl,nl->nk", np.linalg.pinv(slope, rcond=1e-6), error)
        reach = np.linalg.norm(np.einsum("nik,nk->ni", tangent, step), axis=1)
        step *= np.minimum(1, limit / np.maximum(reach, 1e-9))[:, None]
        uv = uv + np.einsum("nik,nk->ni", basis, step)
        uv = _placed(uv, rim, middle)
    uv[list(found.rim[:: len(found.rim) - 1])] = (1.0, 0.0), (-1.0, 0.0)
    moved = np.linalg.norm(surface.points(uv) - surface.points(found.uv), axis=1)
    return np.where((moved < limit)[:, None], uv, found.uv)


def _placed(uv: Floats, rim: Ints, middle: Ints) -> Floats:
    uv = uv / np.maximum(np.linalg.norm(uv, axis=1, keepdims=True), 1)
    uv[rim] /= np.linalg.norm(uv[rim], axis=1, keepdims=True)
    uv[middle, 1] = 0
    return uv


def lengthened(
    surface: Surface, uv: Floats, found: Contacts, rings: Sequence[Sequence[int]], central: Bools, least: float
) -> Floats:
    """(n, 2) corners moved apart until no side is shorter than `least` mm, as far as that can be.

    References: Mueller et al., Position based dynamics, J. Vis. Commun. Image R. 18(2), 2007.
    """
    crossed, border = found.crossed(central), set(pairwise(found.middle))
    border |= {(b, a) for a, b in border}
    steps = {
        (min(a, b), max(a, b))
        for ring, half in zip(rings, central, strict=True)
        for a, b in pairwise([*ring, ring[0]])
        if not (half and (a, b) in border)
    }
    ends = np.array(sorted(steps))
    # what the midline halves needs half the length on one hand
    ends_rim = {found.rim[0], found.rim[-1]}
    share = np.array([0.5 if {a, b} & (crossed | ends_rim) else 1.0 for a, b in ends.tolist()])
    rim, middle, fixed = np.array(found.rim[1:-1]), np.array(found.middle[1:-1]), list(ends_rim)
    rough = surface.points(found.uv)
    way = rough[ends[:, 1]] - rough[ends[:, 0]]
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    for _ in range(ROUNDS):
        points = surface.points(uv)
        side = points[ends[:, 1]] - points[ends[:, 0]]
        span = np.linalg.norm(side, axis=1)
        ahead = (side * way).sum(axis=1) > 0.5 * span  # else it has turned over
        way = np.where(ahead[:, None], side / np.maximum(span, 1e-9)[:, None], way)
        short = np.maximum(least * share - np.where(ahead, span, -span), 0)
        if not short.any():
            break
        shift = np.zeros_like(points)
        np.add.at(shift, ends[:, 1], 0.5 * short[:, None] * way)
        np.add.at(shift, ends[:, 0], -0.5 * short[:, None] * way)
        moved = _placed(closest_uv(surface, points + shift, uv, rounds=2), rim, middle)
        moved[fixed] = uv[fixed]
        uv = moved
    return uv
