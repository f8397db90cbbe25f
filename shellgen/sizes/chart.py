"""The size chart: one line for each wearer, with what differs between sizes and what each needs."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from shellgen.canvas import Table
from shellgen.core import onefile
from shellgen.export import csv
from shellgen.sizes.batch import Size


def chart(sizes: Sequence[Size]) -> Table:
    """Fields that differ between sizes or from the design, then figures of each pack."""
    design = {field: before for size in sizes for field, before, _ in size.changed}
    figures = [dict(_figures(size)) for size in sizes]
    columns = tuple(dict.fromkeys(name for row in figures for name in row))
    rows = []
    for size, row in zip(sizes, figures, strict=True):
        new = {field: after for field, _, after in size.changed}
        known = size.record is not None or size.changed
        graded = [new.get(field, before) if known else "" for field, before in design.items()]
        rows.append((size.name, *graded, *(row.get(name, "") for name in columns)))
    first = ("design", *design.values(), *("" for _ in columns))
    return Table("size-chart", ("wearer", *design, *columns), (first, *rows))


def _figures(size: Size) -> Iterator[tuple[str, Any]]:
    if size.record is None:
        return
    of = size.record
    yield "plates", len(of.plates)
    yield "pieces", len(of.pieces)
    yield "seams (m)", round(sum(max(seam.length_mm) for seam in of.seams) / 1000, 2)
    yield "sheets", len(of.sheets)
    yield "spikes", len(of.spikes)
    yield "masters", len({spike.stl for spike in of.spikes})
    yield "mass (g)", round(of.mass_g)
    cost = of.cost
    if cost.total is not None:
        yield f"cost ({cost.currency})" if cost.currency else "cost", cost.total
    levels = [finding.level for finding in of.findings]
    yield "faults", levels.count("fault")
    yield "cautions", levels.count("caution")


def write(folder: Path, sizes: Sequence[Size], *, design: str) -> None:
    """`size-chart.csv` and `sizes.json` in the folder of all sizes. FitError if they cannot be written."""
    table = chart(sizes)
    record = {
        "design": design,
        "sizes": [
            {
                "wearer": size.name,
                "built": size.state != "failed",
                "trouble": size.trouble,
                "changed": [{"field": field, "design": old, "size": new} for field, old, new in size.changed],
                "figures": dict(_figures(size)),
            }
            for size in sizes
        ],
    }
    text = json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    onefile.write(folder / f"{table.name}.csv", csv.write(table))
    onefile.write(folder / "sizes.json", text.encode())
