"""Time of 60 spikes of 12 sizes with masters and moulds, meshes only, and of one STEP file.

Run: python benchmarks/spikes.py
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
from smallest import SMALLEST, pick

from shellgen.dome.surfaces import plan
from shellgen.model import Spike, SpikeShape
from shellgen.spikes import casting, fit, place, solids, step
from shellgen.spikes.making import Params

GOAL = 5.0
"""s, on two cores, for everything but STEP."""


def sixty() -> tuple[Spike, ...]:
    """Sixty places in five rounds of twelve, one size to each place of a round; mirror images share theirs."""
    surface = plan.build(plan.Params())
    profiles = ("cone", "horn", "ogive", "stud", "ridged", "cone")
    spikes = []
    for k in range(60):
        size, turn = k % 12, 2 * np.pi * (k + 0.5) / 60
        uv = (0.3 + 0.12 * (k % 5)) * np.array([np.cos(turn), np.sin(turn)])
        profile = profiles[size % 6]
        shape = SpikeShape(
            profile, 26.0 + size, 26.0 + size, 40.0 + size, 5.0,
            bend=0.8 if profile == "horn" else 0.0,
            ridges=8 if profile == "ridged" else 0, ridge_depth=0.14 if profile == "ridged" else 0.0,
        )  # fmt: skip
        empty = np.zeros((0, 3))
        frame = place.frame(surface, uv, lean=0.1, towards="rim")
        spikes.append(Spike(f"s{k}", 0, uv, frame, 0.1, empty, empty[:, :2], "", shape))
    return tuple(spikes)


def main() -> None:
    surface, spikes, spent = plan.build(plan.Params()), sixty()[: pick(60, 6)], {}

    def timed(name, make):  # type: ignore[no-untyped-def]
        start = time.process_time(), time.perf_counter()
        made = make()
        spent[name] = time.process_time() - start[0], time.perf_counter() - start[1]
        return made

    standing = timed("fit", lambda: tuple(s for s in fit.fitted(surface, spikes) if s is not None))
    named = timed("masters named", lambda: fit.share_masters(surface, standing, tolerance=0.3))
    masters = timed("solids", lambda: solids.masters(surface, named))
    cast = timed("prints and moulds", lambda: casting.build(masters, replace(Params())))
    total = sum(cpu for cpu, _ in spent.values())
    if not SMALLEST:
        timed("one STEP (CadQuery's import included)", lambda: step.write(masters[0]))
    print(
        f"{len(named)} spikes, {len({s.shape for s in named})} sizes, {len(masters)} masters, {len(cast.prints)} parts"
    )
    for name, (cpu, wall) in spent.items():
        print(f"{name:40s} {cpu:7.2f} s of processor {wall:7.2f} s of clock")
    print(f"{'all but STEP':40s} {total:7.2f} s of processor, goal {GOAL:g} s")


if __name__ == "__main__":
    main()
