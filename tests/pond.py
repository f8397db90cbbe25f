"""The record of a made-up shell, with just the figures that the command line speaks of."""

from __future__ import annotations

from made_up import made_up

from shellgen.record import Record
from shellgen.record.dome import DomeEntry, ProofEntry
from shellgen.record.findings import FindingEntry
from shellgen.record.pieces import PieceEntry, PlateEntry, SeamEntry
from shellgen.record.spikes import SpikeEntry
from shellgen.record.stock import SheetEntry

SEAM = made_up(SeamEntry, id="C-crown-1~L-rim-1", length_mm=(500.0, 500.05))
RECORD = made_up(
    Record,
    name="pond",
    dome=made_up(DomeEntry, length_mm=560.0, width_mm=460.0, height_mm=180.0, rim_length_mm=1630.0),
    plates=(made_up(PlateEntry, id="nuchal"), made_up(PlateEntry, id="vertebral-1")),
    pieces=(
        made_up(PieceEntry, id="C-crown-1", stretch_max=0.021),
        made_up(PieceEntry, id="L-rim-1", stretch_max=0.012),
    ),
    seams=(SEAM,),
    spikes=(
        made_up(SpikeEntry, id="a", ring_length_mm=120.5, stl="x.stl"),
        made_up(SpikeEntry, id="b", ring_length_mm=121.0, stl="x.stl"),
        made_up(SpikeEntry, id="c", ring_length_mm=None, stl="y.stl"),
    ),
    proof=made_up(ProofEntry, distance_rms_mm=2.34, formed_distance_rms_mm=0.56),
    sheets=(made_up(SheetEntry, id="sheet-1"),),
    mass_g=850.0,
    left_out=(),
    findings=(
        FindingEntry("ok", "spikes", "all well", False),
        FindingEntry("caution", "spikes", "a tip is sharp", False),
    ),
)
