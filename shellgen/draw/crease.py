"""Normals that are smooth where a face bends and break where it has an edge."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

SHARP = np.radians(40.0)
"""Faces that meet at more than this have an edge (chosen: 12 facets are round, a chamfer of 45 deg is not)."""


def creased(vertices: NDArray, faces: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """(n, 3) vertices, (m, 3) faces and (n, 3) unit normals of the same mesh; a vertex on an edge stands once for
    each of its sides.

    References: normals weighted by area, H. Gouraud, Continuous Shading of Curved Surfaces (1971).
    """
    a, b, c = np.moveaxis(vertices[faces], 1, 0)
    area = np.cross(b - a, c - a)
    unit = area / np.maximum(np.linalg.norm(area, axis=1, keepdims=True), 1e-300)
    corner = np.argsort(faces.ravel(), kind="stable")  # corners of one vertex follow each other
    count = np.bincount(faces.ravel(), minlength=len(vertices))
    first, size = (np.cumsum(count) - count)[faces.ravel()], count[faces.ravel()]
    one = np.repeat(np.arange(faces.size), size)
    other = corner[np.repeat(first - np.cumsum(size) + size, size) + np.arange(size.sum())]
    near = (unit[one // 3] * unit[other // 3]).sum(axis=1) > np.cos(SHARP)
    sums = [np.bincount(one[near], area[other[near] // 3, k], minlength=faces.size) for k in range(3)]
    normal = np.column_stack(sums).astype(float)
    normal = normal / np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)
    keys = np.column_stack([faces.ravel(), np.round(normal * 500).astype(int)])
    _, kept, number = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    return vertices[faces.ravel()[kept]], number.reshape(faces.shape), normal[kept]
