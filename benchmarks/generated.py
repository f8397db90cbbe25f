"""Presets made up at random from what the stages declare, built one after another: what comes of them?

    python benchmarks/generated.py [--count 10000] [--seed 1] [--through layout|mesh|shell|pack] [--log FILE]

Every preset must give a good result or one clear error, within ten seconds of processor; anything else is printed with
the number of the preset that caused it. `shell` takes small shells whose figures mostly go together, computes all of
it, and holds the result against what must be true of any (see `faults`); `pack` also writes everything. What came of
each is kept in the log, a line a preset; a run with the same log goes on behind the last.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import signal
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

import numpy as np
import shapely
import trimesh
from made_up import SCAN, preset_text, small_text

from shellgen import checks, contents, flow, mesh, nest, pipeline, preset, record, registry
from shellgen.errors import ShellgenError
from shellgen.geom.triangles import areas, euler_characteristic
from shellgen.shell import Shell

PATIENCE = 10.0  # seconds of processor after which a small shell counts as hanging
nest.parts.EFFORT["quick"] = (1, 5)  # any sound layout will do here


class Hang(Exception):
    """A preset that took longer than anyone waits."""


@contextmanager
def patience(seconds: float) -> Iterator[None]:
    """Raises Hang in the block once it has used so many seconds of processor."""

    def ended(number: int, frame: FrameType | None) -> None:
        raise Hang(f"more than {seconds:g} s of processor")

    signal.signal(signal.SIGPROF, ended)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)


def build(path: Path, through: str) -> None:
    """As far as asked. AssertionError if a finished shell is not sound."""
    content = preset.read(path)
    if through == "pack":
        contents.build(content)
    elif through == "shell":
        found = tuple(faults(pipeline.shell_of(content, flow.Flow()).value))
        assert not found, "; ".join(found)
    else:
        surface = pipeline.asked(content, flow.Flow())[0].value
        layout = registry.load("shellgen.layouts", content.plates.name).build(surface, content.plates.own)
        if through == "mesh":
            mesh.build(surface, layout, content.mesh)


def faults(shell: Shell) -> Iterator[str]:
    """What is wrong with a finished shell, whatever its preset asked for.

    The dome is one disc, and its pieces are discs that cover it once; flat, they turn no triangle over, their outlines
    do not cross, and both sides of every seam are of one length between any two marks; on sheets they keep apart;
    everything to be printed encloses a volume, told by a reader that is not ours; every figure is a number.
    """
    points, faces = shell.mesh.points, shell.mesh.faces
    if not np.isfinite(points).all() or euler_characteristic(faces) != 1:
        yield "the dome is no disc"
    used = np.concatenate([piece.shell_faces for piece in shell.cut.pieces])
    if not np.array_equal(np.sort(used), np.arange(len(faces))):
        yield "the pieces do not cover the dome once"
        return  # nothing of theirs can be measured
    for piece, flat in zip(shell.cut.pieces, shell.pattern.flats, strict=True):
        if euler_characteristic(piece.faces) != 1:
            yield f"{piece.name} is no disc"
        outline = np.concatenate([side.vertices[:-1] for side in piece.sides])
        if not (areas(flat.flat, piece.faces) > 0).all() or not shapely.Polygon(flat.flat[outline]).is_valid:
            yield f"{piece.name} folds over itself"
    yield from _open_seams(shell)
    yield from _open_solids(shell)
    if lost := {piece.name for piece in shell.cut.pieces} ^ {*_on_sheets(shell), *shell.nest.left_out}:
        yield f"neither on a sheet nor missed: {lost}"
    for finding in shell.findings:
        if finding.level == "fault" and "choose another seed under nest" in finding.text:
            yield finding.text
    json.dumps(record.record(shell), allow_nan=False)


def _open_seams(shell: Shell) -> Iterator[str]:
    """Seams whose sides differ: in all, measured here, and between marks, as the shell itself says."""
    for seam, gaps in zip(shell.cut.seams, shell.intervals, strict=True):
        long = []
        for p, s in seam.sides:
            chain = shell.pattern.flats[p].flat[shell.cut.pieces[p].sides[s].vertices]
            long.append(float(np.linalg.norm(np.diff(chain, axis=0), axis=1).sum()))
        most = max(abs(long[0] - long[1]) / max(len(gaps[0]), 1), float(np.abs(gaps[0] - gaps[1]).max()))
        if not most <= checks.MATE_LIMIT:
            yield f"the sides of {seam.name} differ by {most:.3f} mm"


def _open_solids(shell: Shell) -> Iterator[str]:
    for solid in (*shell.masters, *(part.solid for part in shell.casting.prints)):
        if not trimesh.Trimesh(solid.vertices, solid.faces, process=False).is_volume:
            yield f"{solid.name} is not closed"


def _on_sheets(shell: Shell) -> Iterator[str]:
    return (placed.part.name for sheet in shell.nest.sheets for placed in sheet.placements)


def tried(number: int, through: str, path: Path) -> str:
    """What came of one preset, a fault told on the way."""
    text = small_text if through == "shell" else preset_text
    path.write_text(text(random.Random(number)), encoding="utf-8")
    try:
        with warnings.catch_warnings(action="error"), patience(PATIENCE if through == "shell" else 10 * PATIENCE):
            build(path, through)
    except ShellgenError as error:
        return type(error).__name__
    except Exception as error:
        place = traceback.extract_tb(error.__traceback__)[-1]
        print(f"preset {number}: {type(error).__name__}: {error} at {place.filename}:{place.lineno}", flush=True)
        return f"FAULT {type(error).__name__}"
    return "good"


def scan(path: Path) -> None:
    """A noisy scan of half an egg, narrower at its head, for the presets that want one."""
    ball = trimesh.creation.icosphere(subdivisions=4)
    half = ball.faces[(ball.vertices[ball.faces][:, :, 2] >= -1e-9).all(axis=1)]
    noise = np.random.default_rng(1).normal(0, 0.3, ball.vertices.shape)
    points = ball.vertices * (1 - 0.1 * ball.vertices[:, :1]) * (200, 160, 130) + noise
    trimesh.Trimesh(points, half).export(path)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--through", choices=("layout", "mesh", "shell", "pack"), default="shell")
    parser.add_argument("--log", type=Path, help="what came of each preset; if it is there already, go on behind it")
    chosen = parser.parse_args()
    log = chosen.log or Path(os.devnull)
    done = [line.split("\t") for line in log.read_text(encoding="utf-8").splitlines()] if log.is_file() else []
    outcomes, spent = Counter(outcome for _, outcome, _ in done), sum(float(seconds) for *_, seconds in done)
    with tempfile.TemporaryDirectory() as folder, log.open("a", encoding="utf-8") as kept:
        scan(Path(folder) / SCAN)
        for number in range(chosen.seed + len(done), chosen.seed + chosen.count):
            start = time.monotonic()
            outcome = tried(number, chosen.through, Path(folder) / "made-up.yaml")
            seconds = time.monotonic() - start
            outcomes[outcome], spent = outcomes[outcome] + 1, spent + seconds
            print(number, outcome, f"{seconds:.2f}", sep="\t", file=kept, flush=True)
            if number % 100 == 0:
                print(f"up to {number}: {dict(outcomes)}, {spent:.0f} s", flush=True)
    print(*(f"{number:6} {outcome}" for outcome, number in outcomes.most_common()), sep="\n")


if __name__ == "__main__":
    main()
