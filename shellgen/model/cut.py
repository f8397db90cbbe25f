"""Which lines are cut, the pieces and seams that follow, and the pieces laid flat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats, Ints
from shellgen.model._freeze import freeze


@dataclass(frozen=True, slots=True, eq=False)
class Seam:
    """A chain of cut lines between the same two pieces, or the two sides of a dart.

    name     : by the pieces it joins, such as "L-mid-2~L-rim-4", with a number if they meet twice
    vertices : (k,) int, shell vertices from one end to the other
    sides    : the two outline sides that are glued: (piece index, side index in that piece)
    dart     : both sides on one piece
    design_length : on the mid surface of the dome; the flat pieces' two edges are in the record
    """

    name: str
    vertices: Ints
    sides: tuple[tuple[int, int], tuple[int, int]]
    dart: bool
    lines: tuple[int, ...]
    design_length: float

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """One stretch of a piece's outline.

    seam     : index of the seam, or -1 on the rim
    vertices : (k,) int into the piece's own vertices, in outline order (counter-clockwise)
    forward  : whether outline order runs with the seam's own `vertices`
    """

    seam: int
    vertices: Ints
    forward: bool

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One part to cut from foam: its curved mesh, and once flattened its flat one.

    name   : side, ring and number: "L-mid-3", "C-crown-1"
    mirror : index of the piece that is its mirror image (its own for a centre piece)
    cells  : cells of the layout
    faces  : (m, 3) int into the piece's own vertices; `shell_faces` (m,) into the shell's
    shell_vertices : (k,) int; a vertex on a dart stands twice
    sides  : the outline, counter-clockwise
    """

    name: str
    side: str
    mirror: int
    cells: tuple[int, ...]
    faces: Ints
    shell_faces: Ints
    shell_vertices: Ints
    sides: tuple[Side, ...]

    def __post_init__(self) -> None:
        freeze(self)

    @property
    def outline(self) -> Ints:
        """(n,) int, its own vertices round the outline, counter-clockwise, none twice in a row."""
        return np.concatenate([side.vertices[:-1] for side in self.sides])


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """Which lines are cut, and the pieces and seams that follow."""

    cut_lines: tuple[int, ...]
    pieces: tuple[Piece, ...]
    seams: tuple[Seam, ...]


@dataclass(frozen=True, slots=True, eq=False)
class FlatPiece:
    """A piece laid flat, seen from outside (textured side up), at true size.

    flat    : (k, 2) float, mm, one row per vertex of the piece; x, y as it lies on the sheet
    stretch : (m, 2) float, smallest and largest ratio of curved length to flat length per triangle:
              above 1 the foam must be stretched in forming, below 1 compressed
    """

    flat: Floats
    stretch: Floats
    area_flat: float
    area_surface: float

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False)
class Pattern:
    """All pieces flat. `flats[i]` belongs to `cut.pieces[i]`.

    mid_offset : mm from the outer face to the surface on which the pattern is developed (negative)
    """

    flats: tuple[FlatPiece, ...]
    mid_offset: float


@dataclass(frozen=True, slots=True, eq=False)
class Mark:
    """A registration mark on a seam: the same number once on each mate.

    number   : unique in the pack
    seam     : index of the seam
    fraction : arc length from the seam's start over the seam's length
    at       : for each of the two sides, (piece index, x, y, inward angle)
    """

    number: int
    seam: int
    fraction: float
    at: tuple[tuple[int, float, float, float], tuple[int, float, float, float]]
