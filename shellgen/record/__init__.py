"""The machine-readable record of a shell, as it stands in `shell.json`. Every page takes its figures from here."""

from __future__ import annotations

from functools import lru_cache

import shellgen
from shellgen.pipeline.shell import Shell
from shellgen.record import buying, dome, findings, handwork, paint, pieces, plan, spikes, stock, wear, wearer
from shellgen.record.rounding import rounded
from shellgen.record.whole import Record

__all__ = ["Record", "record"]


@lru_cache(maxsize=1)  # guide, page and lists ask for that of one shell
def record(shell: Shell) -> Record:
    return Record(
        name=shell.name,
        foam_thickness_mm=rounded(shell.thickness),
        dome=dome.dome(shell),
        plates=pieces.plates(shell),
        pieces=pieces.pieces(shell),
        proof=dome.proof(shell),
        seams=pieces.seams(shell),
        spikes=spikes.spikes(shell),
        prints=spikes.prints(shell),
        clay_cm3=spikes.clay(shell),
        ring_stock=stock.stock(shell.ring_stock),
        edging=stock.edging(shell),
        edging_stock=stock.stock(shell.edging_stock),
        materials=buying.materials(shell.buying),
        cost=buying.CostEntry(shell.buying.currency, shell.buying.total),
        mass_g=rounded(shell.materials.mass_g, 1),
        mass_uncertainty_g=rounded(shell.materials.mass_uncertainty_g, 1),
        mass_parts_g={name: rounded(mass, 1) for name, mass in shell.materials.mass_parts},
        centre_of_mass_mm=tuple(rounded(x, 1) for x in shell.materials.centre),
        sheets=stock.sheets(shell),
        sheets_at_least=int(shell.nest.bound),
        sheets_cost=shell.nest.cost,
        schedule=plan.schedule(shell.plan),
        plan=plan.plan(shell.plan),
        joins=handwork.joined(shell),
        tape=handwork.tape(shell),
        heat=tuple(handwork.heat(shell, k) for k in range(len(shell.cut.pieces))),
        paint=paint.paint(shell.paint),
        wearer=wearer.wearer(shell),
        wear=wear.wear(shell.wear, private=shell.body is not None and not shell.measures_shared),
        findings=findings.findings(shell.findings),
        program_version=shellgen.__version__,
    )
