"""Small faults put into the geometry one at a time: do the tests notice?

    python benchmarks/mutants.py [--count 150] [--seed 1] [--minutes 20] [--only seams]

Each mutant is one changed comparison, operator, number or call order in a copy of the tree; the test files that import
its module are run on it. Those that no test noticed are printed with the line before and after, to be read.
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parent.parent
TARGETS = ("geom/*.py", "seams.py", "flatten.py", "trims.py")
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


def tests_of(module: str) -> list[str]:
    """The two shortest test files that import a module, those named after it first."""
    last = module.rsplit(".", 1)[-1]
    found = []
    for path in (ROOT / "tests").glob("test_*.py"):
        text = path.read_text(encoding="utf-8")
        package, _, _ = module.rpartition(".")
        if re.search(rf"(from {re.escape(package)} import[^\n]*\b{last}\b|from {re.escape(module)} import)", text):
            found.append((last not in path.stem, len(text), path.name))
    return [name for *_, name in sorted(found)[:2]]


def survives(tree: Path, tests: list[str], seconds: float) -> bool:
    words = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *(f"tests/{name}" for name in tests)]
    try:
        done = subprocess.run(words, cwd=tree, capture_output=True, timeout=seconds, check=False)
    except subprocess.TimeoutExpired:
        return False
    return done.returncode == 0


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=150)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=20)
    parser.add_argument("--only", default="", help="only files whose name has this in it")
    chosen = parser.parse_args()
    rng, until, outcomes = random.Random(chosen.seed), time.monotonic() + 60 * chosen.minutes, Counter[str]()
    files = [p for pattern in TARGETS for p in sorted((ROOT / "shellgen").glob(pattern)) if chosen.only in p.name]
    pool = [(p, k) for p in files for k, _ in enumerate(places(ast.parse(p.read_text(encoding="utf-8"))))]
    with tempfile.TemporaryDirectory() as folder:
        copied = Path(folder)
        for room in ("shellgen", "tests", "presets", "benchmarks", "pyproject.toml"):
            take = shutil.copytree if (ROOT / room).is_dir() else shutil.copy
            take(ROOT / room, copied / room)
        for path, k in rng.sample(pool, min(chosen.count, len(pool))):
            if time.monotonic() > until:
                break
            outcomes[one(copied, path, k)] += 1
    print(dict(outcomes), f"of {len(pool)} there could be")


def one(copied: Path, path: Path, k: int) -> str:
    """What became of one mutant."""
    inside = path.relative_to(ROOT)
    tests = tests_of(".".join(inside.with_suffix("").parts))
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text)
    node = list(places(tree))[k]
    before = ast.unparse(copy.deepcopy(node))
    changed(node)
    if not tests:
        return "no test file imports it"
    (copied / inside).write_text(ast.unparse(ast.fix_missing_locations(tree)), encoding="utf-8")
    alive = survives(copied, tests, 600)
    (copied / inside).write_text(text, encoding="utf-8")
    if alive:
        line = text.splitlines()[node.lineno - 1].strip()
        print(f"{inside}:{node.lineno}: {before} -> {ast.unparse(node)}   in: {line}   {tests}", flush=True)
    return "survived" if alive else "noticed"


if __name__ == "__main__":
    os.environ |= {"OMP_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    main()
