"""A triangle mesh cut open along some of its edges: patches and their outlines.

References: Botsch et al., Polygon Mesh Processing, 2010, section 2.3 (half-edge structures).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from shellgen.core.arrays import Bools, Ints
from shellgen.errors import GeometryError
from shellgen.geom.halfedges import next_half_edges, twins


@dataclass(frozen=True, slots=True, eq=False)
class CutMesh:
    """Half-edges are numbered as in `halfedges`.

    twin   : (3 m,) the opposite half-edge in the whole mesh; -1 on its boundary
    corner : (3 m,) vertex of the cut mesh at which the half-edge starts; the two sides of a cut have their own
             vertices, but share the one where the cut ends inside the mesh
    patch  : (m,) connected component of each face
    after  : (3 m,) for a half-edge on an outline the next one along it, counter-clockwise; -1 inside
    """

    twin: Ints
    corner: Ints
    patch: Ints
    after: Ints


def cut_open(faces: Ints, cut: Bools) -> CutMesh:
    """Cuts a mesh along the half-edges where `cut` (3 m,) is set on either side.

    faces : (m, 3), all oriented the same way
    """
    count = len(faces)
    twin = twins(faces)
    following = next_half_edges(count)
    inner = (twin >= 0) & ~cut
    inner[inner] = ~cut[twin[inner]]
    whole = np.flatnonzero(inner)
    patch = _components(whole // 3, twin[whole] // 3, count)
    # across an uncut edge the two corners at each end are one vertex; each end is reached from one of the half-edges
    corner = _components(whole, following[twin[whole]], 3 * count)
    outline = np.flatnonzero(~inner)
    start = np.full(3 * count, -1)
    start[corner[outline]] = outline
    after = np.full(3 * count, -1)
    after[outline] = start[corner[following[outline]]]
    return CutMesh(twin, corner, patch, after)


def _components(a: Ints, b: Ints, count: int) -> Ints:
    graph = coo_array((np.ones(len(a), dtype=bool), (a, b)), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], np.int64)


def euler_characteristics(mesh: CutMesh) -> Ints:
    """(patches,) vertices - edges + faces of each patch: 1 for a disc, 0 for an annulus.

    References: Euler, Elementa doctrinae solidorum, 1758 (V - E + F = 2 on a closed sphere, one less per hole).
    """
    count = int(mesh.patch.max()) + 1
    _, first = np.unique(mesh.corner, return_index=True)
    vertices = np.bincount(mesh.patch[first // 3], minlength=count)
    faces = np.bincount(mesh.patch, minlength=count)
    outline = np.bincount(mesh.patch[np.flatnonzero(mesh.after >= 0) // 3], minlength=count)
    return np.asarray(vertices - (3 * faces + outline) // 2 + faces)


def mirrored_faces(faces: Ints, mirror: Ints) -> Ints:
    """(m,) the mirror image of each face, where `mirror` (n,) is that of each vertex.

    GeometryError if a face has none.
    """
    own, mirrored = np.sort(faces, axis=1), np.sort(mirror[faces], axis=1)
    own_order, order = np.lexsort(own.T), np.lexsort(mirrored.T)
    if not np.array_equal(own[own_order], mirrored[order]):
        raise GeometryError("the mesh is not its own mirror image")
    image = np.empty(len(faces), dtype=np.int64)
    image[order] = own_order
    return image
