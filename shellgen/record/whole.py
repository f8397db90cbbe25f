"""The whole record: what each key of `shell.json` holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shellgen.record.buying import CostEntry, MaterialEntry
from shellgen.record.dome import DomeEntry, ProofEntry
from shellgen.record.files import FileEntry, GradedEntry, ReadbackEntry
from shellgen.record.findings import FindingEntry
from shellgen.record.forming import FormingEntry
from shellgen.record.handwork import HeatEntry, JoinEntry, TapeEntry
from shellgen.record.paint import PaintEntry
from shellgen.record.pieces import PieceEntry, PlateEntry, SeamEntry
from shellgen.record.plan import NoPlanEntry, PlanEntry, TaskEntry
from shellgen.record.spikes import ClayEntry, PrintEntry, SpikeEntry
from shellgen.record.stock import EdgingEntry, SheetEntry, StockEntry
from shellgen.record.wear import WearEntry
from shellgen.record.wearer import WearerEntry


@dataclass(frozen=True, slots=True)
class Record:
    """All figures of one pack; mm, mm2, radians and degrees as the names say.

    program_version : of shellgen; preset_digest : of the preset, see `preset.digest`
    sheets_at_least, sheets_cost : fewest sheets that any layout could need, and what these cost, if known
    readback, left_out, files : known once the files are made; graded : only of a pack that is one size of a design
    """

    name: str
    foam_thickness_mm: float
    dome: DomeEntry
    plates: tuple[PlateEntry, ...]
    pieces: tuple[PieceEntry, ...]
    proof: ProofEntry
    seams: tuple[SeamEntry, ...]
    spikes: tuple[SpikeEntry, ...]
    prints: tuple[PrintEntry, ...]
    clay_cm3: ClayEntry
    ring_stock: StockEntry
    edging: EdgingEntry
    edging_stock: StockEntry
    materials: tuple[MaterialEntry, ...]
    cost: CostEntry
    mass_g: float
    mass_uncertainty_g: float
    mass_parts_g: Mapping[str, float]
    centre_of_mass_mm: tuple[float, ...]
    sheets: tuple[SheetEntry, ...]
    sheets_at_least: int
    sheets_cost: float | None
    schedule: tuple[TaskEntry, ...]
    plan: PlanEntry | NoPlanEntry
    joins: tuple[JoinEntry, ...]
    tape: TapeEntry
    heat: tuple[HeatEntry, ...]
    forming: tuple[FormingEntry, ...]
    paint: PaintEntry
    wearer: WearerEntry | None
    wear: WearEntry
    findings: tuple[FindingEntry, ...]
    program_version: str
    preset_digest: str | None = None
    readback: ReadbackEntry | None = None
    left_out: tuple[str, ...] | None = None
    graded: GradedEntry | None = None
    files: tuple[FileEntry, ...] | None = None
