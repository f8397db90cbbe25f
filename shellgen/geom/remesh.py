"""Fills a coarse triangulation of a patch of the plane so that its image in space is well shaped.

A triangle too large for its place is split at its middle; an edge whose two triangles would be fatter with the other
diagonal is flipped; inner vertices slide to the middle of their ring. All three work on whole arrays at once, measure
in space, and never move a vertex of a fixed edge.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shellgen.geom.triangles import areas

Lift = Callable[[NDArray], NDArray]
"""uv (n, 2) -> points (n, 3)."""
Tangents = Callable[[NDArray], NDArray]
"""uv (n, 2) -> (n, 3, 2) derivatives by u and v."""
Size = Callable[[NDArray], NDArray]
"""points (n, 3) -> (n,) the edge length wanted there."""

SPLIT = 1.17
"""A triangle is split when its middle is farther than 1 / (sqrt(3) / SPLIT) edge lengths from every corner: chosen by
measuring so that the mean edge comes out at the length asked for."""


class Fill(NamedTuple):
    """uv (n, 2), points (n, 3), faces (m, 3), and label (m,): the cell each face lies in."""

    uv: NDArray
    points: NDArray
    faces: NDArray
    label: NDArray


def fill(start: Fill, fixed: NDArray, lift: Lift, tangents: Tangents, size: Size, *, rounds: int = 12) -> Fill:
    """Refines `start` to `size`, then smooths it.

    fixed : (k, 2) edges that must stay; their vertices do not move.
    """
    n = len(start.uv)
    kept = np.unique(np.sort(fixed, axis=1) @ np.array([n, 1]))
    mesh = start
    while (bigger := _split(mesh, lift, size)) is not mesh:
        mesh = _delaunay(bigger, kept, n)
    still = np.unique(fixed)
    for _ in range(rounds):
        mesh = _delaunay(_relax(mesh, still, lift, tangents, size), kept, n)
    return mesh


def _split(mesh: Fill, lift: Lift, size: Size) -> Fill:
    """Splits at its middle each face whose corners are all farther from there than the size wanted; else `mesh`."""
    middle = mesh.points[mesh.faces].mean(axis=1)
    reach = np.linalg.norm(mesh.points[mesh.faces] - middle[:, None], axis=2).min(axis=1)
    large = np.flatnonzero(reach * np.sqrt(3) / SPLIT > size(middle))
    if not len(large):
        return mesh
    uv = mesh.uv[mesh.faces[large]].mean(axis=1)
    new = len(mesh.uv) + np.arange(len(large))
    a, b, c = mesh.faces[large].T
    faces = mesh.faces.copy()
    faces[large, 2] = new
    faces = np.concatenate([faces, np.column_stack([b, c, new]), np.column_stack([c, a, new])])
    label = np.concatenate([mesh.label, mesh.label[large], mesh.label[large]])
    return Fill(np.concatenate([mesh.uv, uv]), np.concatenate([mesh.points, lift(uv)]), faces, label)


def _wings(faces: NDArray, kept: NDArray, n: int) -> NDArray:
    """(k, 2) pairs of half edges (face + m * corner) that make up each free inner edge."""
    big = int(faces.max()) + 1
    start, end = faces.T.ravel(), np.roll(faces, -1, axis=1).T.ravel()
    low, high = np.minimum(start, end).astype(np.int64), np.maximum(start, end)
    code = low * big + high
    order = np.argsort(code, kind="stable")
    twice = np.flatnonzero(code[order[1:]] == code[order[:-1]])
    pair = np.column_stack([order[twice], order[twice + 1]])
    first = pair[:, 0]
    held = (high[first] < n) & np.isin(low[first] * n + high[first], kept)
    return pair[~held]


def _delaunay(mesh: Fill, kept: NDArray, n: int, *, passes: int = 60) -> Fill:
    """Flips free edges until the two angles facing each sum to at most pi, measured in space.

    References: Bobenko & Springborn, A Discrete Laplace-Beltrami Operator for Simplicial Surfaces, 2007.
    """
    faces = mesh.faces.copy()
    for _ in range(passes):
        first, second = _wings(faces, kept, n).T
        m = len(faces)
        face, corner = first % m, first // m
        mate, across = second % m, second // m
        a, b, c = (faces[face, (corner + i) % 3] for i in range(3))
        d = faces[mate, (across + 2) % 3]
        gain = _facing(mesh.points, a, b, c, d)
        wanted = np.flatnonzero(gain > 1e-9)
        wanted = wanted[_turns_left(mesh.uv, c, a, d, b)[wanted]]
        chosen = wanted[_independent(face[wanted], mate[wanted], gain[wanted], m)]
        if not len(chosen):
            break
        a, b, c, d = a[chosen], b[chosen], c[chosen], d[chosen]
        faces[face[chosen]] = np.column_stack([c, a, d])
        faces[mate[chosen]] = np.column_stack([d, b, c])
    return mesh._replace(faces=faces)


def _facing(points: NDArray, a: NDArray, b: NDArray, c: NDArray, d: NDArray) -> NDArray:
    """Minus the sine of the sum of the angles at c and d facing edge ab: positive when they sum to more than pi."""
    at_c, at_d = (points[a] - points[c], points[b] - points[c]), (points[b] - points[d], points[a] - points[d])
    cos_c, cos_d = (np.einsum("ij,ij->i", *pair) for pair in (at_c, at_d))
    sin_c, sin_d = (np.linalg.norm(np.cross(*pair), axis=1) for pair in (at_c, at_d))
    scale = np.hypot(cos_c, sin_c) * np.hypot(cos_d, sin_d)
    return -(sin_c * cos_d + cos_c * sin_d) / scale


def _turns_left(uv: NDArray, c: NDArray, a: NDArray, d: NDArray, b: NDArray) -> NDArray:
    """Whether both triangles after the flip, cad and dbc, are counter-clockwise in the plane."""
    return (areas(uv, np.column_stack([c, a, d])) > 0) & (areas(uv, np.column_stack([d, b, c])) > 0)


def _independent(face: NDArray, mate: NDArray, gain: NDArray, m: int) -> NDArray:
    """Indices of flips that each are the best of both their faces, so that no face is flipped twice at once."""
    order = np.argsort(gain, kind="stable")
    rank = np.empty(len(gain), int)
    rank[order] = np.arange(len(gain))
    best = np.full(m, -1)
    np.maximum.at(best, face, rank)
    np.maximum.at(best, mate, rank)
    return np.flatnonzero((best[face] == rank) & (best[mate] == rank))


def _relax(mesh: Fill, still: NDArray, lift: Lift, tangents: Tangents, size: Size) -> Fill:
    """Moves each free vertex along the surface to the centre of its faces' centres, weighed by area over the square of
    the size wanted (one step of Lloyd's method), half as far where a face would turn over.
    """
    n = len(mesh.uv)
    middle = mesh.points[mesh.faces].mean(axis=1)
    weight = areas(mesh.points, mesh.faces) / size(middle) ** 2
    corner = mesh.faces.ravel()
    total = np.bincount(corner, np.repeat(weight, 3), minlength=n)
    goal = [np.bincount(corner, np.repeat(weight * middle[:, i], 3), minlength=n) for i in range(3)]
    move = np.column_stack(goal) / np.where(total > 0, total, 1)[:, None] - mesh.points
    free = np.ones(n, bool)
    free[still] = False
    free &= total > 0
    step = np.zeros((n, 2))
    step[free] = _pull_back(tangents(mesh.uv[free]), move[free])
    for _ in range(6):
        uv = mesh.uv + step
        turned = areas(uv, mesh.faces) <= 0.1 * areas(mesh.uv, mesh.faces)
        if not turned.any():
            break
        step[np.unique(mesh.faces[turned])] *= 0.5
    else:
        return mesh
    points = mesh.points.copy()
    points[free] = lift(uv[free])
    return mesh._replace(uv=uv, points=points)


def _pull_back(tangent: NDArray, move: NDArray) -> NDArray:
    """(n, 2) the step in uv whose image is the tangent part of `move`."""
    u, v = tangent[..., 0], tangent[..., 1]
    uu, uv, vv = ((x * y).sum(axis=1) for x, y in ((u, u), (u, v), (v, v)))
    by_u, by_v = (u * move).sum(axis=1), (v * move).sum(axis=1)
    return np.column_stack([vv * by_u - uv * by_v, uu * by_v - uv * by_u]) / (uu * vv - uv * uv)[:, None]
