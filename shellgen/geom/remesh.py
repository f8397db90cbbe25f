"""Delaunay refinement and smoothing of a coarse triangulation in the plane, measured on its image in space.

A triangle that is too large is split at its centroid; an edge whose two triangles would be fatter with the other
diagonal is flipped; inner vertices move towards the centres of their faces. All three work on whole arrays at once,
measure in space, and never change a fixed edge.

Half-edges are numbered as in `halfedges`; here `twin` is -1 where the edge is fixed, as all of the boundary is.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.errors import GeometryError
from shellgen.geom.halfedges import ends, find, next_half_edge, twins
from shellgen.geom.triangles import areas
from shellgen.geom.vectors import sums

Lift = Callable[[Floats], Floats]
"""uv (n, 2) -> points (n, 3)."""
Tangents = Callable[[Floats], Floats]
"""uv (n, 2) -> (n, 3, 2) derivatives by u and v."""
SizeField = Callable[[Floats], Floats]
"""points (n, 3) -> (n,) the edge length wanted there."""

SPLIT = 1.18
"""How many times larger than wanted a triangle may be before it is split. Chosen by measurement: the mean edge is then
within five percent of the wanted length."""
CIRCUM = 0.7
"""Share of the circumcentre in the centre towards which vertices move. Chosen by measurement: fewest thin triangles."""


class Fill(NamedTuple):
    """uv (n, 2), points (n, 3), faces (m, 3) counter-clockwise in uv, label (m,) inherited by the parts of a face."""

    uv: Floats
    points: Floats
    faces: Ints
    label: Ints


def refine(start: Fill, fixed: Ints, lift: Lift, tangents: Tangents, size: SizeField, *, rounds: int = 8) -> Fill:
    """Refines `start` to `size`. Smooths after every refinement, and `rounds` times more.

    fixed : (k, 2) edges that must stay, including the whole boundary; their vertices do not move.
    """
    mesh, twin = start, twins(start.faces)
    twin[_along_fixed(start.faces, fixed)] = -1
    unmoved = np.unique(fixed)
    while rounds > 0:
        large = _too_large(mesh, size)
        if len(large):
            mesh, twin = _delaunay(*_split(mesh, twin, large, lift))
        else:
            rounds -= 1
        mesh, twin = _delaunay(_relax(mesh, unmoved, lift, tangents, size), twin)
    return mesh


def _along_fixed(faces: Ints, fixed: Ints) -> Ints:
    """Half-edges along `fixed`, in either direction."""
    both = np.concatenate([fixed, fixed[:, ::-1]])
    found = find(ends(faces), (both[:, 0], both[:, 1]))
    return found[found >= 0]


def _rename(twin: Ints, old: Ints, new: Ints) -> None:
    """Renumbers half-edges `old` as `new`, in their own entries and those of their twins."""
    name = np.arange(len(twin))
    name[old] = new
    mate = twin[old]
    mate = np.where(mate >= 0, name[mate], -1)
    twin[new] = mate
    twin[mate[mate >= 0]] = new[mate >= 0]


def _join(twin: Ints, one: Ints, other: Ints) -> None:
    twin[one], twin[other] = other, one


def _too_large(mesh: Fill, size: SizeField) -> Ints:
    """Faces whose centroid is farther from each corner than in an equilateral triangle SPLIT times the wanted size."""
    corner = mesh.points[mesh.faces]
    middle = corner.mean(axis=1)
    reach = np.sqrt(((corner - middle[:, None]) ** 2).sum(axis=2).min(axis=1))
    return np.flatnonzero(reach * np.sqrt(3) > SPLIT * size(middle))


def _split(mesh: Fill, twin: Ints, large: Ints, lift: Lift) -> tuple[Fill, Ints]:
    """Each face abc of `large` becomes abn, bcn, can, with n its middle."""
    uv = mesh.uv[mesh.faces[large]].mean(axis=1)
    n = len(mesh.uv) + np.arange(len(large))
    a, b, c = mesh.faces[large].T
    faces = np.concatenate([mesh.faces, np.column_stack([b, c, n]), np.column_stack([c, a, n])])
    faces[large, 2] = n
    label = np.concatenate([mesh.label, mesh.label[large], mesh.label[large]])
    abn = 3 * large
    bcn = 3 * (len(mesh.faces) + np.arange(len(large)))
    can = bcn + 3 * len(large)
    twin = np.concatenate([twin, np.full(6 * len(large), -1)])
    _rename(twin, np.concatenate([abn + 1, abn + 2]), np.concatenate([bcn, can]))
    _join(twin, abn + 1, bcn + 2)
    _join(twin, bcn + 1, can + 2)
    _join(twin, can + 1, abn + 2)
    return Fill(np.concatenate([mesh.uv, uv]), np.concatenate([mesh.points, lift(uv)]), faces, label), twin


def _delaunay(mesh: Fill, twin: Ints, *, passes: int = 100) -> tuple[Fill, Ints]:
    """Flips free edges until the two angles facing each sum to at most pi, measured in space.

    References: Bobenko & Springborn, A Discrete Laplace-Beltrami Operator for Simplicial Surfaces, 2007.
    """
    faces, twin = mesh.faces.copy(), twin.copy()
    edge = np.arange(len(twin))
    for _ in range(passes):
        edge = _once(edge, twin)
        gain = -_facing_cotangent(mesh.points, faces, edge) - _facing_cotangent(mesh.points, faces, twin[edge])
        wanted = gain > 1e-9
        edge, gain = edge[wanted], gain[wanted]
        convex = _stays_convex(mesh.uv, faces, twin, edge)
        edge, gain = edge[convex], gain[convex]
        if not len(edge):
            break
        best = edge[_independent(edge // 3, twin[edge] // 3, gain, len(faces))]
        edge = np.concatenate([edge, *_flip(faces, twin, best)])
    return mesh._replace(faces=faces), twin


def _once(edge: Ints, twin: Ints) -> Ints:
    """The smaller half-edge of each free edge in `edge`, once, in order (no sorting, since every pass calls this)."""
    smaller = np.minimum(edge, twin[edge])
    wanted = np.zeros(len(twin), bool)
    wanted[smaller[smaller >= 0]] = True
    return np.flatnonzero(wanted)


def _flip(faces: Ints, twin: Ints, edge: Ints) -> tuple[Ints, ...]:
    """Faces abc and bad, which share ab, become cad and dbc, in place. Returns the half edges of both."""
    mate = twin[edge]
    bc, ad = next_half_edge(edge), next_half_edge(mate)
    ca, db = next_half_edge(bc), next_half_edge(ad)
    corner = faces.ravel()
    a, b, c, d = corner[edge], corner[mate], corner[ca], corner[db]
    cad, dbc = edge - edge % 3, mate - mate % 3
    faces[edge // 3] = np.column_stack([c, a, d])
    faces[mate // 3] = np.column_stack([d, b, c])
    _rename(twin, np.concatenate([ca, ad, db, bc]), np.concatenate([cad, cad + 1, dbc, dbc + 1]))
    _join(twin, cad + 2, dbc + 2)
    return cad, cad + 1, cad + 2, dbc, dbc + 1


def _facing_cotangent(points: Floats, faces: Ints, edge: Ints) -> Floats:
    """Cotangent of the angle that faces each half edge. GeometryError if two corners of a triangle are one point."""
    face, corner = faces[edge // 3], edge % 3
    row = np.arange(len(edge))
    apex = points[face[row, (corner + 2) % 3]]
    one, other = points[face[row, corner]] - apex, points[face[row, (corner + 1) % 3]] - apex
    dot = np.einsum("ij,ij->i", one, other)
    square = np.einsum("ij,ij->i", one, one) * np.einsum("ij,ij->i", other, other)
    if (square <= 0).any():
        raise GeometryError("points of the mesh coincide: the dome is too sharp there; choose other measures")
    return np.asarray(dot / np.sqrt(np.maximum(square - dot * dot, 1e-30 * square)))


def _stays_convex(uv: Floats, faces: Ints, twin: Ints, edge: Ints) -> Bools:
    """Whether both triangles after the flip are counter-clockwise in the plane."""
    corner, mate = faces.ravel(), twin[edge]
    a, b = corner[edge], corner[mate]
    c, d = corner[next_half_edge(next_half_edge(edge))], corner[next_half_edge(next_half_edge(mate))]
    return (areas(uv, np.column_stack([c, a, d])) > 0) & (areas(uv, np.column_stack([d, b, c])) > 0)


def _independent(face: Ints, mate: Ints, gain: Floats, m: int) -> Ints:
    """Indices of flips that each are the best of both their faces, so that no face is flipped twice at once."""
    rank = np.empty(len(gain), int)
    rank[np.argsort(gain, kind="stable")] = np.arange(len(gain))
    best = np.full(m, -1)
    np.maximum.at(best, face, rank)
    np.maximum.at(best, mate, rank)
    return np.flatnonzero((best[face] == rank) & (best[mate] == rank))


def _relax(mesh: Fill, unmoved: Ints, lift: Lift, tangents: Tangents, size: SizeField) -> Fill:
    """Moves each free vertex along the surface to its goal, with half the step, repeatedly, where a face would flip."""
    total, goal = _goals(mesh, size)
    free = total > 0
    free[unmoved] = False
    step = np.zeros(mesh.uv.shape)
    step[free] = _pull_back(tangents(mesh.uv[free]), (goal - mesh.points)[free])
    least = 0.1 * areas(mesh.uv, mesh.faces)  # chosen: a face may lose nine tenths of its area in one step
    for _ in range(6):
        uv = mesh.uv + step
        turned = areas(uv, mesh.faces) <= least
        if not turned.any():
            points = mesh.points.copy()
            points[free] = lift(uv[free])
            return mesh._replace(uv=uv, points=points)
        step[np.unique(mesh.faces[turned])] *= 0.5
    return mesh


def _goals(mesh: Fill, size: SizeField) -> tuple[Floats, Floats]:
    """Target of each vertex: the mean of the centres of its faces, weighted by area over the square of the wanted
    size. Returns the sums of weights (n,) and the goals (n, 3).

    References: Chen & Xu, Optimal Delaunay Triangulations, J. Comput. Math. 22(2), 2004 (circumcentres); mixed with
    the centroids of Lloyd's method, which is more stable at first.
    """
    corner, vertex = mesh.points[mesh.faces], mesh.faces.ravel()
    middle = corner.mean(axis=1)
    weight = areas(mesh.points, mesh.faces) / size(middle) ** 2
    centre = middle + CIRCUM * (_circumcentre(corner) - middle)
    columns = (weight, *(weight * centre.T))
    total, *goal = (sums(vertex, np.repeat(x, 3), len(mesh.uv)) for x in columns)
    return total, np.column_stack(goal) / np.where(total > 0, total, 1.0)[:, None]


def _circumcentre(corner: Floats) -> Floats:
    """(m, 3) centres of the circles through three points in space each."""
    a, b = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    aa, ab, bb = ((x * y).sum(axis=1) for x, y in ((a, a), (a, b), (b, b)))
    size = 2 * np.maximum(aa * bb - ab * ab, 1e-9 * aa * bb)
    return np.asarray(corner[:, 0] + (bb * (aa - ab) / size)[:, None] * a + (aa * (bb - ab) / size)[:, None] * b)


def _pull_back(tangent: Floats, move: Floats) -> Floats:
    """(n, 2) the step in uv whose image is the tangent part of `move`."""
    u, v = tangent[..., 0], tangent[..., 1]
    uu, uv, vv = ((x * y).sum(axis=1) for x, y in ((u, u), (u, v), (v, v)))
    by_u, by_v = (u * move).sum(axis=1), (v * move).sum(axis=1)
    return np.asarray(np.column_stack([vv * by_u - uv * by_v, uu * by_v - uv * by_u]) / (uu * vv - uv * uv)[:, None])
