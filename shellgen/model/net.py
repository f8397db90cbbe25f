"""The dome, the plate net drawn on it and its mesh."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from shellgen.core.arrays import Floats, Ints
from shellgen.model._freeze import freeze


class Surface(Protocol):
    """The outer face of the finished shell, smooth and mirror-symmetric: a frozen dataclass of numbers and arrays, so
    that `keep` can tell two by their content.

    uv     : (n, 2) float in the closed unit disc
    offset : mm along the outward normal; minus half the foam's thickness gives the mid surface
    """

    def __hash__(self) -> int: ...

    def points(self, uv: Floats, *, offset: float = 0.0) -> Floats: ...  # (n, 3) mm

    def normals(self, uv: Floats) -> Floats: ...  # (n, 3) unit, outward

    def tangents(self, uv: Floats, *, offset: float = 0.0) -> Floats: ...  # (n, 3, 2) mm per unit of u, v


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One edge of the plate net: a smooth curve on the surface from node `start` to node `end`.

    uv    : (n, 2) float, ends exactly at the nodes; dense enough to be read as a polyline
    kind  : "plate" (a line between two plates), "rim", "midline" (only divides a plate into mirror halves
            so that the mesh is exactly symmetric; never scored), or "seam" (may be cut, never scored)
    left, right : cells on either hand when walking from start to end; -1 outside the rim
    mirror : index of the mirrored line; its own index on the midline
    """

    start: int
    end: int
    uv: Floats
    kind: str
    left: int
    right: int
    mirror: int

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False)
class Plate:
    """One scute.

    name  : such as "vertebral-3" or "pleural-L-2", unique in the layout
    kind  : "nuchal", "vertebral", "pleural", "marginal", "hex", ...
    side  : "L", "R" or "C" (centre piece)
    cells : the faces of the net that make it up: one, or two mirror halves
    sides : number of sides it has, the rim counted as one
    """

    name: str
    kind: str
    side: str
    cells: tuple[int, ...]
    sides: int
    mirror: int
    neighbours: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class SpikePlace:
    """A place for a spike that belongs to the net. uv : (2,); size : mm across its base; kind : what it is called"""

    uv: Floats
    size: float
    kind: str

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Layout:
    """The plate net: a planar graph on the disc, exactly mirror-symmetric.

    nodes  : (k, 2) float, uv of the corners (points where lines meet, or where a line crosses the midline)
    spots  : places for spikes, mirror images included
    cells  : for each cell, its boundary as (line index, +1 or -1) in counter-clockwise order
    plates : in a stable order; `cell_plate[c]` is the plate of cell c
    """

    nodes: Floats
    lines: tuple[Line, ...]
    cells: tuple[tuple[tuple[int, int], ...], ...]
    plates: tuple[Plate, ...]
    cell_plate: tuple[int, ...]
    spots: tuple[SpikePlace, ...] = ()

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class ShellMesh:
    """The dome as triangles, with every line of the net and the midline as mesh edges; exactly symmetric.

    uv, points, normals : (n, 2), (n, 3), (n, 3): on the outer face
    faces      : (m, 3) int, counter-clockwise seen from outside
    face_cell  : (m,) int, cell of the layout
    line_vertices : for each line of the layout, its mesh vertices from start to end
    mirror     : (n,) int, index of each vertex's mirror image
    """

    uv: Floats
    points: Floats
    normals: Floats
    faces: Ints
    face_cell: Ints
    line_vertices: tuple[Ints, ...]
    mirror: Ints

    def __post_init__(self) -> None:
        freeze(self)

    def offset(self, distance: float) -> Floats:
        """(n, 3) points moved along the closed-form normals; outward positive."""
        return self.points + distance * self.normals

    @property
    def rim(self) -> Ints:
        """(k,) int, vertices once round the rim, from the tail by the wearer's right."""
        on = np.flatnonzero(np.hypot(*self.uv.T) > 1 - 1e-9)
        return on[np.argsort(np.arctan2(self.uv[on, 1], self.uv[on, 0]))]

    @property
    def midline(self) -> Ints:
        """(k,) int, vertices along the midline, from the tail to the head."""
        on = np.flatnonzero(np.abs(self.uv[:, 1]) < 1e-12)
        return on[np.argsort(self.uv[on, 0])]
