"""Small faults put into the geometry one at a time: do the tests notice?

    pip install coverage
    PYTHONPATH=benchmarks coverage run -m pytest -p reached; coverage combine
    python benchmarks/mutants.py . [--count 150] [--seed 1] [--minutes 20] [--only seams]

Each mutant is one changed comparison, operator or number in a copy of the tree; the quickest tests that reach it are
run on it. Those that no test noticed are printed with the line before and after, to be read.
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib
import json
import multiprocessing
import os
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import coverage
import pytest
from smallest import pick

ROOT = Path(__file__).parent.parent
TARGETS = ("geom/*.py", "pattern/seams.py", "pattern/flatten.py", "trim/rings.py")
ENOUGH = 20.0  # seconds of tests for one mutant
FORKS = multiprocessing.get_context("fork")
HEAVY = ("igl", "scipy.interpolate", "scipy.optimize", "scipy.sparse.linalg", "shapely", "trimesh")
SWAPS: dict[type, type] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip


def places(tree: ast.AST) -> Iterator[ast.AST]:
    """Nodes that can be changed; docstrings, annotations and the flags of dataclasses, which `tests/test_house.py`
    holds for all of them, are left alone."""
    skipped = set()
    for node in ast.walk(tree):
        parts = [
            getattr(node, "annotation", None),
            getattr(node, "returns", None),
            *getattr(node, "decorator_list", ()),
        ]
        skipped |= {id(n) for part in parts if part is not None for n in ast.walk(part)}
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        swapped = (
            (isinstance(node, ast.BinOp | ast.BoolOp) and type(node.op) in SWAPS)
            or (isinstance(node, ast.Compare) and type(node.ops[0]) in SWAPS)
            or (isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub))
            or (isinstance(node, ast.Constant) and type(node.value) in (int, float, bool))
        )
        if swapped:
            yield node


def changed(node: ast.AST) -> None:
    """Changes a node in place."""
    if isinstance(node, ast.BinOp | ast.BoolOp):
        node.op = SWAPS[type(node.op)]()
    elif isinstance(node, ast.Compare):
        node.ops[0] = SWAPS[type(node.ops[0])]()
    elif isinstance(node, ast.UnaryOp):
        node.op = ast.UAdd()
    elif isinstance(node, ast.Constant):
        value = node.value
        node.value = (
            not value if isinstance(value, bool) else value + 1 if isinstance(value, int) else 1.5 * value + 0.1
        )


@dataclass(frozen=True, slots=True)
class Reached:
    """What `reached.py` has left behind: the tests that reach a line, and the seconds each takes."""

    lines: coverage.CoverageData
    seconds: dict[str, float]

    @classmethod
    def read(cls, folder: Path) -> Reached:
        lines = coverage.CoverageData(str(folder / ".coverage"))
        lines.read()
        return cls(lines, json.loads((folder / ".seconds.json").read_text(encoding="utf-8")))

    def tests(self, inside: str, node: ast.AST) -> list[str]:
        """The quickest tests that reach what was changed, or the file if that is only read on import, within ENOUGH."""
        found = self.lines.contexts_by_lineno(inside)
        here = {test for at in range(node.lineno, node.end_lineno + 1) for test in found.get(at, ())} - {""}
        tests = here or {test for tests in found.values() for test in tests} - {""}
        chosen, spent = list[str](), 0.0
        for test in sorted(tests & self.seconds.keys(), key=lambda test: (self.seconds[test], test)):
            spent += self.seconds[test]
            if chosen and spent > ENOUGH:
                break
            chosen.append(test)
        return chosen


def fate(tree: Path, tests: list[str]) -> str:
    """What comes of the tests, run on a tree."""
    run = FORKS.Process(target=_tested, args=(tree, tests))
    run.start()
    run.join(6 * ENOUGH)
    if run.is_alive():
        run.kill()
        run.join()
        return "without end"
    assert run.exitcode in (0, 1, 2, 4), f"pytest ended with {run.exitcode}"  # good, a test failed, none can be read
    return "noticed" if run.exitcode else "survived"


def _tested(tree: Path, tests: list[str]) -> None:
    """Ends the process with pytest's exit code; of the tree nothing has been imported here yet."""
    os.chdir(tree)
    sys.path[:0] = [str(tree)]
    with open(os.devnull, "w") as nowhere, redirect_stdout(nowhere), redirect_stderr(nowhere):
        code = pytest.main(["-x", "-q", "-p", "no:cacheprovider", *tests])
    os._exit(code)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("reached", type=Path, help="the folder with what reached.py left behind")
    parser.add_argument("--count", type=int, default=pick(150, 1))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=20)
    parser.add_argument("--only", default=pick("", "triangles"), help="only files whose name has this in it")
    chosen = parser.parse_args()
    rng, until, outcomes = random.Random(chosen.seed), time.monotonic() + 60 * chosen.minutes, Counter[str]()
    reached = Reached.read(chosen.reached)
    for name in HEAVY:  # once for all
        importlib.import_module(name)
    files = [p for pattern in TARGETS for p in sorted((ROOT / "shellgen").glob(pattern)) if chosen.only in p.name]
    pool = [(p, k) for p in files for k, _ in enumerate(places(ast.parse(p.read_text(encoding="utf-8"))))]
    with tempfile.TemporaryDirectory() as folder:
        copied = Path(folder)
        for room in ("shellgen", "tests", "presets", "benchmarks", "pyproject.toml", "README.md"):
            take = shutil.copytree if (ROOT / room).is_dir() else shutil.copy
            take(ROOT / room, copied / room)
        sound = ["tests/geom/test_curves.py", "tests/geom/test_triangles.py"]
        assert fate(copied, sound) == "survived", "nothing is changed yet"
        for path, k in rng.sample(pool, min(chosen.count, len(pool))):
            if time.monotonic() > until:
                break
            outcomes[one(copied, path, k, reached)] += 1
            print(dict(outcomes), flush=True)
    print(f"of {len(pool)} there could be")


def one(copied: Path, path: Path, k: int, reached: Reached) -> str:
    """What became of one mutant."""
    inside = path.relative_to(ROOT)
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text)
    node = list(places(tree))[k]
    before = ast.unparse(copy.deepcopy(node))
    changed(node)
    tests = reached.tests(inside.as_posix(), node)
    (copied / inside).write_text(ast.unparse(ast.fix_missing_locations(tree)), encoding="utf-8")
    os.utime(copied / inside, (k, k))  # a time of its own: what was compiled of another mutant is not taken for it
    end = fate(copied, tests) if tests else "survived"
    (copied / inside).write_text(text, encoding="utf-8")
    if end != "noticed":
        line = text.splitlines()[node.lineno - 1].strip()
        print(f"{end} {inside}:{node.lineno}: {before} -> {ast.unparse(node)}   in: {line}   {len(tests)} tests")
    return end


if __name__ == "__main__":
    os.environ |= {"OMP_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    main()
