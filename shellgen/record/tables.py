"""The lists a maker works from: pieces, seams, spikes with their rings, what to buy, the plan, and the paint."""

from __future__ import annotations

from functools import lru_cache

from shellgen.canvas import Table
from shellgen.finish import paint
from shellgen.pipeline.shell import Shell
from shellgen.record import Record, record
from shellgen.workshop import buying


@lru_cache(maxsize=1)  # used by files and page
def tables(shell: Shell) -> tuple[Table, ...]:
    """One table each; figures as in the record."""
    figures = record(shell)
    pieces = Table(
        "pieces",
        ("piece", "plates", "flat area (cm2)", "largest stretch (%)"),
        tuple(
            (p.id, " ".join(p.plates), round(p.area_flat_mm2 / 100, 1), round(100 * p.stretch_max, 2))
            for p in figures.pieces
        ),
    )
    seams = Table(
        "seams",
        ("seam", "length (mm)", "marks", "bevel (deg)"),
        tuple((s.id, round(max(s.length_mm), 1), f"{s.marks[0]} to {s.marks[-1]}", s.bevel_deg) for s in figures.seams),
    )
    spikes = Table(
        "spikes",
        ("spike", "plate", "base (mm)", "height (mm)", "tilt (deg)", "ring strip (mm)", "master"),
        tuple(
            (
                s.id,
                s.plate,
                round(s.base_diameter_mm, 1),
                round(s.height_mm, 1),
                s.tilt_deg,
                round(s.ring_length_mm, 1) if s.ring_length_mm else "",
                s.master,
            )
            for s in figures.spikes
        ),
    )
    return pieces, seams, spikes, buying.table(shell.work.buying), plan(figures), paint.table(shell.paint)


def plan(figures: Record) -> Table:
    """The tasks in order. figures : the record of a shell"""
    return Table(
        "plan",
        (
            "task", "day", "begin", "end", "dry or printed", "work (h)", "printing (h)", "drying (h)",
            "longest chain", "after",
        ),
        tuple(
            (
                t.task, t.day, *((time or "").replace("T", " ") for time in (t.begin, t.end, t.dry)), t.hands_h,
                t.printer_h or "", t.dry_h, "yes" if t.critical else "", "; ".join(t.after),
            )
            for t in figures.schedule
        ),
    )  # fmt: skip
