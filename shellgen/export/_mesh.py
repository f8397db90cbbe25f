"""What the writers of solids share."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from shellgen.canvas import Part
from shellgen.errors import GeometryError


class Mesh(Protocol):
    """A named triangle mesh: vertices (n, 3) mm, faces (m, 3) counter-clockwise seen from outside."""

    @property
    def name(self) -> str: ...
    @property
    def vertices(self) -> NDArray: ...
    @property
    def faces(self) -> NDArray: ...


def placements(part: Part) -> NDArray:
    """(k, 4, 4): where the copies of a part stand; one copy where it is if it has no placements."""
    return np.eye(4)[None] if part.placements is None else part.placements


def require_closed(mesh: Mesh) -> None:
    """GeometryError unless every edge is used once in either direction (closed, and turned one way throughout)."""
    start, stop = mesh.faces.T.reshape(-1), np.roll(mesh.faces, -1, axis=1).T.reshape(-1)
    count = np.int64(len(mesh.vertices))
    there, back = np.sort(start * count + stop), np.sort(stop * count + start)
    if not len(there) or (np.diff(there) == 0).any() or not np.array_equal(there, back):
        raise GeometryError(f"the solid {mesh.name!r} is not closed, so it cannot be printed")


def linear(colours: NDArray) -> NDArray:
    """Linear light, 0 to 1, of sRGB colours, 0 to 255.

    References: IEC 61966-2-1, the sRGB transfer function.
    """
    c = np.asarray(colours, float) / 255
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def srgb(light: NDArray) -> NDArray:
    """sRGB, 0 to 255, of linear light: the inverse of `linear`, clipped."""
    c = np.clip(light, 0, 1)
    return 255 * np.where(c <= 0.0031308, 12.92 * c, 1.055 * c ** (1 / 2.4) - 0.055)
