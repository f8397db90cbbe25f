"""Wires crossed one at a time: do the tests notice?

    python benchmarks/wire_mutants.py [--count 60] [--seed 1] [--minutes 20] [--only wear]

A wire is an argument of a call of the package's own functions. A mutant swaps two arguments of one type, leaves out one
that has a default, or doubles a number. What mypy or the tests of the wires notice is counted; the rest is printed.
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib
import inspect
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, is_dataclass
from itertools import combinations
from pathlib import Path

from mutants import FORKS, HEAVY, ROOT, fate
from smallest import pick

ROOMS = ("pipeline", "wear", "workshop", "finish")
QUICK = ("tests/pipeline/test_wires.py",)
TESTS = {room: ("tests/pipeline/test_figures.py", f"tests/{room}") for room in ROOMS}
NOT_DEMOS = ["-k", "not marsh and not puddle and not reed"]
NUMBERS = {"float", "int", "float | None"}


@dataclass(frozen=True, slots=True)
class Crossed:
    """One wire, or two, of one call, and the file's text with the fault in it."""

    file: Path
    what: str
    wires: tuple[str, ...]
    before: str
    after: str
    text: str


def ours(call: ast.Call, names: dict[str, object]) -> tuple[Callable[..., object], int] | None:
    """The package's function that is called, and how many arguments go before its own, as `Flow.run` has one."""
    function, first = call.func, 0
    if isinstance(function, ast.Attribute) and function.attr in ("run", "start") and call.args:
        function, first = call.args[0], 1
    try:
        made = eval(compile(ast.Expression(copy.deepcopy(function)), "wire", "eval"), dict(names))
    except Exception:
        return None
    whole = inspect.isfunction(made) or (inspect.isclass(made) and is_dataclass(made))
    return (made, first) if whole and made.__module__.startswith("shellgen.") else None


def given(call: ast.Call, function: Callable[..., object], first: int) -> dict[str, tuple[str, bool, ast.expr]]:
    """Per parameter: its type as written, whether it may be left out by name, and what it is given."""
    parameters = inspect.signature(function).parameters
    plain = [p for p in parameters.values() if p.kind is p.POSITIONAL_OR_KEYWORD]
    found = {}
    for parameter, value in zip(plain, call.args[first:], strict=False):
        if isinstance(value, ast.Starred):
            break
        found[parameter.name] = (str(parameter.annotation), False, value)
    for word in call.keywords:
        if word.arg in parameters:
            parameter = parameters[word.arg]
            found[word.arg] = (str(parameter.annotation), parameter.default is not parameter.empty, word.value)
    return found


def crossings(only: str) -> list[Crossed]:
    """All that there could be. To be run in a process of its own: it imports what is then changed."""
    sys.path[:0] = [str(ROOT)]
    files = [path for room in ROOMS for path in sorted((ROOT / "shellgen" / room).rglob("*.py"))]
    return [one for path in files if only in str(path.relative_to(ROOT)) for one in in_file(path)]


def in_file(path: Path) -> Iterator[Crossed]:
    text = path.read_text("utf-8")
    inside = path.relative_to(ROOT).with_suffix("")
    names = vars(importlib.import_module(".".join(inside.parts).removesuffix(".__init__")))
    for number, call in enumerate(calls(ast.parse(text))):
        if (found := ours(call, names)) is None:
            continue
        for what, wires in faults(given(call, *found)):
            tree = ast.parse(text)
            node = calls(tree)[number]
            cross(node, {name: value for name, (_, _, value) in given(node, *found).items()}, what, wires)
            yield Crossed(path, what, wires, ast.unparse(call), ast.unparse(node), ast.unparse(tree))


def calls(tree: ast.AST) -> list[ast.Call]:
    return [node for node in ast.walk(tree) if isinstance(node, ast.Call)]


def faults(wires: dict[str, tuple[str, bool, ast.expr]]) -> Iterator[tuple[str, tuple[str, ...]]]:
    for (one, (kind, _, a)), (other, (same, _, b)) in combinations(wires.items(), 2):
        if kind == same and ast.unparse(a) != ast.unparse(b):
            yield "swap", (one, other)
    for name, (kind, free, _) in wires.items():
        if free:
            yield "drop", (name,)
        if kind in NUMBERS:
            yield "double", (name,)


def cross(call: ast.Call, values: dict[str, ast.expr], what: str, wires: tuple[str, ...]) -> None:
    """Changes a call in place. values : what each parameter is given"""
    old = {id(values[name]): name for name in wires}
    if what == "drop":
        call.keywords = [word for word in call.keywords if id(word.value) not in old]
        return
    new: dict[str, ast.expr] = {name: ast.BinOp(ast.Constant(2), ast.Mult(), values[name]) for name in wires}
    if what == "swap":
        new = {name: values[other] for name, other in zip(wires, reversed(wires), strict=True)}
    call.args = [new[old[id(arg)]] if id(arg) in old else arg for arg in call.args]
    for word in call.keywords:
        word.value = new[old[id(word.value)]] if id(word.value) in old else word.value
    ast.fix_missing_locations(call)


def typed(tree: Path, inside: Path) -> bool:
    """Whether mypy finds nothing."""
    run = subprocess.run([sys.executable, "-m", "mypy", str(inside)], cwd=tree, capture_output=True, check=False)
    return run.returncode == 0


def outcome(tree: Path, one: Crossed) -> str:
    inside = one.file.relative_to(ROOT)
    (tree / inside).write_text(one.text, encoding="utf-8")
    try:
        room = inside.parts[1]
        if room == "pipeline" and fate(tree, list(QUICK)) == "noticed":
            return "wires"
        if not typed(tree, inside):
            return "types"
        first, *rest = TESTS[room]
        if fate(tree, [first, *NOT_DEMOS]) != "survived":
            return "figures"
        if room != "pipeline" and any(fate(tree, [test, "-k", "not demo"]) != "survived" for test in rest):
            return "room"
        print(f"survived {inside}: {one.what} {' and '.join(one.wires)}\n  {one.before}\n  {one.after}", flush=True)
        return "survived"
    finally:
        (tree / inside).write_text(one.file.read_text("utf-8"), encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=pick(60, 1))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=20)
    parser.add_argument("--only", default=pick("", "pipeline/wear"), help="only files whose path has this in it")
    chosen = parser.parse_args()
    until, outcomes = time.monotonic() + 60 * chosen.minutes, Counter[str]()
    with FORKS.Pool(1) as apart:
        pool = apart.apply(crossings, (chosen.only,))
    with tempfile.TemporaryDirectory() as folder:
        copied = Path(folder)
        for name in ("shellgen", "tests", "presets", "pyproject.toml"):
            take = shutil.copytree if (ROOT / name).is_dir() else shutil.copy
            take(ROOT / name, copied / name)
        assert fate(copied, ["tests/pipeline/test_figures.py", *NOT_DEMOS]) == "survived", "nothing is changed yet"
        for one in random.Random(chosen.seed).sample(pool, min(chosen.count, len(pool))):
            if time.monotonic() > until:
                break
            outcomes[outcome(copied, one)] += 1
            print(dict(outcomes), flush=True)
    print(f"of {len(pool)} there could be")


if __name__ == "__main__":
    os.environ |= {"OMP_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    for name in HEAVY:  # once for all
        importlib.import_module(name)
    main()
