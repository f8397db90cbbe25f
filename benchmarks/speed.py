"""How fast is it all? One table: packs built cold and rebuilt, each stage, memory, growth, and two references.

    pip install libigl spyrrow
    python benchmarks/speed.py [presets/marsh-warden.yaml ...]

A pack is built in a fresh process, with the second process that `shellgen build` starts too, and then again after each
of some edits; memory is the most of both processes together. Growth is the power of the size with which the work rises.
The references are libigl's rigid map, run until it settles, and spyrrow, whose time ours does not exceed; `flattening`
and `nesting` beside this file go into those further. Linux only: memory is read from /proc.
"""

from __future__ import annotations

import json
import math
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import flattening
import growth
import nesting
import spikes
from smallest import FLAG, SMALLEST, demos, pick

from shellgen import preset
from shellgen.core import worker
from shellgen.core.flow import Flow
from shellgen.dome import mesh
from shellgen.dome.surfaces import plan
from shellgen.pack.contents import build
from shellgen.pipeline import shell_of
from shellgen.plates import turtle
from shellgen.preset import Preset
from shellgen.spikes import casting, fit, solids
from shellgen.spikes.making import Params

COLD, MEMORY, WARM = 20.0, 1000.0, 2.0
"""Goals for a whole pack: s, MB, and s after an edit."""
WORTH = 0.05
"""s: quicker stages are left out."""
NEST = "shapes0"


class Row(NamedTuple):
    """value : s unless it says otherwise; beside : the goal or the reference, and how far it is kept"""

    what: str
    value: str
    beside: str = ""


def edits(of: Preset) -> Iterator[tuple[str, Preset]]:
    if SMALLEST:
        return
    first, *others = of.spikes
    yield "its first spikes a tenth higher", replace(of, spikes=(replace(first, height=1.1 * first.height), *others))
    yield "foam strip a tenth thicker", replace(of, rings=replace(of.rings, thickness=1.1 * of.rings.thickness))
    yield "all as it was", of


def one(path: Path) -> None:
    """Prints as JSON: s of the cold build, and then of each edit, s of the cold build's stages, and MB."""
    content, clocks = preset.read(path), dict[str, float]()
    with worker.started(build.__module__) as other:
        flow = Flow(worker=other)
        for what, asked in (("cold", content), *edits(content)):
            start = time.perf_counter()
            flow.seconds.clear()
            pick(build, shell_of)(asked, flow=flow)
            clocks[what] = time.perf_counter() - start
            if what == "cold":
                stages, memory = dict(flow.seconds), _peak()
    print(json.dumps([clocks, stages, memory]))


def _peak() -> float:
    """MB: the most that this process and its children have held, each at its own worst time."""
    children = Path("/proc/self/task").glob("*/children")
    pids = ["self", *" ".join(path.read_text() for path in children).split()]
    told = "\n".join(Path(f"/proc/{pid}/status").read_text() for pid in pids).splitlines()
    return sum(int(line.split()[1]) for line in told if line.startswith("VmHWM")) / 1024


def packs(paths: list[Path]) -> Iterator[Row]:
    for path in paths:
        words = [sys.executable, __file__, "--one", path, *pick([], [FLAG])]
        run = subprocess.run(words, capture_output=True, text=True, check=True)
        clocks, stages, memory = json.loads(run.stdout)
        cold = clocks.pop("cold")
        yield Row(f"**{path.stem}, cold**", f"{cold:.1f}", f"goal {COLD:g}: {cold / COLD:.2f}")
        yield Row("memory, both processes", f"{memory:.0f} MB", f"goal {MEMORY:g}: {memory / MEMORY:.2f}")
        yield from (Row(f"rebuilt: {what}", f"{s:.2f}", f"goal {WARM:g}: {s / WARM:.2f}") for what, s in clocks.items())
        for stage, seconds in sorted(stages.items(), key=lambda pair: -pair[1]):
            if seconds > WORTH:
                yield Row(f"stage: {stage}", f"{seconds:.2f}", f"{seconds / cold:.0%} of the clock")


def powers() -> Iterator[Row]:
    yield _power("plates, 47 to 180 at one fineness", [growth.measured(size)[1:] for size in growth.SIZES[:3:2]])
    yield _power("spikes, 15 to 60", [_standing(number) for number in pick((15, 60), (2, 6))])
    yield _power("triangles of one dome's mesh", [_meshed(edge) for edge in pick((12.0, 6.0), (48.0, 36.0))])


def _power(what: str, measured: list[tuple[int, list[float]]]) -> Row:
    (few, short), (many, long) = ((size, sum(parts)) for size, parts in measured)
    power = math.log(long / short) / math.log(many / few)
    return Row(f"growth with {what}", f"{short:.2f} to {long:.2f}", f"power {power:.2f}")


def _standing(number: int) -> tuple[int, list[float]]:
    surface, some, start = plan.build(plan.Params()), spikes.sixty()[:: 60 // number], time.process_time()
    stands = tuple(spike for spike in fit.fitted(surface, some) if spike is not None)
    casting.build(solids.masters(surface, fit.share_masters(surface, stands, tolerance=0.3)), Params())
    return number, [time.process_time() - start]


def _meshed(edge: float) -> tuple[int, list[float]]:
    surface = plan.build(plan.Params())
    layout, start = turtle.build(surface, turtle.Params()), time.process_time()
    grid = mesh.build(surface, layout, mesh.Params(edge=edge))
    return len(grid.faces), [time.process_time() - start]


def references() -> Iterator[Row]:
    for name, (points, faces) in flattening.shapes().items():
        rounds = flattening.settled(points, faces)
        ours = flattening.best(lambda p=points, f=faces: flattening.lay(p, f))  # type: ignore[misc]
        theirs = flattening.best(lambda p=points, f=faces, n=rounds: flattening.rigid(p, f, n))  # type: ignore[misc]
        yield Row(f"flattening: {name}", f"{ours:.2f}", f"libigl {theirs:.2f}: {ours / theirs:.2f}")
    name, shapes, height, turns, area, _ = next(row for row in nesting.instances([]) if row[0].startswith(NEST))
    budget, took, other, found = nesting.in_time(shapes, height, turns, 1, pick(2, 1))
    dense = area / height
    yield Row(
        f"nesting: {name}, {took:.1f} s",
        f"{dense / found:.1%} full",
        f"spyrrow in {budget:.1f} s {dense / other:.1%}: {other / found:.3f}",
    )


def main() -> None:
    given = [Path(word) for word in sys.argv[1:]] or demos()
    print("| what | s | beside |\n|---|---|---|")
    for rows in (packs(given), powers(), references()):
        for row in rows:
            print(f"| {' | '.join(row)} |", flush=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        one(Path(sys.argv[2]))
    else:
        main()
