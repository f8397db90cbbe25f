"""A coarse sheet that behaves like a fine one, by averaging the metric (homogenisation).

Foam spreads a bend over several thicknesses, so a finer mesh is not more accurate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.spatial import Delaunay, cKDTree

from shellgen.core.arrays import Floats, Ints
from shellgen.geom.membrane import membrane
from shellgen.geom.triangles import areas, locate

BANDS = 48
"""Bands from crown to rim over which the scale of the map is averaged. Chosen: far more than its scale has extrema."""


@dataclass(frozen=True, slots=True, eq=False)
class CoarseSheet:
    """A coarse mesh of the unit disc over a fine one.

    places, faces : (n, 2), (m, 3) of the coarse mesh; rim : (r,) its outermost vertices, counter-clockwise
    owner  : (fine m,) coarse triangle that holds the middle of each fine one, or -1
    nearest : (m,) fine triangle whose middle is nearest that of each coarse one
    prolongation : (fine n, n) maps values at the coarse vertices to the fine ones; restriction : (n, fine n) the
                   reverse
    fine_places, fine_faces : as given
    middle : None, since it is a whole sheet without a symmetry plane

    References: Trottenberg, Oosterlee & Schuller, Multigrid, 2001, section 2.3 (prolongation and restriction).
    """

    places: Floats
    faces: Ints
    rim: Ints
    owner: Ints
    nearest: Ints
    prolongation: sparse.csr_array
    restriction: sparse.csr_array
    fine_places: Floats
    fine_faces: Ints
    middle: None = None

    def restrict(self, points: Floats) -> Floats:
        """(n, 3) coarse positions from those (fine n, 3) of the fine sheet."""
        return np.asarray(self.restriction @ points)

    def prolong(self, points: Floats) -> Floats:
        """(fine n, 3) fine positions from coarse ones (n, 3)."""
        return np.asarray(self.prolongation @ points)

    def rest(self, fine: Floats) -> Floats:
        """(m, 3, 2) rest shapes of the coarse triangles from those (fine m, 3, 2) of the fine: the mean metric."""
        metric, area = _metric(fine, self.fine_places, self.fine_faces)
        inside = self.owner >= 0
        weight = np.bincount(self.owner[inside], area[inside], minlength=len(self.faces))
        mean = np.stack(
            [
                np.bincount(self.owner[inside], (area * entry)[inside], minlength=len(self.faces))
                for entry in (metric[:, 0, 0], metric[:, 0, 1], metric[:, 1, 1])
            ]
        )
        near = metric[self.nearest][:, [0, 0, 1], [0, 1, 1]].T
        e, f, g = np.where(weight > 0, mean / np.where(weight > 0, weight, 1), near)
        root = np.sqrt(e)  # the Cholesky factor of the metric maps positions on the disc to a flat triangle
        corner = self.places[self.faces]
        return np.stack(
            [
                root[:, None] * corner[:, :, 0] + (f / root)[:, None] * corner[:, :, 1],
                np.sqrt(g - f * f / e)[:, None] * corner[:, :, 1],
            ],
            axis=2,
        )


def coarsened(rest: Floats, faces: Ints, places: Floats, *, most: int) -> CoarseSheet:
    """A mesh of about `most` triangles, evenly spaced in lengths on the sheet.

    rest : (m, 3, 2) rest shapes of the fine triangles, mm; places : (n, 2) the fine mesh on the unit disc without folds
    """
    metric, area = _metric(rest, places, faces)
    middle = places[faces].mean(axis=1)
    size = float(area @ np.sqrt(np.linalg.det(metric)))
    points, outer = _rings(metric, area, middle, step=np.sqrt(4 * size / (np.sqrt(3) * most)))
    mesh = Delaunay(points).simplices
    turned = areas(points, mesh)
    mesh = np.where((turned < 0)[:, None], mesh[:, ::-1], mesh)[np.abs(turned) > 1e-9]
    owner, _ = locate(points, mesh, middle)
    nearest = cKDTree(middle).query(points[mesh].mean(axis=1))[1]
    prolongation = _weights(points, mesh, places)
    restriction = _weights(places, faces, points)
    rim = len(points) - outer + np.arange(outer)
    return CoarseSheet(points, mesh, rim, owner, nearest, prolongation, restriction, places, faces)


def _metric(rest: Floats, places: Floats, faces: Ints) -> tuple[Floats, Floats]:
    """(m, 2, 2) metric of the rest shapes in coordinates of the disc, and (m,) areas on the disc."""
    corner = places[faces]
    disc = membrane(corner, faces, poisson=0.0)
    gradient = np.swapaxes(rest, 1, 2) @ disc.slopes
    return np.swapaxes(gradient, 1, 2) @ gradient, disc.area


def _rings(metric: Floats, area: Floats, middle: Floats, *, step: float) -> tuple[Floats, int]:
    """(n, 2) points on rings, `step` apart in rest lengths along and across, and how many are on the unit circle."""
    radius = np.hypot(*middle.T)
    out = middle / radius[:, None]
    around = np.stack([-out[:, 1], out[:, 0]], axis=1)
    band = np.minimum((radius * BANDS).astype(int), BANDS - 1)
    scale = [
        np.sqrt(np.bincount(band, area * np.einsum("mi,mij,mj->m", direction, metric, direction), minlength=BANDS)
                / np.maximum(np.bincount(band, area, minlength=BANDS), 1e-12))
        for direction in (out, around)
    ]  # fmt: skip
    edges = np.linspace(0, 1, BANDS + 1)
    length = np.concatenate([[0], np.cumsum(scale[0] / BANDS)])
    count = max(int(np.round(length[-1] / (step * np.sqrt(3) / 2))), 3)
    radii = np.interp(np.linspace(0, length[-1], count + 1)[1:], length, edges)
    radii[-1] = 1.0
    hoop = np.interp(radii, (edges[1:] + edges[:-1]) / 2, scale[1])
    rings = [np.zeros((1, 2))]
    for k, (r, wide) in enumerate(zip(radii, hoop, strict=True)):
        parts = 2 * max(int(np.round(np.pi * r * wide / step)), 3)
        turn = 2 * np.pi * (np.arange(parts) + 0.5 * ((count - 1 - k) % 2)) / parts
        rings.append(r * np.stack([np.cos(turn), np.sin(turn)], axis=1))
    return np.concatenate(rings), len(rings[-1])


def _weights(points: Floats, faces: Ints, queries: Floats) -> sparse.csr_array:
    """(k, n) linear interpolation from the vertices of a plane mesh; outside it, from its nearest triangle."""
    face, weight = locate(points, faces, queries, reach=np.inf)
    row = np.repeat(np.arange(len(queries)), 3)
    return sparse.coo_array((weight.ravel(), (row, faces[face].ravel())), shape=(len(queries), len(points))).tocsr()
