"""From a save to what is seen: the preview's own times, without a browser.

    python benchmarks/live.py [presets/marsh-warden.yaml]

Each edit is written to a copy of the preset; the clock runs from the save to the message that carries the new shape,
and to the one that carries every figure. The goals are those of two free cores.
"""

from __future__ import annotations

import asyncio
import os
import shutil
import sys
import tempfile
import time
from concurrent.futures import Executor
from functools import partial
from pathlib import Path

from smallest import SMALLEST, demos

from shellgen import preset
from shellgen.core import worker
from shellgen.live import rewrite, work
from shellgen.live.follow import Event, Follower

Edit = tuple[str, rewrite.Steps | str, float | tuple[str, ...], float]
EDITS: tuple[Edit, ...] = (  # what is changed, where, by what factor or to which words, goal in s for the first shape
    ("spike height", ("spikes", 0, "height"), 1.1, 0.3),
    ("ring width", ("rings", "width"), 1.2, 0.3),
    ("spike base", ("spikes", 0, "base_diameter"), 0.95, 0.3),
    ("paint", "  plates: ", ("moss", "clay"), 0.3),
    ("dome height", ("dome", "height"), 1.02, 1.0),
    ("dome length", ("dome", "length"), 1.01, 1.0),
)
FULL = 5.0
if SMALLEST:
    EDITS = EDITS[:1]


async def measure(path: Path, worker_: Executor | None) -> None:
    follower, stop = Follower(path, worker_), asyncio.Event()
    queue: asyncio.Queue[Event] = asyncio.Queue()
    follower.watching.add(queue)
    task = asyncio.create_task(follower.run(stop))
    first, exact, _ = await seen(queue, Clock())
    print(f"{'cold':<14} shape {first}             every figure {exact}", flush=True)
    for name, steps, change, goal in EDITS:
        write = partial(repaint, path, steps, change) if isinstance(steps, str) else partial(scale, path, steps, change)
        start = Clock()
        write()
        first, exact, sent = await seen(queue, start)
        print(
            f"{name:<14} shape {first} (goal {goal:3.1f})  every figure {exact} (goal {FULL:.0f})  {sent // 1024} kB",
            flush=True,
        )
    stop.set()
    follower.halt()
    await task


class Clock:
    """Seconds since it was made: on the wall, and of this process alone, which a busy machine tells more truly."""

    def __init__(self) -> None:
        self.start = time.perf_counter(), time.process_time()

    def read(self) -> str:
        wall, own = time.perf_counter() - self.start[0], time.process_time() - self.start[1]
        return f"{wall:6.2f} s ({own:5.2f} of work)"


async def seen(queue: asyncio.Queue[Event], clock: Clock) -> tuple[str, str, int]:
    """Time to the first shape and to all figures; and characters of the first shape."""
    first, sent = "", 0
    while True:
        name, told = await queue.get()
        if name == "shape" and not first:
            first, sent = clock.read(), sum(map(len, told.values()))
        if name == "full":
            return first, clock.read(), sent
        if name == "mistake":
            sys.exit(told["text"])


def scale(path: Path, steps: rewrite.Steps, factor: float) -> None:
    rewrite.put(path, steps, round(figure(path, steps) * factor, 1))


def repaint(path: Path, line: str, words: tuple[str, ...]) -> None:
    """Puts the first of the words that does not stand there yet behind `line` of the paint."""
    before, mark, paint = path.read_text().partition("\npaint:\n")
    start = paint.index(line) + len(line)
    old = paint[start:].split()[0]
    new = next(word for word in words if word != old)
    path.write_text(before + mark + paint[:start] + new + paint[start + len(old) :])


def figure(path: Path, steps: rewrite.Steps) -> float:
    """A length of the preset, mm."""
    value = preset.read(path)
    for step in steps:
        value = value[step] if isinstance(step, int) else getattr(getattr(value, "own", value), step)
    return value


if __name__ == "__main__":
    usual = next((path for path in demos() if path.stem == "marsh-warden"), demos()[0])
    source = Path(sys.argv[1] if len(sys.argv) > 1 else usual)
    print(f"{source}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} before it began")
    with tempfile.TemporaryDirectory() as folder, worker.started(work.__name__) as other:
        asyncio.run(measure(Path(shutil.copy(source, folder)), other))
