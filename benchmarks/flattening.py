"""Flattening measured: against libigl's as-rigid-as-possible map, against its own growth, and on a whole shell.

Run: python benchmarks/flattening.py. Prints tables in markdown. Set OMP_NUM_THREADS=1 for figures of one core.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

import igl
import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

import discs
from smallest import pick

from shellgen.dome import mesh
from shellgen.dome.surfaces import plan
from shellgen.geom.distortion import singular_values
from shellgen.geom.flattening import Shape, flatten_each
from shellgen.geom.flattening import flatten as lay
from shellgen.model import FoamSheet
from shellgen.pattern import flatten, marks, seams
from shellgen.plates import turtle

REPEATS = pick(5, 1)
FINE = pick(26, 5)  # rings of triangles in a piece
DOUBLINGS = pick(9, 4)  # of the rounds of the rigid map, from 5


def best(run: Callable[[], object]) -> float:
    """Seconds of processor of the fastest of some runs, which others on the machine disturb least."""
    times = []
    for _ in range(REPEATS):
        start = time.process_time()
        run()
        times.append(time.process_time() - start)
    return min(times)


def table(head: tuple[str, ...], rows: list[tuple[object, ...]]) -> None:
    print("| " + " | ".join(head) + " |\n|" + "---|" * len(head))
    for row in rows:
        print("| " + " | ".join(f"{cell:.3g}" if isinstance(cell, float) else str(cell) for cell in row) + " |")
    print()


def rigid(points: NDArray, faces: NDArray, steps: int) -> NDArray:
    """libigl: harmonic start on a circle, then `steps` rounds of as-rigid-as-possible (Liu et al. 2008)."""
    faces = faces.astype(np.int64)
    loop = igl.boundary_loop(faces)
    start = igl.harmonic(points, faces, loop, igl.map_vertices_to_circle(points, loop), 1)
    data = igl.ARAPData()
    data.max_iter = steps
    igl.arap_precomputation(points, faces, 2, np.array([0], dtype=np.int32), data)
    return igl.arap_solve(start[:1].copy(), data, start)


def worst(points: NDArray, faces: NDArray, flat: NDArray) -> float:
    """Largest of stretch and compression, as a log, at the size that makes both alike."""
    values = np.log(singular_values(points, faces, flat))
    return float(values.max() - values.min()) / 2


def as_laid(points: NDArray, faces: NDArray, flat: NDArray) -> float:
    return float(np.abs(np.log(singular_values(points, faces, flat))).max())


def shapes() -> dict[str, tuple[NDArray, NDArray]]:
    """Pieces of about 4,000 triangles."""
    cap = discs.cap(FINE, np.radians(45))
    lonlat, faces = discs.gore(8, 2 * FINE + 3, 0.0, 1.45)
    bowl = discs.cap(FINE, np.radians(60), 1.0)[0] * np.array([280, 200, 180])
    saddle, grid = discs.disc(FINE)
    saddle = 200 * np.column_stack([saddle, 0.35 * (saddle[:, 0] ** 2 - saddle[:, 1] ** 2)])
    return {
        "cap of 45 degrees": cap,
        "gore, one of 8": (discs.on_sphere(lonlat, 300.0), faces),
        "oval crown": (bowl, cap[1]),
        "saddle": (saddle, grid),
    }


def settled(points: NDArray, faces: NDArray) -> int:
    """Rounds after which the rigid map's largest stretch stays within a hundredth of what it comes to."""
    rounds = [5 * 2**k for k in range(DOUBLINGS)]
    found = [as_laid(points, faces, rigid(points, faces, count)) for count in rounds]
    off = [k for k, value in enumerate(found) if abs(value / found[-1] - 1) > 0.01]
    return rounds[max(off, default=-1) + 1]


def against_rigid() -> None:
    rows = []
    for name, (points, faces) in shapes().items():
        ours = float(lay(points, faces).levels[0])
        rounds = settled(points, faces)
        flat = rigid(points, faces, rounds)
        theirs, seconds = as_laid(points, faces, flat), best(lambda p=points, f=faces: lay(p, f))
        ten, full = (best(lambda p=points, f=faces, n=n: rigid(p, f, n)) for n in (10, rounds))
        rows.append(
            (name, len(faces), 100 * theirs, 100 * ours, ours / theirs, ours / worst(points, faces, flat),
             rounds, full, seconds, seconds / full, seconds / ten)
        )  # fmt: skip
    print("## Against as-rigid-as-possible (libigl): largest log stretch in percent, processor time in s\n")
    table(
        ("piece", "triangles", "rigid", "ours", "ratio", "ratio if the rigid piece is rescaled",
         "rounds until rigid settles", "rigid, s", "ours, s", "ratio", "ratio to 10 rounds"), rows,
    )  # fmt: skip


def growth() -> None:
    rows = []
    for rings in pick((13, 26, 52, 104), (4, 8)):
        points, faces = discs.cap(rings, np.radians(45))
        rows.append(("one piece", 1, len(faces), best(lambda p=points, f=faces: lay(p, f))))
    cap = Shape(*discs.cap(6, 0.5))
    single = len(rows)
    for count in pick((5, 20, 80, 320), (2, 4)):
        rows.append(("plates", count, 216 * count, best(lambda n=count: flatten_each([cap] * n))))
    print("## Growth\n")
    table(("what", "pieces", "triangles", "s"), rows)
    for (name, _, few, short), (*_, many, long) in ((rows[0], rows[single - 1]), (rows[single], rows[-1])):
        print(f"{name}: time grows as triangles^{np.log(long / short) / np.log(many / few):.2f}")
    print(f"one candidate of 216 triangles: {1000 * best(lambda: flatten_each([cap])):.1f} ms alone, "
          f"{1000 / 50 * best(lambda: flatten_each([cap] * 50)):.1f} ms among 50\n")  # fmt: skip


def shell() -> None:
    """The turtle layout on the default dome, every plate a piece."""
    surface = plan.build(plan.Params())
    layout = turtle.build(surface, turtle.Params())
    grid = mesh.build(surface, layout, mesh.Params(edge=pick(12.0, 40.0)))
    params = flatten.Params(compression=1.0)
    offset = FoamSheet(10.0).mid_offset
    lines = [i for i, line in enumerate(layout.lines) if line.kind == "plate"]
    cut = seams.cut(grid, layout, lines, mid_offset=offset)
    shares = marks.along(cut, grid, offset, marks.Params())
    pieces = [Shape(grid.offset(offset)[piece.shell_vertices], piece.faces) for piece in cut.pieces]
    apart = max(laid.stretch for laid in flatten.alone(pieces, params))
    pattern = flatten.build(grid, cut, params, FoamSheet(10.0), intervals=shares)
    together = max(max(flat.stretch.max(), 1 / flat.stretch.min()) - 1 for flat in pattern.flats)
    gaps = marks.interval_lengths(grid, cut, pattern, shares)
    seconds = best(lambda: flatten.build(grid, cut, params, FoamSheet(10.0), intervals=shares))
    print("## A shell of 38 plates, every plate a piece, mates of equal length\n")
    table(
        ("triangles", "pieces", "seams", "apart, %", "together, %", "cost", "mates differ by, mm", "s"),
        [(len(grid.faces), len(cut.pieces), len(cut.seams), 100 * apart, 100 * together, together / apart,
          max(float(np.abs(a - b).max()) for a, b in gaps), seconds)],
    )  # fmt: skip


if __name__ == "__main__":
    against_rigid()
    growth()
    shell()
