"""How long many sizes of one design take, against as many warm builds one after the other.

python benchmarks/sizes.py [PRESET] [SIZES]

Held: 40 wearers take at most 40 warm single builds / 1.7 on 2 cores. The wearers stand around the design's own, from a
tenth smaller to a tenth taller, and the single builds are of those same sizes: a larger dome is more work. Seconds by
the clock mean something on a computer that does nothing else; seconds of work (of the processor) hardly depend on what
runs beside.
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from joblib import cpu_count, parallel_config
from joblib.externals.loky import get_reusable_executor
from smallest import HERE, pick

from shellgen import preset
from shellgen.core.flow import Flow
from shellgen.pack import contents
from shellgen.pipeline import shell_of
from shellgen.preset import Preset
from shellgen.record import record
from shellgen.sizes import batch
from shellgen.sizes.grade import design, grade
from shellgen.sizes.wearers import Wearer
from shellgen.wear import wearer

MANY = 40
SPREAD = 0.1
PRESET = pick(HERE.parent / "presets" / "puddle-hatchling.yaml", HERE / "small.yaml")


def work(whose: int) -> float:
    used = resource.getrusage(whose)
    return used.ru_utime + used.ru_stime


def clocks(whose: int) -> tuple[float, float]:
    return time.perf_counter(), work(whose)


def bare(of: Preset) -> Any:
    """The record of a shell, without files."""
    return SimpleNamespace(record=record(shell_of(of, Flow())), files={})


make = pick(contents.build, bare)


def main() -> None:
    path = Path(sys.argv[1]) if len(sys.argv) > 1 else PRESET
    name = path.stem
    count = int(sys.argv[2]) if len(sys.argv) > 2 else pick(2, 1)
    of = preset.read(path)
    cores = pick(cpu_count(), 1)
    stature = wearer.body(of.wearer).stature
    spread = [SPREAD * (2 * n / (count - 1) - 1) for n in range(count)] if count > 1 else [0.0]
    people = [Wearer(f"w{n}", replace(of.wearer, stature=stature * (1 + off))) for n, off in enumerate(spread)]
    model = design(of)
    make(of)
    start = clocks(resource.RUSAGE_SELF)
    for one in people:
        make(grade(model, one.name, one.measures))
    alone = [b - a for a, b in zip(start, clocks(resource.RUSAGE_SELF), strict=True)]
    print(f"{name}, {count} sizes in turn: {alone[0]:.1f} s by the clock, {alone[1]:.1f} s of work", flush=True)
    own, start = work(resource.RUSAGE_SELF), clocks(resource.RUSAGE_CHILDREN)
    with tempfile.TemporaryDirectory() as folder, parallel_config("loky", n_jobs=cores):
        made = batch.build(of, people, Path(folder), make=make)
        get_reusable_executor().shutdown(wait=True)
    whole, children = (b - a for a, b in zip(start, clocks(resource.RUSAGE_CHILDREN), strict=True))
    own = work(resource.RUSAGE_SELF) - own
    print("\n".join(f"{size.name}: {size.state} {size.trouble}" for size in made))
    print(
        f"{count} sizes on {cores} cores: {whole:.1f} s by the clock, {own:.1f} + {children:.1f} s of work here + there"
    )
    print(f"gain by the clock: {alone[0] / whole:.2f}; load of the computer {os.getloadavg()[0]:.1f}")
    each = children / count
    many = own + MANY * each / cores
    gain = MANY * alone[1] / count / many
    print(f"{MANY} sizes by the work done, on {cores} idle cores: {many:.0f} s, a gain of {gain:.2f}")


if __name__ == "__main__":
    main()
