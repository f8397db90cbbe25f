"""The frozen values that pass between stages. Units are mm and radians unless the name says otherwise.

Frame: x to the wearer's head, y to the wearer's left, z outward at the crown. The left half has y >= 0.
Domain: every dome is a map from the unit disc; u runs with x, v with y, the rim is the unit circle,
and mirroring is v -> -v.
"""

from __future__ import annotations

from shellgen.model._freeze import freeze
from shellgen.model.built import Built, Finding, Proof
from shellgen.model.cut import Cut, FlatPiece, Mark, Pattern, Piece, Seam, Side
from shellgen.model.foam_sheet import FoamSheet
from shellgen.model.net import Layout, Line, Plate, ShellMesh, SpikePlace, Surface
from shellgen.model.paint import Coat, Paint, Pair, Shading, Zone
from shellgen.model.spiked import Ring, Solid, Spike, SpikeShape
from shellgen.model.work import Amount, Body, Concession, Job, Materials, Offer, Saving, Schedule, Task

__all__ = [
    "Amount",
    "Body",
    "Built",
    "Coat",
    "Concession",
    "Cut",
    "Finding",
    "FlatPiece",
    "FoamSheet",
    "Job",
    "Layout",
    "Line",
    "Mark",
    "Materials",
    "Offer",
    "Paint",
    "Pair",
    "Pattern",
    "Piece",
    "Plate",
    "Proof",
    "Ring",
    "Saving",
    "Schedule",
    "Seam",
    "Shading",
    "ShellMesh",
    "Side",
    "Solid",
    "Spike",
    "SpikePlace",
    "SpikeShape",
    "Surface",
    "Task",
    "Zone",
    "freeze",
]
