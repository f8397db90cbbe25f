"""Mesh simplification by vertex clustering."""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats, Ints


def clustered(vertices: Floats, faces: Ints, cell: float) -> tuple[Floats, Ints]:
    """A coarser mesh: all vertices in one cube of side `cell` become their mean; triangles that vanish are dropped.

    References: Rossignac & Borrel, Multi-resolution 3D approximations, 1993.
    """
    cube = np.floor((vertices - vertices.min(axis=0)) / cell).astype(np.int64)
    size = cube.max(axis=0) + 1
    _, owner = np.unique((cube[:, 0] * size[1] + cube[:, 1]) * size[2] + cube[:, 2], return_inverse=True)
    owner = owner.ravel()
    count = np.bincount(owner)
    merged = np.stack([np.bincount(owner, column) for column in vertices.T], axis=1) / count[:, None]
    corner = owner[faces]
    corner = corner[(corner != np.roll(corner, 1, axis=1)).all(axis=1)]
    first = corner.argmin(axis=1)[:, None]
    turned = np.take_along_axis(corner, (first + np.arange(3)) % 3, axis=1)
    return merged, np.unique(turned, axis=0)
