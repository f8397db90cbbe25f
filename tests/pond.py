"""The record of a made-up shell, with just the figures that the command line speaks of."""

from __future__ import annotations

from empty_record import empty

from shellgen.record import Record
from shellgen.record.dome import DomeEntry, ProofEntry
from shellgen.record.findings import FindingEntry
from shellgen.record.pieces import PieceEntry, PlateEntry, SeamEntry
from shellgen.record.spikes import SpikeEntry
from shellgen.record.stock import SheetEntry

SEAM = empty(SeamEntry, id="C-crown-1~L-rim-1", length_mm=(500.0, 500.05))
RECORD = empty(
    Record,
    name="pond",
    dome=empty(DomeEntry, length_mm=560.0, width_mm=460.0, height_mm=180.0, rim_length_mm=1630.0),
    plates=(empty(PlateEntry, id="nuchal"), empty(PlateEntry, id="vertebral-1")),
    pieces=(
        empty(PieceEntry, id="C-crown-1", stretch_max=0.021),
        empty(PieceEntry, id="L-rim-1", stretch_max=0.012),
    ),
    seams=(SEAM,),
    spikes=(
        empty(SpikeEntry, id="a", ring_length_mm=120.5, ring_cut_mm=121.0, ring_pattern="ring-121", stl="x.stl"),
        empty(SpikeEntry, id="b", ring_length_mm=121.0, ring_cut_mm=121.0, ring_pattern="ring-121", stl="x.stl"),
        empty(SpikeEntry, id="c", ring_length_mm=None, stl="y.stl"),
    ),
    proof=empty(ProofEntry, distance_rms_mm=2.34, formed_distance_rms_mm=0.56),
    sheets=(empty(SheetEntry, id="sheet-1"),),
    mass_g=850.0,
    left_out=(),
    findings=(
        FindingEntry("ok", "spikes", "all well", False),
        FindingEntry("caution", "spikes", "a tip is sharp", False),
    ),
)
