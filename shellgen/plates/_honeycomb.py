"""Cells of equal area on the left half of a dome: where their centres lie, and which of them meet.

The centres start as a perfect lattice on an equal-area map of the dome and are spread evenly by Lloyd's rule; who
meets whom is read off a fine mesh whose vertices carry the number of their nearest centre. On such a mesh three cells
meet wherever three colours meet in one triangle, so that every corner inside has exactly three lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.errors import GeometryError
from shellgen.geom import triangles
from shellgen.geom.curves import length
from shellgen.model import Surface

FINENESS = 7
"""Fine mesh vertices across one cell. Chosen: a cell's centre is then found to some hundredths of its size."""
ROUNDS = 24
"""Lloyd rounds. Chosen: who meets whom is then nearly as after 80; `_evening` does the rest."""
EXCESS, BROKEN = 20.0, 4.0
"""What a cell as stretched as two squares side by side (a quarter more moment) and a pair of cells that breaks the row
along the midline count for in `_irregularity`: five and four sides too many. Chosen by eye."""
STRETCHES = (1.0, 0.98, 1.02, 0.96, 1.04)
"""Spacings of the first lattice that are tried, as shares of the right one. Chosen: more seldom find better nets."""
TRIES = 8
"""How often the row along the midline may be mended. Chosen: once has been enough."""


@dataclass(frozen=True, slots=True, eq=False)
class Fine:
    """The left half as rings and spokes round the crown: uv (n, 2), points (n, 3), faces (m, 3).

    The crown is vertex 0; `spokes` (rings, steps) are the others, from the crown outward and from neck to tail.
    weight : (n,) mm2 that each vertex stands for
    """

    uv: Floats
    points: Floats
    faces: Ints
    spokes: Ints
    weight: Floats

    @property
    def rim(self) -> Ints:
        """Vertices along the rim from neck to tail."""
        return np.asarray(self.spokes[-1])

    @property
    def middle(self) -> Ints:
        """Vertices along the midline from neck to tail."""
        return np.concatenate([self.spokes[::-1, 0], [0], self.spokes[:, -1]])


def fine(surface: Surface, size: float) -> Fine:
    """The mesh for cells of about `size` mm."""
    arc = np.linspace(0, np.pi, 181)
    girth = length(surface.points(np.column_stack([np.cos(arc), np.sin(arc)])))
    reach = length(surface.points(np.outer(np.linspace(0, 1, 91), [1.0, 0])))
    rings, steps = (max(12, int(FINENESS * span / size)) for span in (reach, girth))
    radius, angle = np.meshgrid(np.arange(1, rings + 1) / rings, np.linspace(0, np.pi, steps + 1), indexing="ij")
    uv = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=-1)
    uv[:, [0, -1], 1] = 0
    uv = np.concatenate([[[0.0, 0.0]], uv.reshape(-1, 2)])
    at = 1 + np.arange(rings * (steps + 1)).reshape(rings, steps + 1)
    a, b, c, d = at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]
    fan = np.column_stack([np.zeros(steps, int), at[0, :-1], at[0, 1:]])
    faces = np.concatenate([fan, *(np.stack(corner, axis=-1).reshape(-1, 3) for corner in ((a, b, c), (a, c, d)))])
    points = surface.points(uv)
    third = np.repeat(triangles.areas(points, faces) / 3, 3)
    weight = np.asarray(np.bincount(faces.ravel(), third, minlength=len(uv)), dtype=np.float64)
    return Fine(uv, points, faces, at, weight)


@dataclass(frozen=True, slots=True, eq=False)
class Centres:
    """points (n, 3) on or just under the left half of the face; middle (n,) bool: those across the midline."""

    points: Floats
    middle: Bools

    def nearest(self, mesh: Fine) -> Ints:
        """(vertices,) int: the centre each vertex of the fine mesh belongs to."""
        return np.asarray(cKDTree(self.points).query(mesh.points)[1])


