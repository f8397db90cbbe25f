"""The frozen values that pass between stages. Units are mm and radians unless the name says otherwise.

Frame: x to the wearer's head, y to the wearer's left, z outward at the crown. The left half has y >= 0.
Domain: every dome is a map from the unit disc; u runs with x, v with y, the rim is the unit circle,
and mirroring is v -> -v.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from datetime import datetime
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from shellgen.canvas import frozen_array


def freeze(value: object) -> None:
    """Makes every array field of a frozen dataclass a read-only copy (called from `__post_init__`)."""
    for item in fields(value):  # type: ignore[arg-type]
        array = getattr(value, item.name)
        if isinstance(array, np.ndarray) and array.flags.writeable:
            object.__setattr__(value, item.name, frozen_array(array, array.dtype.type))


class Surface(Protocol):
    """The outer face of the finished shell, smooth and mirror-symmetric.

    uv     : (n, 2) float in the closed unit disc
    offset : mm along the outward normal; minus half the foam's thickness gives the mid surface
    """

    def points(self, uv: NDArray, *, offset: float = 0.0) -> NDArray: ...  # (n, 3) mm

    def normals(self, uv: NDArray) -> NDArray: ...  # (n, 3) unit, outward

    def tangents(self, uv: NDArray, *, offset: float = 0.0) -> NDArray: ...  # (n, 3, 2) mm per unit of u, v


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
    uv: NDArray
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
    side  : "L", "R" or "C" (astride the midline)
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
class Layout:
    """The plate net: a planar graph on the disc, exactly mirror-symmetric.

    nodes  : (k, 2) float, uv of the corners (points where lines meet, or where a line crosses the midline)
    cells  : for each cell, its boundary as (line index, +1 or -1) in counter-clockwise order
    plates : in a stable order; `cell_plate[c]` is the plate of cell c
    """

    nodes: NDArray
    lines: tuple[Line, ...]
    cells: tuple[tuple[tuple[int, int], ...], ...]
    plates: tuple[Plate, ...]
    cell_plate: tuple[int, ...]

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False)
class ShellMesh:
    """The dome as triangles, with every line of the net and the midline as mesh edges; exactly symmetric.

    uv, points, normals : (n, 2), (n, 3), (n, 3): on the outer face
    faces      : (m, 3) int, counter-clockwise seen from outside
    face_cell  : (m,) int, cell of the layout
    line_vertices : for each line of the layout, its mesh vertices from start to end
    mirror     : (n,) int, index of each vertex's mirror image
    """

    uv: NDArray
    points: NDArray
    normals: NDArray
    faces: NDArray
    face_cell: NDArray
    line_vertices: tuple[NDArray, ...]
    mirror: NDArray

    def __post_init__(self) -> None:
        freeze(self)

    def offset(self, distance: float) -> NDArray:
        """(n, 3) points moved along the closed-form normals; outward positive."""
        return self.points + distance * self.normals


@dataclass(frozen=True, slots=True, eq=False)
class Seam:
    """A chain of cut lines between the same two pieces, or the two sides of a dart.

    name     : by the pieces it joins, such as "L-mid-2~L-rim-4", with a number if they meet twice
    vertices : (k,) int, shell vertices from one end to the other
    sides    : the two outline sides that are glued: (piece index, side index in that piece)
    dart     : both sides on one piece
    length   : on the mid surface
    """

    name: str
    vertices: NDArray
    sides: tuple[tuple[int, int], tuple[int, int]]
    dart: bool
    lines: tuple[int, ...]
    length: float

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
    vertices: NDArray
    forward: bool

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One part to cut from foam: its curved mesh, and once flattened its flat one.

    name   : side, ring and number: "L-mid-3", "C-crown-1"
    mirror : index of the piece that is its mirror image (its own if it lies astride the midline)
    cells  : cells of the layout
    faces  : (m, 3) int into the piece's own vertices; `shell_faces` (m,) into the shell's
    shell_vertices : (k,) int; a vertex on a dart stands twice
    sides  : the outline, counter-clockwise
    """

    name: str
    side: str
    mirror: int
    cells: tuple[int, ...]
    faces: NDArray
    shell_faces: NDArray
    shell_vertices: NDArray
    sides: tuple[Side, ...]

    def __post_init__(self) -> None:
        freeze(self)


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

    flat: NDArray
    stretch: NDArray
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


