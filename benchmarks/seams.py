"""Seam plans beside each other: total seam on the same dome under the same limit, and how far the search falls short.

python benchmarks/seams.py [walks of the long search]
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from functools import partial

import numpy as np
from smallest import demos, pick

from shellgen import preset
from shellgen.core import registry
from shellgen.core.flow import Flow
from shellgen.dome import mesh
from shellgen.fields.params import Chosen
from shellgen.model import Cut
from shellgen.pattern import flatten, seams
from shellgen.pattern.plans._problem import ChoiceProblem
from shellgen.pattern.plans.least import Params, choose
from shellgen.pipeline import dome, foam
from shellgen.workshop import nest

LONG = pick(30, 1)
PLANS = pick(("gores", "petals", "least", "plates"), ("gores", "plates"))
LIMIT = 0.03  # of stretch, the same for all; on the usual sheets, since plans of one piece need room


def cut_by(chosen: preset.Preset, plan: str) -> tuple[Cut, float, float]:
    """The cut of one plan, its largest stretch alone, and the seconds of processor it took."""
    of = registry.load("shellgen.pattern.plans", plan)
    limits = replace(chosen.seams.common, stretch_limit=LIMIT)
    made = replace(
        chosen, seams=Chosen(plan, of.Params(), limits), shape=replace(chosen.shape, rounds=0), nest=nest.Params()
    )
    flow = Flow()
    start = time.process_time()
    made_of = foam.foam(made, flow, dome.ground(made, flow)).foam
    stretch = max(max(f.stretch[:, 1].max() - 1, 1 - f.stretch[:, 0].min()) for f in made_of.pattern.flats)
    return made_of.cut, float(stretch), time.process_time() - start


def total(cut: Cut) -> float:
    return sum(seam.design_length for seam in cut.seams) / 1000


def compare() -> None:
    print("| dome | plan | pieces | seams and darts | metres | over the gores | largest stretch |\n" + "|---" * 7 + "|")
    for path in demos():
        name, chosen = path.stem, preset.read(path)
        first = None
        for plan in PLANS:
            cut, stretch, _ = cut_by(chosen, plan)
            first = first or total(cut)
            counts = f"{len(cut.pieces)} | {len(cut.seams)} | {total(cut):.2f} | {total(cut) / first:.2f}"
            print(f"| {name} | {plan} | {counts} | {stretch:.1%} |", flush=True)


def against_a_long_search(walks: int) -> None:
    """The plan along plate lines as it comes, beside the best of a search many times as long."""
    print(f"\n| dome | as it comes, m | s | best of {walks} walks, m | s | farther by |\n|---|---|---|---|---|---|")
    for path in demos():
        name, chosen = path.stem, preset.read(path)
        surface = registry.load("shellgen.dome.surfaces", chosen.dome.name).build(chosen.dome.own)
        layout = registry.load("shellgen.plates", chosen.plates.name).build(surface, chosen.plates.own)
        grid = mesh.build(surface, layout, chosen.mesh)
        coarse = mesh.build(surface, layout, replace(chosen.mesh, edge=2.5 * chosen.mesh.edge))
        offset = dome.foam_of(chosen).mid_offset
        lay = partial(flatten.alone, params=chosen.flatten)
        problem = ChoiceProblem(layout, grid, coarse, offset, chosen.seams.common, lay)
        rows = []
        for count in (pick(Params().walks, 1), walks):
            start = time.process_time()
            lines = choose(problem, Params(walks=count))
            rows += [total(seams.cut(grid, layout, lines, mid_offset=offset)), time.process_time() - start]
        best = min(rows[0], rows[2])
        print(
            f"| {name} | {rows[0]:.2f} | {rows[1]:.0f} | {best:.2f} | {rows[3]:.0f} | {rows[0] / best - 1:.0%} |",
            flush=True,
        )


if __name__ == "__main__":
    np.seterr(all="raise", under="ignore")
    compare()
    against_a_long_search(int(sys.argv[1]) if len(sys.argv) > 1 else LONG)