def lattice(mesh: Fine, spacing: float, *, edges_along: bool, stretch: float) -> Centres:
    """Centres of a regular honeycomb on an equal-area map, as many as the dome's area asks for at this spacing.

    edges_along : False puts a row of cells side by side along the midline, True cells and edges in turn
    stretch     : lattice's own spacing over the one asked for
    """
    flat = _equal_area(mesh)
    wanted = mesh.weight.sum() / (spacing**2 * np.sqrt(3) / 2)
    spacing *= stretch
    reach = np.ptp(flat[mesh.middle, 0])
    along, across = (spacing * np.sqrt(3), spacing / 2) if edges_along else (spacing, spacing * np.sqrt(3) / 2)
    rows, columns = int(flat[:, 1].max() / across) + 1, int(reach / along) + 2
    row, column = np.meshgrid(np.arange(rows), np.arange(-columns, columns + 1), indexing="ij")
    start = flat[mesh.rim[-1], 0] + reach / 2 + 0.5 * along * (round(reach / along) % 2 == 0)
    site = np.stack([start + (column + 0.5 * (row % 2)) * along, row * across], axis=-1).reshape(-1, 2)
    gap, vertex = cKDTree(flat).query(site)
    depth = np.where(np.isin(vertex, mesh.rim), -gap, cKDTree(flat[mesh.rim]).query(site)[0])
    middle = site[:, 1] == 0
    order = np.lexsort([site[:, 0], -np.round(depth, 6)])
    have = np.cumsum(np.where(middle, 0.5, 1.0)[order])
    kept = np.sort(order[: 1 + int(np.abs(have - wanted).argmin())])
    return Centres(mesh.points[np.where(middle, _on_middle(mesh, flat, site), vertex)[kept]], middle[kept])


def _on_middle(mesh: Fine, flat: Floats, site: Floats) -> Ints:
    return np.asarray(mesh.middle[cKDTree(flat[mesh.middle, :1]).query(site[:, :1])[1]])


def _equal_area(mesh: Fine) -> Floats:
    """(n, 2) the fine mesh laid flat with every area kept: spokes stay straight, at their angle in the plan.

    References: r^2 / 2 per unit angle is the area between neighbouring spokes (polar coordinates).
    """
    rim = mesh.points[mesh.rim]
    angle = np.arctan2(rim[:, 1], rim[:, 0])
    step = np.gradient(angle)
    step[[0, -1]] /= 2
    weight = mesh.weight[mesh.spokes]
    radius = np.sqrt(2 * (np.cumsum(weight, axis=0) - weight / 2) / step)
    flat = np.zeros((len(mesh.uv), 2))
    flat[mesh.spokes, 0], flat[mesh.spokes, 1] = radius * np.cos(angle), radius * np.sin(angle)
    flat[mesh.middle, 1] = 0
    return flat


def best(mesh: Fine, spacing: float, *, edges_along: bool) -> Centres:
    """The centres that make the most regular net, of a few lattices spread evenly. GeometryError if none makes one."""
    found: list[tuple[float, Centres]] = []
    for stretch in STRETCHES:
        try:
            centres = spread(mesh, lattice(mesh, spacing, edges_along=edges_along, stretch=stretch))
            found.append((_irregularity(mesh, centres, row=not edges_along), centres))
        except GeometryError as error:
            trouble = error
    if not found:
        raise trouble
    return min(found, key=lambda scored: scored[0])[1]


def _irregularity(mesh: Fine, centres: Centres, *, row: bool) -> float:
    """Squares of sides more or less than six, or five on the rim; what the cells lack in compactness; breaks of the
    row along the midline.

    References: second moment of a regular hexagon about its centre, 5 A^2 / (18 sqrt 3), the least that can fill a
    plane (L. Fejes Toth, 1953).
    """
    owner = centres.nearest(mesh)
    net = contacts(mesh, owner)
    rings = net.rings()
    odd = net.sides(rings, centres.middle) - [6 if set(net.rim).isdisjoint(ring) else 5 for ring in rings]
    times = np.where(centres.middle, 2, 1)  # halves to wholes
    area = times * np.bincount(owner, mesh.weight)
    moment = times * np.bincount(owner, mesh.weight * ((mesh.points - centres.points[owner]) ** 2).sum(axis=1))
    excess = moment / area**2 * 18 * np.sqrt(3) / 5 - 1
    breaks = (~centres.middle[np.unique(owner[mesh.middle])]).sum() if row else 0
    return float(((odd**2 + EXCESS * excess) / times).sum() + BROKEN * breaks)


def spread(mesh: Fine, centres: Centres, *, rounds: int = ROUNDS) -> Centres:
    """The centres spread evenly, so that along the midline no two pairs of mirrored cells follow each other: four
    cells would meet there. Where they do, one pair becomes a single cell across the midline.

    GeometryError if that does not come to an end.
    """
    for _ in range(TRIES):
        centres = _lloyd(mesh, centres, rounds)
        owner = centres.nearest(mesh)[mesh.middle]
        pair = (owner[1:] != owner[:-1]) & ~centres.middle[owner[1:]] & ~centres.middle[owner[:-1]]
        if not pair.any():
            return centres
        near = owner[1:][pair][0], owner[:-1][pair][0]
        middle = centres.middle.copy()
        middle[min(near, key=lambda k: (centres.points[k, 1], k))] = True
        centres = Centres(np.where(middle[:, None], centres.points * (1, 0, 1), centres.points), middle)
    raise GeometryError("the cells do not settle along the midline; ask for another size")


