"""Every benchmark still runs: its smallest run, whose figures mean nothing, ends well and prints something."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
BENCHMARKS = ROOT / "benchmarks"
PARTS = {"faults", "made_up", "made_up_sense", "planar_nets", "reached", "smallest", "sound", "svg_hand"}
"""No benchmarks of their own: the others use them."""
JUDGED = {"fuzz", "mutants", "wire_mutants"}
"""Have tests of their own."""
WORDS = {
    "generated": ("--count", "1", "--seed", "4"),
    "longer_seams": ("--smallest", "--seed", "4"),
    "refusals": ("--refusals", "1", "--seed", "22"),
}
"""Instead of `--smallest`. The seeds give small shells, one of them refused."""
NAMES = sorted(path.stem for path in BENCHMARKS.glob("*.py") if path.stem not in PARTS)


def words(name: str) -> list[str]:
    return [str(BENCHMARKS / f"{name}.py"), *WORDS.get(name, ("--smallest",))]


def ended(*start: str, **place: str) -> subprocess.CompletedProcess[str]:
    """A run of this Python, which ends well."""
    paths = {"PYTHONPATH": os.pathsep.join([str(BENCHMARKS), str(ROOT)])}
    done = subprocess.run(
        [sys.executable, *start], cwd=ROOT, env=os.environ | paths | place, capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, done.stdout[-1000:] + done.stderr[-1000:]
    return done


@pytest.mark.parametrize("name", sorted(set(NAMES) - JUDGED))
def test_its_smallest_run_ends_well(name: str) -> None:
    shown = ended(*words(name)).stdout
    assert shown.strip() and "FAULT" not in shown


def test_the_fuzzer_runs() -> None:
    assert re.search(r"Done \d{3} runs", ended(*words("fuzz")).stderr)


def test_a_crossed_wire_is_judged() -> None:
    shown = ended(*words("wire_mutants")).stdout
    assert "there could be" in shown and ("noticed" in shown or "survived" in shown)


def test_what_tests_reach_is_recorded_and_a_mutant_judged_by_it(tmp_path: Path) -> None:
    file = "tests/geom/test_triangles.py"
    record = {"COVERAGE_FILE": str(tmp_path / ".coverage")}
    ended("-m", "coverage", "run", "-m", "pytest", "-p", "reached", "-p", "no:cacheprovider", file, **record)
    ended("-m", "coverage", "combine", **record)
    shown = ended(*words("mutants"), str(tmp_path), **record).stdout
    seconds = json.loads((tmp_path / ".seconds.json").read_text(encoding="utf-8"))
    assert seconds and all(test.startswith(f"{file}::") for test in seconds)
    assert "there could be" in shown and ("noticed" in shown or "survived" in shown)
