"""Packs shapes onto a strip in a process of its own: spyrrow cannot be stopped but by the clock, a process can.

With one worker and a seed, spyrrow's reports come in the same order on every run; only how far it gets depends on the
clock. So the reports are counted, and the best layout after a given number of them is taken.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from typing import Any

import spyrrow

PATIENCE = 10**6  # s, more than anyone waits: the count of reports ends the search
POLL = 0.004  # s
FEW = 24
"""Shapes below which a report of a stuck search counts for more, since few shapes have few layouts (chosen)."""
STUCK, KEPT = 5, 20
"""Reports without success after which the layout before counts as a stage of its own, and how many of these are kept:
what shakes a search loose lets it shrink on, but may leave a layout that gives less when pressed (chosen)."""
OVERLAPPING = (spyrrow.ReportType.ExplImproving, spyrrow.ReportType.ExplInfeas)


def main() -> None:
    """Reads a task from standard input, writes layouts [length, [[shape, degrees, x, y], ...]] to standard output, as
    JSON: what is worth pressing, the shortest without overlap last."""
    task: dict[str, Any] = json.load(sys.stdin)
    items = [
        spyrrow.Item(str(k), [tuple(p) for p in part["shape"]], 1, part["angles"])
        for k, part in enumerate(task["parts"])
    ]
    instance = spyrrow.StripPackingInstance("", task["height"], items)
    config = spyrrow.StripPackingConfig(
        early_termination=True,
        total_computation_time=None,
        exploration_time=PATIENCE,
        compression_time=PATIENCE,
        num_workers=1,
        seed=task["seed"],
    )
    queue, ended = spyrrow.ProgressQueue(), threading.Event()

    def solve() -> None:
        try:
            instance.solve(config, progress=queue)
        finally:
            ended.set()

    threading.Thread(target=solve, daemon=True).start()
    found = _followed(queue, ended, task["work"], task["enough"], max(1.0, FEW / len(items)))
    if found:
        placed = [sorted((int(p.id), p.rotation, *p.translation) for p in layout.placed_items) for layout in found]
        sys.stdout.write(json.dumps([(layout.width, each) for layout, each in zip(found, placed, strict=True)]))
        sys.stdout.flush()
    os._exit(0)


def _followed(
    queue: spyrrow.ProgressQueue, ended: threading.Event, work: float, enough: float, weight: float
) -> list[spyrrow.StripPackingSolution]:
    """The shortest layout before the work is done, or the first that is no longer than `enough`; if the search is stuck
    then, before it the one being worked at, whose shapes may overlap, and before that the last stages. Nothing if there
    was no layout.

    Every report counts for as many as have come since the last layout without overlap, the first for one and the
    others times `weight`: a search that is stuck reports seldom, and soon has done its work.
    """
    best, since, stages, done = None, 0, list[spyrrow.StripPackingSolution](), False
    while not done:
        done = ended.is_set()  # asked first, so that nothing reported before the end is missed
        for kind, layout in queue.drain():
            work -= 1 + weight * since
            since += 1
            if kind not in OVERLAPPING:
                stages += [best] if best is not None and since > STUCK else []
                since = 0
                best = layout if best is None or layout.width < best.width else best
            if best is not None and (work <= 0 or best.width <= enough):
                return [*stages[-KEPT:], layout, best] if since > STUCK else [best]
        time.sleep(POLL)
    return [] if best is None else [*stages[-KEPT:], best]


if __name__ == "__main__":
    main()
