"""A trial dome of rays from the crown to the rim, crossed by rings: for seam plans that draw their own lines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats, Ints
from shellgen.geom.curves import arc_length
from shellgen.model import Layout, Line, Plate, ShellMesh, Surface

RAY, RING = "ray", "ring"


@dataclass(frozen=True, slots=True, eq=False)
class Rosette:
    """Layout of the rays, of which only a ray may be cut, and two meshes of it.

    turns : (rays,) rad, of each ray in the domain, from the head around to the left; symmetric
    radii : (rows,) in the domain, the last is 1
    mesh, fine : with one and with `FINE` squared quads to a cell
    layout : cell r * rays + j lies outside ring r, left of ray j; line r * rays + j is ray j across row r
    """

    turns: Floats
    radii: Floats
    layout: Layout
    mesh: ShellMesh
    fine: ShellMesh


FINE = 2


def evenly(surface: Surface, rays: int, *, offset: float) -> Floats:
    """(rays,) turns of rays that divide the rim into equal lengths, the first at the head; `rays` even."""
    fine = np.linspace(0.0, np.pi, 721)
    along = arc_length(surface.points(np.column_stack([np.cos(fine), np.sin(fine)]), offset=offset))
    left = np.interp(np.linspace(0.0, along[-1], rays // 2 + 1), along, fine)
    return np.concatenate([left, 2 * np.pi - left[-2:0:-1]])


def rosette(surface: Surface, turns: Floats, rows: int, *, offset: float, shift: float = 0.0) -> Rosette:
    """Rays at `turns`, divided by rings about evenly spaced on the surface.

    shift : rows by which all rings but the rim are moved outward, less than 1 and more than -1
    """
    steps = np.linspace(0.0, 1.0, 241)
    spokes = np.stack([surface.points(steps[:, None] * direction(float(t)), offset=offset) for t in turns])
    along = np.append(0.0, np.linalg.norm(np.diff(spokes, axis=1), axis=2).mean(axis=0).cumsum())
    places = np.append(np.arange(1, rows) + shift, rows) / rows
    radii = np.interp(places * along[-1], along, steps)
    radii[-1] = 1.0
    rays = len(turns)
    uv = _uv(turns, radii)
    lines, cells = _lines(rows, rays, uv)
    plate = Plate("dome", "dome", "C", tuple(range(len(cells))), 1, 0, ())
    layout = Layout(uv, lines, cells, (plate,), (0,) * len(cells))
    between = np.append(turns, 2 * np.pi + turns[0])
    fine_turns = np.interp(np.arange(FINE * rays) / FINE, np.arange(rays + 1), between)
    fine_radii = np.interp(np.arange(1, FINE * rows + 1) / FINE, np.arange(rows + 1), np.append(0.0, radii))
    return Rosette(
        turns,
        radii,
        layout,
        _mesh(surface, turns, radii, rows, rays),
        _mesh(surface, fine_turns, fine_radii, rows, rays),
    )


def _mesh(surface: Surface, turns: Floats, radii: Floats, rows: int, rays: int) -> ShellMesh:
    """A mesh whose rays and rings are those of a layout of `rows` and `rays`, or an even refinement of them."""
    more = len(turns) // rays
    uv = _uv(turns, radii)
    faces, face_row, face_ray = _faces(len(radii), len(turns))
    grid = _vertices(len(radii), len(turns))
    rayed = [grid[more * r : more * (r + 1) + 1, more * j] for r in range(rows) for j in range(rays)]
    ringed = [grid[more * (r + 1), more * j : more * (j + 1) + 1] for r in range(rows) for j in range(rays)]
    mirror = np.append(0, 1 + len(turns) * np.arange(len(radii))[:, None] + -np.arange(len(turns)) % len(turns))
    cell = (face_row // more) * rays + face_ray // more
    return ShellMesh(uv, surface.points(uv), surface.normals(uv), faces, cell, (*rayed, *ringed), mirror)


def _uv(turns: Floats, radii: Floats) -> Floats:
    """The crown, then ring by ring; exactly symmetric."""
    ring = direction(turns)
    back = -np.arange(len(turns)) % len(turns)
    ring = 0.5 * (ring + ring[back] * (1, -1))
    return np.concatenate([[[0.0, 0.0]], (radii[:, None, None] * ring).reshape(-1, 2)])


def direction(turn: Floats | float) -> Floats:
    """(..., 2) unit vectors."""
    return np.stack([np.cos(turn), np.sin(turn)], axis=-1)


def _vertices(rows: int, rays: int) -> Ints:
    """(rows + 1, rays + 1) vertex on each ring and ray; the first row is the crown, the last ray the first again."""
    grid = 1 + rays * np.arange(-1, rows)[:, None] + np.arange(rays + 1) % rays
    grid[0] = 0
    return grid


def _faces(rows: int, rays: int) -> tuple[Ints, Ints, Ints]:
    """Two triangles to a cell, one at the crown, with their rows and rays; diagonals of the right half mirror those
    of the left."""
    grid = _vertices(rows, rays)
    a, b, c, d = grid[:-1, :-1], grid[:-1, 1:], grid[1:, :-1], grid[1:, 1:]
    left = (np.arange(rays) < rays // 2)[None, :]
    one = np.stack([a, c, np.where(left, d, b)], axis=-1)
    two = np.stack([np.where(left, a, c), d, b], axis=-1)
    crown = np.stack([a[0], c[0], d[0]], axis=-1)
    row, ray = np.meshgrid(np.arange(rows), np.arange(rays), indexing="ij")
    faces = np.concatenate([crown, one[1:].reshape(-1, 3), two[1:].reshape(-1, 3)])
    row, ray = (np.concatenate([part[0], part[1:].ravel(), part[1:].ravel()]) for part in (row, ray))
    return faces, row, ray


def _lines(rows: int, rays: int, uv: Floats) -> tuple[tuple[Line, ...], tuple[tuple[tuple[int, int], ...], ...]]:
    """Rays run outward, row by row; then rings run to the left."""
    grid, half = _vertices(rows, rays), rows * rays
    lines = []
    for r in range(rows):
        for j in range(rays):
            ends = int(grid[r, j]), int(grid[r + 1, j])
            right = r * rays + (j - 1) % rays
            lines.append(Line(*ends, uv[list(ends)], RAY, r * rays + j, right, r * rays + -j % rays))
    for r in range(rows):
        for j in range(rays):
            ends = int(grid[r + 1, j]), int(grid[r + 1, j + 1])
            outer = (r + 1) * rays + j if r + 1 < rows else -1
            kind = RING if outer >= 0 else "rim"
            lines.append(Line(*ends, uv[list(ends)], kind, r * rays + j, outer, half + r * rays + (-j - 1) % rays))
    cells = []
    for r in range(rows):
        for j in range(rays):
            walk = [(r * rays + j, 1), (half + r * rays + j, 1), (r * rays + (j + 1) % rays, -1)]
            if r:
                walk.append((half + (r - 1) * rays + j, -1))
            cells.append(tuple(walk))
    return tuple(lines), tuple(cells)
