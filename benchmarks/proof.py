"""The virtual build measured: the demos, the solver by itself, wrong pieces, corrected ones, and growth with the mesh.

Run: python benchmarks/proof.py. Prints tables in markdown. Set OMP_NUM_THREADS=1 for figures of one core.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from smallest import demos, pick

from shellgen import pipeline, preset
from shellgen.core import flow
from shellgen.dome import mesh
from shellgen.dome.surfaces import plan
from shellgen.geom import membrane
from shellgen.geom.welded_sheet import welded_sheet
from shellgen.model import Cut, FoamSheet, Pattern, Proof, ShellMesh
from shellgen.pattern import flatten, marks, proof, seams, shape
from shellgen.pattern.proof import rest
from shellgen.plates import turtle

THICKNESS = 10.0


def timed(run: Callable[[], object]) -> tuple[object, float]:
    start = time.process_time()
    made = run()
    return made, time.process_time() - start


def table(head: tuple[str, ...], rows: Iterator[tuple[object, ...]]) -> None:
    print("| " + " | ".join(head) + " |\n|" + "---|" * len(head))
    for row in rows:
        print("| " + " | ".join(f"{cell:.3g}" if isinstance(cell, float) else str(cell) for cell in row) + " |")
    print()


def dome(edge: float) -> tuple[ShellMesh, Cut, Pattern]:
    """The default dome, every plate its own piece."""
    surface = plan.build(plan.Params(length=560, width=460, height=180))
    layout = turtle.build(surface, turtle.Params())
    shell = mesh.build(surface, layout, mesh.Params(edge=edge))
    lines = [i for i, line in enumerate(layout.lines) if line.kind == "plate"]
    cut = seams.cut(shell, layout, lines, mid_offset=-THICKNESS / 2)
    return shell, cut, laid(shell, cut)


def laid(shell: ShellMesh, cut: Cut) -> Pattern:
    shares = marks.along(cut, shell, -THICKNESS / 2, marks.Params())
    return flatten.build(shell, cut, flatten.Params(), FoamSheet(THICKNESS), intervals=shares)


STAGES = "as formed", "without flaw", "virtual build"


def proven(shell: ShellMesh, cut: Cut, pattern: Pattern) -> Proof:
    return proof.build(shell, cut, pattern, proof.Params(), thickness=THICKNESS)


def whole_shells() -> Iterator[tuple[object, ...]]:
    for path in demos():
        run = flow.Flow()
        shell = pipeline.shell_of(preset.read(path), run)
        made = shell.proof
        yield (path.stem, len(shell.ground.mesh.faces), len(shell.foam.cut.pieces), made.glued.rms, made.glued.most,
               made.formed.rms, made.formed.most, made.flawless.rms,
               made.loose.rms, sum(run.seconds[stage] for stage in STAGES))  # fmt: skip


def control(shell: ShellMesh) -> Iterator[tuple[object, ...]]:
    """The curved pieces' own lengths, set in their curvature but for three thousandths, from two starts."""
    mid = shell.offset(-THICKNESS / 2)
    sheet = welded_sheet(shell.faces, membrane.lay_flat(mid[shell.faces]), mid, shell.mirror)
    soft = 0.003 * THICKNESS**2 / 10.92
    for name, start in (("bump", sheet.start()), ("flat", sheet.start(rise=0.0))):
        made, seconds = timed(lambda s=start: sheet.settle(s, poisson=0.3, rigidity=soft, inflate=True))
        off = np.linalg.norm(made.points - mid, axis=1)
        yield name, float(np.sqrt((off**2).mean())), float(off.max()), made.steps, made.factored, seconds


