"""The best plane of reflection symmetry of a point cloud.

References
----------
Chen and Medioni, Object modelling by registration of multiple range images, Image and Vision Computing 10 (1992):
iterative closest points with point-to-plane distances. Used here between a cloud and its reflection.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from shellgen.core.arrays import Floats

_STIFF = 2e-3
"""Share of the stiffest motion's stiffness below which a motion is ignored: a ball can turn freely (chosen)."""
_KEPT = 0.8
"""Share of the pairs that count, the closest: the others are in holes of the other half (chosen)."""


class MirrorPlane(NamedTuple):
    """normal (3,) unit; offset along it; error : rms distance of the pairs that count, along their normals."""

    normal: Floats
    offset: float
    error: float


def mirror_plane(
    points: Floats, normals: Floats, start: Floats, *, within: Floats | None = None, rounds: int = 25
) -> MirrorPlane:
    """Refines the plane through the centroid with normal `start`.

    normals : (n, 3) unit, of the surface; their sign does not matter
    within  : a direction that the plane must contain; None if free
    """
    tree = cKDTree(points)
    middle = points.mean(axis=0)
    size = np.linalg.norm(points - middle, axis=1).max()
    normal, offset, error = _unit_within(start, within), 0.0, 0.0
    offset = float(normal @ middle)
    for _ in range(rounds):
        image = points - 2 * np.outer(points @ normal - offset, normal)
        away, near = tree.query(image)
        facing = normals[near]
        turned = normals - 2 * np.outer(normals @ normal, normal)
        good = (away <= np.quantile(away, _KEPT)) & (np.abs((turned * facing).sum(axis=1)) > 0.7)
        if good.sum() < 12:
            break
        place, face = (image[good] - middle) / size, facing[good]
        gap = ((points[near[good]] - image[good]) * face).sum(axis=1)
        error = float(np.sqrt(np.mean(gap**2)))
        rows = np.column_stack([np.cross(place, face), face])
        step = np.linalg.pinv(rows.T @ rows, rcond=_STIFF, hermitian=True) @ (rows.T @ gap)
        moved, shift = Rotation.from_rotvec(step[:3] / size).as_matrix(), step[3:]
        before = normal, offset
        normal, offset = _closest_reflection(normal, offset, moved, shift, middle, within)
        if np.abs(normal - before[0]).max() < 1e-9 and abs(offset - before[1]) < 1e-9 * size:
            break
    return MirrorPlane(normal, offset, error)


def _closest_reflection(
    normal: Floats, offset: float, moved: Floats, shift: Floats, middle: Floats, within: Floats | None
) -> tuple[Floats, float]:
    """The plane of the reflection closest to this motion: reflect, then rotate about the centroid and shift."""
    linear = moved @ (np.eye(3) - 2 * np.outer(normal, normal))
    _, vectors = np.linalg.eigh((linear + linear.T) / 2)
    fresh = vectors[:, 0] * np.sign(vectors[:, 0] @ normal)
    fresh = _unit_within(fresh, within)
    reflected = middle - 2 * (normal @ middle - offset) * normal
    image = middle + moved @ (reflected - middle) + shift
    return fresh, float(fresh @ (middle + image) / 2)


def _unit_within(direction: Floats, within: Floats | None) -> Floats:
    if within is not None:
        direction = direction - (direction @ within) * within
    return direction / np.linalg.norm(direction)
