"""The machine-readable record of a shell, as in `shell.json`. Every page takes its figures from it."""

from __future__ import annotations

from functools import lru_cache

import shellgen
from shellgen.pipeline.shell import Shell
from shellgen.record import buying, dome, findings, forming, handwork, paint, pieces, plan, spikes, stock, wear, wearer
from shellgen.record.rounding import rounded
from shellgen.record.whole import Record

__all__ = ["Record", "record"]


@lru_cache(maxsize=1)  # guide, page and lists use the record of one shell
def record(shell: Shell) -> Record:
    return Record(
        name=shell.name,
        foam_thickness_mm=rounded(shell.foam.thickness),
        dome=dome.dome(shell),
        plates=pieces.plates(shell),
        pieces=pieces.pieces(shell),
        proof=dome.proof(shell),
        seams=pieces.seams(shell),
        spikes=spikes.spikes(shell),
        prints=spikes.prints(shell),
        clay_cm3=spikes.clay(shell),
        ring_stock=stock.stock(shell.trim.ring_stock),
        edging=stock.edging(shell),
        edging_stock=stock.stock(shell.trim.edging_stock),
        materials=buying.materials(shell.work.buying),
        cost=buying.CostEntry(shell.work.buying.currency, shell.work.buying.total),
        mass_g=rounded(shell.work.materials.mass_g, 1),
        mass_uncertainty_g=rounded(shell.work.materials.mass_uncertainty_g, 1),
        mass_parts_g={name: rounded(mass, 1) for name, mass in shell.work.materials.mass_parts},
        centre_of_mass_mm=tuple(rounded(x, 1) for x in shell.work.materials.centre),
        sheets=stock.sheets(shell),
        sheets_at_least=int(shell.work.nest.bound),
        sheets_cost=shell.work.nest.cost,
        schedule=plan.schedule(shell.work.plan),
        plan=plan.plan(shell.work.plan),
        joins=handwork.joined(shell),
        tape=handwork.tape(shell),
        heat=tuple(handwork.heat(shell, k) for k in range(len(shell.foam.cut.pieces))),
        forming=forming.forming(shell),
        paint=paint.paint(shell.paint),
        wearer=wearer.wearer(shell),
        wear=wear.wear(shell.worn.wear, private=shell.worn.body is not None and not shell.worn.share),
        findings=findings.findings(shell.findings),
        program_version=shellgen.__version__,
    )