def starts(shell: ShellMesh, cut: Cut, pattern: Pattern) -> Iterator[tuple[object, ...]]:
    """The same pieces from starts that differ as they can; how far the resting shells differ, mm."""
    sheet, _, _ = rest.weld_pieces(shell, cut, pattern)
    crumpled = sheet.start() + np.random.default_rng(0).normal(0, 15, (len(shell.points), 3))
    crumpled[sheet.rim] = sheet.curve
    places = {
        "bump of the sheet's area": sheet.start(),
        "flat": sheet.start(rise=0.0),
        "twice as high": sheet.start(rise=300.0),
        "hanging down": sheet.start(rise=-60.0),
        "bump, crumpled by 15 mm": crumpled,
    }
    first = None
    for name, start in places.items():
        made, seconds = timed(lambda s=start: sheet.settle(s, poisson=0.3, rigidity=THICKNESS**2 / 10.92, inflate=True))
        first = made.points if first is None else first
        yield name, float(np.abs(made.points - first).max()), made.steps, made.factored, seconds


def wrong(shell: ShellMesh, cut: Cut, pattern: Pattern) -> Iterator[tuple[object, ...]]:
    def with_flat(piece: int, flat: NDArray) -> Pattern:
        flats = list(pattern.flats)
        flats[piece] = replace(flats[piece], flat=flat)
        return replace(pattern, flats=tuple(flats))

    place = {piece.name: index for index, piece in enumerate(cut.pieces)}
    inside, rim = place["C-crown-1"], place["L-rim-3"]
    larger = tuple(replace(flat, flat=1.03 * flat.flat) for flat in pattern.flats)
    cases = {
        "right": pattern,
        "crown piece 3 % too large": with_flat(inside, 1.03 * pattern.flats[inside].flat),
        "rim piece 3 % too small": with_flat(rim, 0.97 * pattern.flats[rim].flat),
        "rim piece mirrored": with_flat(rim, pattern.flats[rim].flat * [-1, 1]),
        "all pieces 3 % too large": replace(pattern, flats=larger),
    }
    for name, tried in cases.items():
        made = proven(shell, cut, tried)
        faults = [finding.text for finding in made.findings if finding.level == "fault"]
        yield (name, made.glued.rms, made.pattern_rms, float(np.abs(made.seam_gap).max()),
               float(np.abs(made.rim_gap).max()), "yes" if made.caught else "no",
               *faults[:1])  # fmt: skip


def corrected(shell: ShellMesh, cut: Cut, pattern: Pattern) -> Iterator[tuple[object, ...]]:
    made, seconds = timed(
        lambda: shape.correct(
            shell, cut, pattern, shape.Params(), thickness=THICKNESS,
            flatten=lambda target: laid(target, cut),
            glue=lambda flat, start: proof.glue(shell, cut, flat, proof.Params(), thickness=THICKNESS, start=start),
            compression_limit=0.03 * flatten.Params().compression,
        )
    )  # fmt: skip
    for number, tried in enumerate(made.rounds):
        kept = "kept" if number == made.kept else ""
        yield number, tried.rms, tried.most, tried.least, tried.greatest, kept, seconds / len(made.rounds)


def growth() -> Iterator[tuple[object, ...]]:
    before: tuple[int, float] | None = None
    for edge in pick((24.0, 17.0, 12.0, 8.5, 6.0), (48.0, 40.0)):
        shell, cut, pattern = dome(edge)
        made, seconds = timed(lambda s=shell, c=cut, p=pattern: proven(s, c, p))
        count = len(shell.faces)
        power = np.log(seconds / before[1]) / np.log(count / before[0]) if before else np.nan
        yield count, made.glued.rms, made.formed.rms, seconds, float(power)
        before = count, seconds


if __name__ == "__main__":
    table(
        ("demo", "triangles", "pieces", "glued rms", "most", "formed rms", "most", "flawless rms", "seconds"),
        whole_shells(),
    )
    whole = dome(pick(12.0, 40.0))
    table(("start", "rms", "most", "steps", "factored", "seconds"), control(whole[0]))
    table(("start", "differs by", "steps", "factored", "seconds"), starts(*whole))
    table(("pieces", "glued rms", "pattern rms", "seam gap", "rim gap", "caught", "first finding"), wrong(*whole))
    table(("round", "glued rms", "most", "least stretch", "greatest", "", "seconds each"), corrected(*whole))
    table(("triangles", "glued rms", "formed rms", "seconds", "power of growth"), growth())
