"""How the shell is painted: zones, colours, coats, and where the shade lies."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen.canvas import Colour
from shellgen.core.arrays import Floats, Ints
from shellgen.model._freeze import freeze
from shellgen.model.built import Finding


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """One part of the shell that has a colour of its own.

    name : "plates", "grooves", "spikes", "rings", "rim" or "inside"
    area : mm2 that are painted; coats : 0 where it stays bare
    volume_ml : of paint for all coats, without spare; `how` says it in words and figures
    """

    name: str
    area: float
    coats: int
    volume_ml: float
    colour: str
    rgb: Colour
    how: str


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """Two zones that meet.

    contrast   : ratio of their luminances, 1 to 21
    difference : of their colours, CIEDE2000, for the sight to which they are least different
    """

    zones: tuple[str, str]
    contrast: float
    difference: float
    sight: str


@dataclass(frozen=True, slots=True, eq=False)
class Coat:
    """One step of the painting.

    coats       : how many times
    masks       : kinds of stencil
    instruction : what to do, caution last
    """

    title: str
    zone: str
    colour: str
    coats: int
    volume_ml: float
    masks: tuple[str, ...]
    instruction: str


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Shading:
    """The shade on the outer face, on a mesh with every edge of the shell's halved twice: its own vertices first.

    ends     : for each halving (k, 2) the vertices between which the new ones stand, in their order
    points, normals, faces : of the finer mesh
    openness : (n,) share of the sky seen past spikes and rings, 1 in the open
    shade    : (n,) 0 in the open; more in grooves, at the feet of rings and between spikes
    levels   : where the middle and the dark tone begin
    brush    : mm, the narrowest that a tone may be
    """

    ends: tuple[Ints, ...]
    points: Floats
    normals: Floats
    faces: Ints
    openness: Floats
    shade: Floats
    levels: tuple[float, float]
    brush: float

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False)
class Paint:
    """Zones, the pairs that meet, the coats in their order, and the shading with its kind of paint."""

    zones: tuple[Zone, ...]
    pairs: tuple[Pair, ...]
    coats: tuple[Coat, ...]
    shading: Shading
    kind: str
    findings: tuple[Finding, ...]
