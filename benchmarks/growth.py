"""How the whole stage from mesh to virtual build grows with the number of plates, each plate as finely meshed.

python benchmarks/growth.py
"""

from __future__ import annotations

import time
from itertools import pairwise
from math import log

from smallest import pick

from shellgen.dome import mesh
from shellgen.dome.surfaces import plan
from shellgen.model import FoamSheet
from shellgen.pattern import flatten, marks, proof, seams
from shellgen.plates import hexes

THICKNESS = 10.0
ACROSS = pick(6.5, 3.0)  # mesh edges across a plate
DOME = pick(plan.Params(length=1200.0, width=1000.0, height=400.0), plan.Params())
SIZES = pick(
    (200.0, 140.0, 95.0, 69.0), (150.0, 130.0, 110.0)
)  # of the plates, mm: some 47 to 390 on this dome, as many as a preset may have


def measured(size: float) -> tuple[int, int, list[float]]:
    """Plates, triangles, and the seconds of processor of mesh, flat pieces and virtual build; size : of a plate, mm"""
    surface = plan.build(DOME)
    layout = hexes.build(surface, hexes.Params(size=size))
    clock = [time.process_time()]
    grid = mesh.build(surface, layout, mesh.Params(edge=size / ACROSS))
    lines = [k for k, line in enumerate(layout.lines) if line.kind == "plate"]
    cut = seams.cut(grid, layout, lines, mid_offset=-THICKNESS / 2)
    clock.append(time.process_time())
    shares = marks.along(cut, grid, -THICKNESS / 2, marks.Params())
    pattern = flatten.build(grid, cut, flatten.Params(), FoamSheet(THICKNESS), intervals=shares)
    clock.append(time.process_time())
    proof.build(grid, cut, pattern, proof.Params(), thickness=THICKNESS)
    clock.append(time.process_time())
    return len(layout.plates), len(grid.faces), [b - a for a, b in pairwise(clock)]


def main() -> None:
    print(
        "| plates | triangles | mesh, s | flat pieces, s | virtual build, s | all, s | power of growth |\n"
        + "|---" * 7
        + "|"
    )
    first: tuple[int, float] | None = None
    for size in SIZES:
        plates, count, parts = measured(size)
        spent = sum(parts)
        power = f"{log(spent / first[1]) / log(count / first[0]):.2f}" if first else ""
        shown = " | ".join(f"{part:.1f}" for part in parts)
        print(f"| {plates} | {count} | {shown} | {spent:.1f} | {power} |", flush=True)
        first = first or (count, spent)


if __name__ == "__main__":
    main()
