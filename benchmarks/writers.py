"""What do our own ways through reportlab and ezdxf bring?

    python benchmarks/writers.py [--pieces 6] [--rounds 3]

Made-up pieces are written as PDF by the library as it is, with compressed streams as bytes, and with memoised
compression too; and as DXF by the library's own entities and by ours. Processor time, the least of some rounds in turn;
the first round of each way stands apart, since nothing is memoised yet.
"""

from __future__ import annotations

import argparse
import io
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from unittest.mock import patch

import ezdxf
import numpy as np
from reportlab import rl_config
from smallest import pick

from shellgen.canvas import Drawing, Path, Text, tiling
from shellgen.export import _ink, dxf, pdf


def piece(seed: int) -> Drawing:
    """A wavy outline with 300 marks and as many numbers."""
    rng = np.random.default_rng(seed)
    turn = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    radius = 60 + 3 * np.cos(7 * turn + rng.uniform(0, 6))
    outline = 70 + radius[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    items: list[Path | Text] = [Path(outline, "cut", closed=True)]
    for place in rng.uniform(35, 105, (300, 2)):
        items.append(Path(place + rng.uniform(-3, 3, (24, 2)), "score"))
        items.append(Text(f"{rng.integers(100)}", (float(place[0]), float(place[1])), 3.5))
    return Drawing(f"piece-{seed}", 140.0, 140.0, tuple(items))


@contextmanager
def bytes_alone() -> Iterator[None]:
    """Compressed streams as bytes, by the library's setting."""
    with patch.object(rl_config, "useA85", 0):
        yield


def by_library(drawing: Drawing) -> bytes:
    """DXF of the same lines by the library's own entities."""
    document = ezdxf.new("R2010", units=ezdxf.units.MM)
    space = document.modelspace()
    for layer, items in _ink.in_layers(drawing):
        dxf._declare(document, layer)
        for item in items:
            closed = isinstance(item, Path) and item.closed
            for line in [item.points] if isinstance(item, Path) else _ink.lines(item):
                space.add_lwpolyline(line.tolist(), close=closed, dxfattribs={"layer": layer})
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode()


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--pieces", type=int, default=pick(6, 1))
    arguments.add_argument("--rounds", type=int, default=pick(3, 1))
    asked = arguments.parse_args()
    drawings = [piece(k) for k in range(asked.pieces)]
    plan = tiling.arrange(drawings)
    with patch.object(pdf, "compact", nullcontext):
        pdf.write_pages(plan)  # a drawing as operators is memoised apart
    ways: dict[str, Callable[[], int]] = {}
    for name, how in (("as the library does", nullcontext), ("streams as bytes", bytes_alone), ("ours", pdf.compact)):

        def paper(how: Callable[[], object] = how) -> int:
            with patch.object(pdf, "compact", how):
                return len(pdf.write_pages(plan, title="made up"))

        ways[f"PDF, {name}"] = paper
    ways["DXF, as the library does"] = lambda: sum(len(by_library(drawing)) for drawing in drawings)
    ways["DXF, ours"] = lambda: sum(len(dxf.write(drawing)) for drawing in drawings)
    taken: dict[str, list[float]] = {name: [] for name in ways}
    size: dict[str, int] = {}
    for _ in range(1 + asked.rounds):
        for name, way in ways.items():
            begin = time.process_time()
            size[name] = way()
            taken[name].append(time.process_time() - begin)
    print(f"{'':26} {'first':>8} {'again':>8} {'kB':>7}")
    for name, times in taken.items():
        print(f"{name:26} {times[0]:6.3f} s {min(times[1:]):6.3f} s {size[name] / 1000:7.0f}")


if __name__ == "__main__":
    main()
