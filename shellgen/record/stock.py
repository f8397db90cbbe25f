"""What is cut from bought stock, in the record: strips, the edging along the rim, and sheets of foam."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.pipeline.shell import Shell
from shellgen.record.rounding import rounded
from shellgen.workshop.stock import CutList


@dataclass(frozen=True, slots=True)
class StockLengthEntry:
    """One length of stock, and what is cut from it."""

    pieces: tuple[str, ...]
    left_mm: float


@dataclass(frozen=True, slots=True)
class StockEntry:
    """Stock that is sold by the length. least_lengths : lower limit for any plan of cutting; waste : share of all
    stock"""

    stock_mm: float
    lengths: tuple[StockLengthEntry, ...]
    least_lengths: int
    waste: float


@dataclass(frozen=True, slots=True)
class EdgePieceEntry:
    """One piece of the edging, and its place along the rim."""

    id: str
    start_mm: float
    end_mm: float
    length_mm: float


@dataclass(frozen=True, slots=True)
class ReliefEntry:
    """Cuts that let the edging bend on a stretch of the rim."""

    from_mm: float
    to_mm: float
    count: int
    depth_mm: float


@dataclass(frozen=True, slots=True)
class MitreEntry:
    """A corner of the rim."""

    at_mm: float
    mitre_deg: float


@dataclass(frozen=True, slots=True)
class EdgingEntry:
    """The stock along the rim, measured along its middle from the head's midline to the wearer's left."""

    length_mm: float
    strain_max: float
    pieces: tuple[EdgePieceEntry, ...]
    relief_cuts: tuple[ReliefEntry, ...]
    mitres: tuple[MitreEntry, ...]


@dataclass(frozen=True, slots=True)
class SheetEntry:
    """One sheet of foam. pieces : in the order of cutting; gap_mm, edge_mm : least distances, measured"""

    id: str
    length_mm: float
    width_mm: float
    thickness_mm: float
    pieces: tuple[str, ...]
    utilisation: float
    used_mm: float
    gap_mm: float | None
    edge_mm: float


def stock(cuts: CutList) -> StockEntry:
    return StockEntry(
        stock_mm=rounded(cuts.stock),
        lengths=tuple(StockLengthEntry(tuple(one.pieces), rounded(one.left)) for one in cuts.lengths),
        least_lengths=int(cuts.bound),
        waste=rounded(cuts.waste),
    )


def edging(shell: Shell) -> EdgingEntry:
    of = shell.trim.edging
    return EdgingEntry(
        length_mm=rounded(of.length),
        strain_max=rounded(of.strain),
        pieces=tuple(EdgePieceEntry(p.name, rounded(p.start), rounded(p.end), rounded(p.length)) for p in of.pieces),
        relief_cuts=tuple(ReliefEntry(rounded(r.start), rounded(r.end), r.count, rounded(r.depth)) for r in of.reliefs),
        mitres=tuple(MitreEntry(rounded(c.at), rounded(np.degrees(c.mitre), 1)) for c in of.corners),
    )


def sheets(shell: Shell) -> tuple[SheetEntry, ...]:
    return tuple(
        SheetEntry(
            id=sheet.name,
            length_mm=rounded(sheet.stock.length),
            width_mm=rounded(sheet.stock.width),
            thickness_mm=rounded(sheet.thickness),
            pieces=tuple(placement.part.name for placement in sheet.placements),
            utilisation=rounded(sheet.utilisation),
            used_mm=rounded(sheet.used),
            gap_mm=rounded(sheet.gap) if np.isfinite(sheet.gap) else None,
            edge_mm=rounded(sheet.edge),
        )
        for sheet in shell.work.nest.sheets
    )
