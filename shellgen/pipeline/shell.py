"""The finished shell: what every stage made of one preset."""

from __future__ import annotations

from dataclasses import dataclass

from numpy.typing import NDArray

from shellgen.model import (
    Body,
    Cut,
    Finding,
    Layout,
    Mark,
    Materials,
    Paint,
    Pattern,
    Plan,
    Proof,
    Ring,
    ShellMesh,
    Solid,
    Spike,
    Surface,
)
from shellgen.spikes.casting import Casting
from shellgen.spikes.solids import Master
from shellgen.trim.edging import Edging
from shellgen.trim.rings import Trims
from shellgen.wear import Wear
from shellgen.wear.wearer.fit import Fit
from shellgen.workshop.buying import Buying
from shellgen.workshop.nest import Nest
from shellgen.workshop.stock import CutList


@dataclass(frozen=True, slots=True, eq=False)
class Shell:
    """Everything computed for one preset, for those who draw it.

    thickness    : of the foam
    intervals    : per seam, (2, gaps) mm, as `marks.interval_lengths`
    bevels       : per seam, radians, half the angle between the neighbours as glued
    seats        : per piece, (spike name, closed flat outline or open part of one) where spikes stand
    """

    name: str
    surface: Surface
    layout: Layout
    mesh: ShellMesh
    cut: Cut
    pattern: Pattern
    thickness: float
    marks: tuple[Mark, ...]
    intervals: tuple[NDArray, ...]
    bevels: tuple[float, ...]
    spikes: tuple[Spike, ...]
    masters: tuple[Solid, ...]
    casts: tuple[Master, ...]
    casting: Casting
    rings: tuple[Ring, ...]
    trims: Trims
    ring_stock: CutList
    edging: Edging
    edging_stock: CutList
    proof: Proof
    materials: Materials
    nest: Nest
    plan: Plan | None
    seats: tuple[tuple[tuple[str, NDArray], ...], ...]
    findings: tuple[Finding, ...]
    buying: Buying
    body: Body | None
    fit: Fit | None
    measures_shared: bool
    wear: Wear
    paint: Paint
