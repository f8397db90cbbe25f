"""What the virtual build comes to, and what is to be said of it."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen.core.arrays import Floats
from shellgen.model._freeze import freeze


@dataclass(frozen=True, slots=True, eq=False)
class Finding:
    """One plain sentence for the maker.

    level  : "ok", "caution" or "fault"
    safety : whether somebody may come to serious harm; no pack is made with a fault of this kind
    """

    level: str
    stage: str
    text: str
    safety: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Built:
    """The welded shell at rest.

    points   : (n, 3) mid surface, one row per vertex of the shell
    distance : (n,) mm from the designed mid surface, outward positive
    rms, most : of the distances, mm, the rms by area
    settled : whether it came to rest
    """

    points: Floats
    distance: Floats
    rms: float
    most: float
    settled: bool

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
    heat: Floats
    seam_gap: Floats
    seam_strain: Floats
    rim_gap: Floats
    caught: bool
    findings: tuple[Finding, ...]

    def __post_init__(self) -> None:
        freeze(self)