def _lloyd(mesh: Fine, centres: Centres, rounds: int) -> Centres:
    """The centres moved to the middle of what is nearest to them, again and again.

    References: Du, Faber & Gunzburger, Centroidal Voronoi Tessellations, SIAM Review 41(4), 1999 (Lloyd's method).
    """
    count = len(centres.points)
    for _ in range(rounds):
        owner = centres.nearest(mesh)
        mass = np.bincount(owner, mesh.weight, minlength=count)
        if not mass.all():
            raise GeometryError("two cells fall together; ask for another size")
        sums = np.stack([np.bincount(owner, mesh.weight * x, minlength=count) for x in mesh.points.T], axis=1)
        points = sums / mass[:, None]
        points[centres.middle, 1] = 0
        centres = Centres(points, centres.middle)
    return centres


@dataclass(frozen=True, slots=True, eq=False)
class Contacts:
    """Which cells meet where.

    uv     : (k, 2) corners, on the fine mesh
    cells  : the cells that meet at each corner: three inside, two on rim or midline, one at neck and tail
    rim, middle : corners in order from neck to tail, both included
    """

    uv: Floats
    cells: tuple[tuple[int, ...], ...]
    rim: tuple[int, ...]
    middle: tuple[int, ...]

    def rings(self) -> list[list[int]]:
        """The corners of each cell, counter-clockwise."""
        rings: list[list[int]] = [[] for _ in range(1 + max(map(max, self.cells)))]
        for corner, cells in enumerate(self.cells):
            for cell in cells:
                rings[cell].append(corner)
        return [self._sorted(ring) for ring in rings]

    def sides(self, rings: Sequence[Sequence[int]], central: Bools) -> Ints:
        """(cells,) int: sides of each whole cell, the rim one of them; `central` are those whose ring is one half."""
        middle, ends = set(self.middle), {self.rim[0], self.rim[-1]}
        crossed = self.crossed(central)
        times = [0 if k in crossed or k in ends else 1 if k in middle else 2 for k in range(len(self.uv))]
        return np.array(
            [sum(times[k] for k in ring) if half else len(ring) for ring, half in zip(rings, central, strict=True)]
        )

    def crossed(self, central: Bools) -> set[int]:
        """Corners where a side between two cells across the midline runs across it."""
        return {corner for corner in self.middle if central[list(self.cells[corner])].all()}

    def _sorted(self, ring: list[int]) -> list[int]:
        away = self.uv[ring] - self.uv[ring].mean(axis=0)
        return [ring[k] for k in np.argsort(np.arctan2(away[:, 1], away[:, 0]))]


def contacts(mesh: Fine, owner: Ints) -> Contacts:
    """Read off the fine mesh, `owner` (n,) being the cell of each of its vertices.

    GeometryError if a cell meets the rim or the midline twice.
    """
    colours = np.sort(owner[mesh.faces], axis=1)
    three = (np.diff(colours, axis=1) > 0).all(axis=1)
    cells = colours[three].tolist()
    uv = [mesh.uv[mesh.faces[three]].mean(axis=1)]
    runs = []
    for border in (mesh.rim, mesh.middle):
        change = np.flatnonzero(np.diff(owner[border]))
        meeting = owner[np.stack([border[change], border[change + 1]], axis=1)]
        if len(set(meeting[:, 1])) < len(meeting) or owner[border[0]] in meeting[:, 1]:
            raise GeometryError("a cell meets the rim or the midline twice; ask for smaller cells")
        runs.append(range(len(cells), len(cells) + len(change)))
        cells += np.sort(meeting, axis=1).tolist()
        uv.append((mesh.uv[border[change]] + mesh.uv[border[change + 1]]) / 2)
    neck, tail = len(cells), len(cells) + 1
    cells += [[int(owner[mesh.rim[0]])], [int(owner[mesh.rim[-1]])]]
    rim, middle = ((neck, *run, tail) for run in runs)
    return Contacts(np.concatenate([*uv, [[1.0, 0.0], [-1.0, 0.0]]]), tuple(map(tuple, cells)), rim, middle)
