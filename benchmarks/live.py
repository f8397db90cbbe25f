"""From a save to what is seen: the preview's own times, without a browser.

    python benchmarks/live.py [presets/marsh-warden.yaml]

Each edit is written to a copy of the preset; the clock runs from the save to the message that carries the new shape,
to the one that carries every figure, and to the one that carries the exact ones. The goals are those of two free cores.
"""

from __future__ import annotations

import asyncio
import os
import shutil
import sys
import tempfile
import time
from pathlib import Path

from shellgen import preset
from shellgen.live import rewrite
from shellgen.live.follow import Event, Follower

EDITS = (  # what is changed, where, by what factor, goal in seconds for the first new shape
    ("spike height", ("spikes", 0, "height"), 1.1, 0.3),
    ("ring width", ("rings", "width"), 1.2, 0.3),
    ("spike base", ("spikes", 0, "base_diameter"), 0.95, 0.3),
    ("dome height", ("dome", "height"), 1.02, 1.0),
    ("dome length", ("dome", "length"), 1.01, 1.0),
)
FULL = 5.0


async def measure(path: Path) -> None:
    follower, stop = Follower(path), asyncio.Event()
    queue: asyncio.Queue[Event] = asyncio.Queue()
    follower.watching.add(queue)
    task = asyncio.create_task(follower.run(stop))
    start = time.perf_counter()
    first, quick, exact, _ = await seen(queue, start)
    print(f"{'cold':<14} shape {first:6.2f} s             quick {quick:6.2f} s            exact {exact:6.2f} s")
    for name, steps, factor, goal in EDITS:
        value = figure(path, steps) * factor
        flows = follower.workshop.rough, follower.workshop.exact
        for flow in flows:
            flow.seconds.clear()
        start = time.perf_counter()
        rewrite.put(path, steps, round(value, 1))
        first, quick, exact, sent = await seen(queue, start)
        told = f"{name:<14} shape {first:6.2f} s (goal {goal:3.1f})  quick {quick:6.2f} s (goal {FULL:.0f})"
        print(f"{told}  exact {exact:6.2f} s  {sent // 1024} kB")
        for word, flow in zip(("quick", "exact"), flows, strict=True):
            slowest = sorted(flow.seconds.items(), key=lambda item: -item[1])[:8]
            print(f"    {word}: " + ", ".join(f"{stage} {seconds:.2f}" for stage, seconds in slowest))
    stop.set()
    follower.halt()
    await task


async def seen(queue: asyncio.Queue[Event], start: float) -> tuple[float, float, float, int]:
    """Seconds to the first shape, to all figures, and to the exact ones; and characters of the first shape."""
    first, quick, sent = 0.0, 0.0, 0
    while True:
        name, told = await queue.get()
        if name == "shape" and not first:
            first, sent = time.perf_counter() - start, sum(map(len, told.values()))
        if name == "full":
            quick = quick or time.perf_counter() - start
            if not told["quick"]:
                return first, quick, time.perf_counter() - start, sent
        if name == "mistake":
            sys.exit(told["text"])


def figure(path: Path, steps: rewrite.Steps) -> float:
    """A length of the preset, mm."""
    value = preset.read(path)
    for step in steps:
        value = value[step] if isinstance(step, int) else getattr(getattr(value, "own", value), step)
    return value


if __name__ == "__main__":
    source = Path(sys.argv[1] if len(sys.argv) > 1 else "presets/marsh-warden.yaml")
    print(f"{source}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} before it began")
    with tempfile.TemporaryDirectory() as folder:
        asyncio.run(measure(Path(shutil.copy(source, folder))))
