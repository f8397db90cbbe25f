"""A solid as binary STL, in millimetres (the format itself knows no unit)."""

from __future__ import annotations

import numpy as np

from shellgen.export._mesh import TriangleMesh, require_closed

_HEADER = b"binary STL, millimetres, z up".ljust(80)  # must not begin with "solid", the sign of the text form
_FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])


def write(mesh: TriangleMesh) -> bytes:
    """STL of a closed mesh, facets outward. GeometryError if it is not closed."""
    require_closed(mesh)
    corners = mesh.vertices[mesh.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    lengths = np.linalg.norm(normals, axis=1, keepdims=True)
    facets = np.zeros(len(corners), _FACET)
    facets["normal"], facets["corners"] = normals / np.where(lengths > 0, lengths, 1.0), corners
    return _HEADER + np.uint32(len(facets)).tobytes() + facets.tobytes()