@dataclass(frozen=True, slots=True)
class SpikeShape:
    """The figures of one spike, free of where it stands. Equal figures compare equal.

    diameter : of the base along the turning line; `width` across it
    bend     : how far the tip's direction is turned from the axis, towards the turning line (curved profiles)
    twist    : turn of the section from base to tip, counter-clockwise seen from the tip
    """

    profile: str
    diameter: float
    width: float
    height: float
    tip_radius: float = 0.0
    bend: float = 0.0
    twist: float = 0.0
    ridges: int = 0
    ridge_depth: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Spike:
    """One spike as placed and fitted.

    plate        : index of the plate it stands on
    uv           : (2,) where its axis meets the outer face
    axis         : (3,) unit
    frame        : (4, 4) rigid: spike's own frame (z along the axis, origin on the outer face, x the turning line)
    base_curve   : (n, 3) closed polyline where it meets the outer face, first point not repeated
    seat_uv      : (n, 2) the same in the domain
    master       : name of the solid that serves it; equal spikes share one
    flank        : (n, 3) unit, up the spike's side at each point of the base curve
    ring         : whether a foam strip is to go round it
    """

    name: str
    plate: int
    profile: str
    uv: NDArray
    frame: NDArray
    base_diameter: float
    height: float
    tilt: float
    base_curve: NDArray
    seat_uv: NDArray
    master: str
    shape: SpikeShape = SpikeShape("cone", 0.0, 0.0, 0.0, 0.0)
    flank: NDArray = field(default_factory=lambda: np.zeros((0, 3)))
    ring: bool = True

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False)
class Solid:
    """A closed triangle mesh, mm, outward faces counter-clockwise."""

    name: str
    vertices: NDArray
    faces: NDArray

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False)
class Ring:
    """A foam strip round one spike's base."""

    spike: str
    inner_length: float  # the base curve
    neutral_length: float  # what to cut, along the neutral fibre
    thickness: float
    width: float


@dataclass(frozen=True, slots=True, eq=False)
class Finding:
    """One plain sentence for the maker.

    level : "ok", "caution" or "fault"
    """

    level: str
    stage: str
    text: str


@dataclass(frozen=True, slots=True, eq=False)
class Built:
    """The welded shell at rest.

    points   : (n, 3) mid surface, one row per vertex of the shell
    distance : (n,) mm from the designed mid surface, outward positive
    rms, most : of the distances, mm, the rms by area
    """

    points: NDArray
    distance: NDArray
    rms: float
    most: float

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False)
class Proof:
    """What the flat pieces become when welded and let go, the rim held by its edging.

    glued, formed : as glued, unheated, and after forming
    loose       : formed, then taken off its edging and laid best on where it was: the foam springs back
    flawless    : as glued, but cut without any flattening error: what the foam's stiffness alone does
    pattern_rms : rms of the difference of glued and flawless, mm: what the pattern does
    heat        : (m, 2) smallest and largest stretch that each triangle of the shell needs to lie in the dome
    heat_direction : (m,) angle of the largest on the flat piece
    seam_gap    : (s,) mm by which the first flat side of each seam is longer than its mate
    seam_strain : (s, 2) built length over flat length less 1, of each side, as glued
    rim_gap     : (2,) mm by which the pieces along each half of the rim are longer than the rim's curve
    caught      : whether anything is so far off that the pieces must not be cut; the findings say what
    """

    glued: Built
    formed: Built
    loose: Built
    flawless: Built
    pattern_rms: float
    heat: NDArray
    heat_direction: NDArray
    seam_gap: NDArray
    seam_strain: NDArray
    rim_gap: NDArray
    caught: bool
    findings: tuple[Finding, ...]

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False)
class Amount:
    """One line of the buying list.

    amount : without spare, in `unit`; buy : with it, rounded up to what can be measured out
    how    : the sum in words and figures
    """

    item: str
    amount: float
    buy: float
    unit: str
    how: str


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """Who wears the shell, as far as the shell must know; mm and kg, in everyday clothes without shoes.

    group           : "adult" or "child"
    shoulder_breadth: biacromial, between the bony points of the shoulders
    back_length     : from the bone at the base of the neck down the spine to the waist
    neck_height     : of the bone at the base of the neck above the floor
    stated          : names of the measures that were measured; the others are reckoned from a survey
    """

    group: str
    stature: float
    mass_kg: float
    shoulder_breadth: float
    back_length: float
    chest_depth: float
    chest_breadth: float
    hip_breadth: float
    neck_girth: float
    neck_height: float
    sitting_height: float
    stated: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Materials:
    """amounts; mass_g of the finished shell and its standard uncertainty; centre (3,) of mass, mm"""

    amounts: tuple[Amount, ...]
    mass_g: float
    mass_uncertainty_g: float
    mass_parts: tuple[tuple[str, float], ...]
    centre: NDArray

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """Something to do: hours at the bench, hours to dry, and the names of what must be dry before."""

    name: str
    hands_h: float
    dry_h: float
    after: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """A task in the calendar: the stretches of work, its first beginning, its last end, and when it is dry."""

    task: Task
    spans: tuple[tuple[datetime, datetime], ...]
    begin: datetime
    end: datetime
    dry: datetime


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """Jobs by their beginning; the critical chain and its hours, drying counted; hours at the bench in all."""

    jobs: tuple[Job, ...]
    chain: tuple[str, ...]
    chain_h: float
    hands_h: float
    begin: datetime
    findings: tuple[Finding, ...]
