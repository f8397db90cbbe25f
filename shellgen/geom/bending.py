"""The bending stiffness of a sheet that is flat at rest, as one constant matrix.

A sheet that bends much and stretches little keeps its intrinsic Laplacian, so its curvature is linear in the
positions of its points: the energy is quadratic, and its matrix is computed once from the flat triangles.
"""

from __future__ import annotations

import numpy as np
from scipy import sparse

from shellgen.core.arrays import Bools, Floats, Ints
from shellgen.geom.halfedges import ends, next_half_edge, next_half_edges, twins
from shellgen.geom.membrane import plane_stress


def plate_matrix(
    rest: Floats, faces: Ints, *, poisson: float, middle: Bools | None = None, across: bool = False
) -> sparse.csr_array:
    """(n, n) matrix B, per mm2: x' B x / 2 summed over the axes is the energy of bending per unit of the plate's
    rigidity E t^3 / 12 (1 - poisson^2).

    rest   : (m, 3, 2) each triangle flat, counter-clockwise
    faces  : (m, 3) int
    middle : (n,) bool, vertices in a symmetry plane, beyond which the sheet continues as its mirror image; the energy
             is that of this half
    across : for coordinates along the normal of that plane, which are 0 in it and change sign beyond it

    The curvature of a triangle is that of normals that turn linearly between the middles of its sides, where each is
    halfway between the two triangles that meet there. A side on the boundary is free: it turns so that the energy is
    least, which is an edge without moment. Loaded plates converge to the exact deflection on even meshes and are 3 %
    too stiff on those of the shell, which is less than the uncertainty of any foam.

    References: Onate & Zarate, Rotation-free Triangular Plate and Shell Elements, Int. J. Numer. Meth. Eng. 47, 2000
    (basic plate triangle); Bergou et al., A Quadratic Bending Model for Inextensible Surfaces, SGP 2006 (constancy).
    """
    near, apex = _neighbours(faces, middle)
    side = np.roll(rest, -2, axis=1) - np.roll(rest, -1, axis=1)  # opposite each corner
    length = np.linalg.norm(side, axis=2)
    first, second = side[:, 2], -side[:, 1]
    area = (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]) / 2
    jump = _jumps(side, length, area, near, across=across)
    out = np.stack([side[:, :, 1], -side[:, :, 0]], axis=2) / length[:, :, None]
    height = 2 * area[:, None] / length
    bend = np.stack([out[:, :, 0] ** 2, out[:, :, 1] ** 2, 2 * out[:, :, 0] * out[:, :, 1]], axis=1) / height[:, None]
    law = plane_stress(poisson) * (1 - poisson**2)
    stiff = np.swapaxes(bend, 1, 2) @ (law @ bend) * area[:, None, None]
    for corner in range(3):  # least energy over the free rotation of a side on the boundary
        free = near[:, corner] < 0
        column = stiff[free, :, corner]
        stiff[free] -= column[:, :, None] * column[:, None, :] / column[:, corner, None, None]
    local = np.swapaxes(jump, 1, 2) @ stiff @ jump
    corners = np.concatenate([faces, np.where(near >= 0, apex, faces)], axis=1)
    row, column = np.repeat(corners, 6, axis=1), np.tile(corners, (1, 6))
    n = int(faces.max()) + 1
    return sparse.coo_array((local.ravel(), (row.ravel(), column.ravel())), shape=(n, n)).tocsr()


def _neighbours(faces: Ints, middle: Bools | None) -> tuple[Ints, Ints]:
    """(m, 3) neighbour across the side opposite each corner as 3 f + c, c the corner opposite that side there, -1 on
    the boundary, itself where the neighbour is its own mirror image; and (m, 3) the neighbour's far vertex."""
    opposite = next_half_edges(len(faces))  # the half-edge that each corner faces
    twin = twins(faces)[opposite]
    near = np.where(twin >= 0, next_half_edge(next_half_edge(np.maximum(twin, 0))), -1)
    if middle is not None:
        start, end = (vertex[opposite] for vertex in ends(faces))
        own = np.flatnonzero((near < 0) & middle[start] & middle[end])
        near[own] = own
    near = near.reshape(-1, 3)
    return near, faces.ravel()[near]


def _jumps(side: Floats, length: Floats, area: Floats, near: Ints, *, across: bool) -> Floats:
    """(m, 3, 6) the change of slope across each side, from the heights of the corners and the far ones.

    A triangle's slope away from a side is the height of its apex over the side, divided by its width there.
    """
    jump = np.zeros((len(side), 3, 6))
    other, far = np.divmod(np.maximum(near, 0), 3)
    for corner in range(3):
        start, end = (corner + 1) % 3, (corner + 2) % 3
        width = 2 * area / length[:, corner]
        along = -(side[:, end] * side[:, corner]).sum(axis=1) / length[:, corner] ** 2  # foot of this triangle's apex
        mate, tip = other[:, corner], far[:, corner]
        own, back = side[mate, tip], side[mate, (tip + 1) % 3]
        mate_width = 2 * area[mate] / length[mate, tip]
        mate_along = -(back * own).sum(axis=1) / length[mate, tip] ** 2  # foot of the far apex, from the same start
        jump[:, corner, corner] = 1 / width
        jump[:, corner, 3 + corner] = 1 / mate_width
        jump[:, corner, start] = -(1 - along) / width - (1 - mate_along) / mate_width
        jump[:, corner, end] = -along / width - mate_along / mate_width
        jump[near[:, corner] < 0, corner] = 0
        image = np.flatnonzero(near[:, corner] == 3 * np.arange(len(near)) + corner)  # the image runs backwards
        jump[image, corner] = 0
        if not across:
            jump[image, corner, corner] = 2 / width[image]
            jump[image, corner, start], jump[image, corner, end] = (
                -2 * (1 - along[image]) / width[image],
                -2 * along[image] / width[image],
            )
    return jump
