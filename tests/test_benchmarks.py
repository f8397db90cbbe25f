"""Every benchmark still runs: its smallest run, whose figures mean nothing, ends well and prints something."""

from __future__ import annotations

import json
import multiprocessing
import os
import runpy
import subprocess
import sys
from contextlib import redirect_stdout
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
BENCHMARKS = ROOT / "benchmarks"
PARTS = {"made_up", "made_up_sense", "reached", "smallest", "sound"}
"""No benchmarks of their own: the others use them."""
IMPORTS_FIRST = {
    "fuzz": "counts what of the package is reached",
    "mutants": "imports a changed package",
    "wire_mutants": "runs tests of its own",
}
"""Need a Python that has imported nothing of the package; why."""
WORDS = {"generated": ("--count", "3"), "refusals": ("--count", "2")}
"""Instead of `--smallest`."""
NAMES = sorted(path.stem for path in BENCHMARKS.glob("*.py") if path.stem not in PARTS)


def words(name: str) -> list[str]:
    return [str(BENCHMARKS / f"{name}.py"), *WORDS.get(name, ("--smallest",))]


def forked(name: str, shown: Path) -> None:
    sys.argv, sys.path[:0] = words(name), [str(BENCHMARKS)]
    with shown.open("w") as stream, redirect_stdout(stream):
        runpy.run_path(sys.argv[0], run_name="__main__")


@pytest.mark.parametrize("name", sorted(set(NAMES) - set(IMPORTS_FIRST)))
def test_its_smallest_run_ends_well(name: str, tmp_path: Path) -> None:
    """In a process forked from this one: what all import is imported once, and what one changes is forgotten."""
    shown = tmp_path / "shown.txt"
    run = multiprocessing.get_context("fork").Process(target=forked, args=(name, shown))
    run.start()
    run.join()
    assert run.exitcode == 0 and shown.read_text().strip()
    assert "FAULT" not in shown.read_text()


def test_the_fuzzer_runs(tmp_path: Path) -> None:
    place = os.environ | {"PYTHONPATH": str(ROOT)}
    start = [sys.executable, *words("fuzz")]
    done = subprocess.run(start, cwd=tmp_path, env=place, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    assert "Done 100 runs" in done.stderr


def test_a_crossed_wire_is_judged() -> None:
    place = os.environ | {"PYTHONPATH": str(ROOT)}
    start = [sys.executable, *words("wire_mutants")]
    done = subprocess.run(start, cwd=ROOT, env=place, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    assert "there could be" in done.stdout and ("noticed" in done.stdout or "survived" in done.stdout)


def test_what_tests_reach_is_recorded_and_a_mutant_judged_by_it(tmp_path: Path) -> None:
    place = {"PYTHONPATH": os.pathsep.join([str(BENCHMARKS), str(ROOT)]), "COVERAGE_FILE": str(tmp_path / ".coverage")}
    start = [sys.executable, "-m", "coverage"]
    for more in (
        [*start, "run", "-m", "pytest", "-p", "reached", "-p", "no:cacheprovider", "tests/geom/test_triangles.py"],
        [*start, "combine"],
        [sys.executable, *words("mutants"), str(tmp_path)],
    ):
        done = subprocess.run(more, cwd=ROOT, env=os.environ | place, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stdout[-1000:] + done.stderr[-1000:]
    seconds = json.loads((tmp_path / ".seconds.json").read_text(encoding="utf-8"))
    assert seconds and all(test.startswith("tests/geom/test_triangles.py::") for test in seconds)
    assert "there could be" in done.stdout and ("noticed" in done.stdout or "survived" in done.stdout)
