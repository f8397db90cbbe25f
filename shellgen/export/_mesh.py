"""What the writers of solids share."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from shellgen.canvas import ScenePart
from shellgen.core.arrays import Floats, Ints, Numbers
from shellgen.errors import GeometryError


class TriangleMesh(Protocol):
    """A named triangle mesh: vertices (n, 3) mm, faces (m, 3) counter-clockwise seen from outside."""

    @property
    def name(self) -> str: ...
    @property
    def vertices(self) -> Floats: ...
    @property
    def faces(self) -> Ints: ...


def placements(part: ScenePart) -> Floats:
    """(k, 4, 4): where the copies of a part stand; one copy where it is if it has no placements."""
    return np.eye(4)[None] if part.placements is None else part.placements


def require_closed(mesh: TriangleMesh) -> None:
    """GeometryError unless every edge is used once in either direction (closed, and turned one way throughout)."""
    if not _closed(mesh.faces):
        raise GeometryError(f"the solid {mesh.name!r} is not closed, so it cannot be printed")


def _closed(faces: Ints) -> bool:
    start, stop = faces.T.reshape(-1), np.roll(faces, -1, axis=1).T.reshape(-1)
    count = np.int64(faces.max(initial=0) + 1)
    there, back = np.sort(start * count + stop), np.sort(stop * count + start)
    return bool(len(there)) and not (np.diff(there) == 0).any() and np.array_equal(there, back)


def solids(parts: Sequence[ScenePart]) -> list[bool]:
    """Whether each part is a closed solid, or one of the sheets that make up a closed solid together."""
    alone = [_closed(_welded([part])) if part.solid is None else part.solid for part in parts]
    sheets = [part for part, whole in zip(parts, alone, strict=True) if not whole and part.placements is None]
    together = bool(sheets) and all(part.solid is None for part in sheets) and _closed(_welded(sheets))
    return [whole or (together and part.placements is None) for part, whole in zip(parts, alone, strict=True)]


def _welded(parts: Sequence[ScenePart]) -> Ints:
    """(m, 3) faces of all parts, a corner in the same place being the same vertex."""
    first = np.cumsum([0, *(len(part.vertices) for part in parts)])
    points = np.ascontiguousarray(np.vstack([part.vertices for part in parts])) + 0.0  # no minus before a zero
    same = np.unique(points.view([("", float)] * 3), return_inverse=True)[1].ravel()
    return np.asarray(same[np.vstack([part.faces + k for part, k in zip(parts, first, strict=False)])])


def linear(colours: Numbers) -> Floats:
    """Linear light, 0 to 1, of sRGB colours, 0 to 255.

    References: IEC 61966-2-1, the sRGB transfer function.
    """
    c = np.asarray(colours, float) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def srgb(light: Floats) -> Floats:
    """sRGB, 0 to 255, of linear light: the inverse of `linear`, clipped."""
    c = np.clip(light, 0, 1)
    return 255 * np.where(c <= 0.0031308, 12.92 * c, 1.055 * c ** (1 / 2.4) - 0.055)
