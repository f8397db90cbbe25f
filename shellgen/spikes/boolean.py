"""Solids to and from manifold3d, which cuts and joins them."""

from __future__ import annotations

import numpy as np
from manifold3d import Manifold, Mesh64

from shellgen.errors import GeometryError
from shellgen.model import Solid


def manifold(solid: Solid) -> Manifold:
    """The solid for booleans, in double precision. GeometryError if it is not closed."""
    made = Manifold(Mesh64(vert_properties=np.array(solid.vertices), tri_verts=np.array(solid.faces, np.uint64)))
    if made.is_empty():
        raise GeometryError(f"{solid.name}: not a closed solid ({made.status()})")
    return made


def solid_of(name: str, made: Manifold) -> Solid:
    """The boolean's result as a solid. GeometryError if it is empty or falls apart."""
    parts = made.decompose()
    if len(parts) != 1:
        raise GeometryError(f"{name}: comes out in {len(parts)} parts, not one")
    mesh = made.to_mesh64()
    return Solid(name, np.array(mesh.vert_properties[:, :3]), np.array(mesh.tri_verts, int))
