"""Wires crossed one at a time: do the tests notice?

    PYTHONPATH=. python benchmarks/wire_mutants.py [--count 60] [--seed 1] [--minutes 20] [--only wear]

A wire is an argument of a call of the package's own functions. A mutant swaps two arguments of one type, leaves out one
that has a default, or doubles a number. The odd shell of the tests is built once; each mutant is put into a process
forked from that, where only the stages of its room are run again, and then the tests of the figures and of its room.
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib
import inspect
import os
import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass, is_dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
from mutants import FORKS, ROOT
from smallest import pick

sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "tests" / "pipeline")]
import odd  # noqa: E402
import test_wires  # noqa: E402

from shellgen.core.flow import Pending  # noqa: E402
from shellgen.core.memory import MEMORY, key_of  # noqa: E402
from shellgen.pipeline import shell_of  # noqa: E402

ROOMS = ("pipeline", "wear", "workshop", "finish")
FIGURES = ("tests/pipeline/test_figures.py", "-k", "not marsh and not puddle and not reed")
NUMBERS = {"float", "int", "float | None"}
LONG = 240.0  # seconds for one mutant


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
    """All that there could be."""
    files = [path for room in ROOMS for path in sorted((ROOT / "shellgen" / room).rglob("*.py"))]
    return [one for path in files if only in str(path.relative_to(ROOT)) for one in in_file(path)]


def in_file(path: Path) -> Iterator[Crossed]:
    text = path.read_text("utf-8")
    names = vars(module(path))
    for number, call in enumerate(calls(ast.parse(text))):
        if (found := ours(call, names)) is None:
            continue
        for what, wires in faults(given(call, *found)):
            tree = ast.parse(text)
            node = calls(tree)[number]
            cross(node, {name: value for name, (_, _, value) in given(node, *found).items()}, what, wires)
            yield Crossed(path, what, wires, ast.unparse(call), ast.unparse(node), ast.unparse(tree))


def calls(tree: ast.AST) -> list[ast.Call]:
    """Those in functions: what a module or a class declares is already bound when a mutant is put in."""
    functions = (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))
    found = (node for function in functions for node in ast.walk(function) if isinstance(node, ast.Call))
    return list(dict.fromkeys(found))


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


def module(path: Path) -> Any:
    return importlib.import_module(".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"))


KNOWN: dict[bytes, Any] = {}
"""What the stages of the sound shell returned."""


@dataclass(frozen=True, slots=True)
class Partly(odd.Overheard):
    """Takes from KNOWN what is there, but for the stages of one room."""

    room: str = ""

    def run(self, make: Any, /, *of: Any, **named: Any) -> Any:
        self._write_down(make, of, named)
        key, anew = key_of(make, of, named), make.__module__.startswith(f"shellgen.{self.room}")
        if anew or key not in KNOWN:
            result = make(*of, **named)
            if not self.room:
                KNOWN[key] = result
            return result
        return KNOWN[key]

    def start(self, make: Any, /, *of: Any, **named: Any) -> Any:
        result = self.run(make, *of, **named)
        return Pending(lambda: result)


def put_in(one: Crossed) -> None:
    """Puts a mutant in the place of its module, wherever its names have been imported."""
    inside = module(one.file)
    old = dict(vars(inside))
    exec(compile(one.text, str(one.file), "exec"), vars(inside))
    new = {id(value): vars(inside)[name] for name, value in old.items() if inspect.isroutine(value)}
    for other in [m for name, m in sys.modules.items() if name.startswith("shellgen")]:
        for name, value in list(vars(other).items()):
            if id(value) in new and new[id(value)] is not value:
                setattr(other, name, new[id(value)])
    for name, value in old.items():  # classes stay, as there are values of them, but take the new methods
        if inspect.isclass(value) and value.__module__ == inside.__name__:
            for member, made in vars(vars(inside)[name]).items():
                if inspect.isfunction(made) or isinstance(made, property):
                    setattr(value, member, made)
            setattr(inside, name, value)
    MEMORY.clear()


def wires_hold(one: Crossed) -> bool:
    """Whether the test that reads the wires of the pipeline finds nothing."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / one.file.name
        path.write_text(one.text, encoding="utf-8")
        try:
            for wire in test_wires.wires(path):
                test_wires.test_what_could_be_mistaken_arrives_under_its_own_name(wire)
            test_wires.test_every_stage_is_given_all_that_it_takes(path)
        except (AssertionError, TypeError):
            return False
    return True


def _tried(one: Crossed, room: str) -> None:
    """Ends the process with 0 if nothing notices."""
    with open(os.devnull, "w") as nowhere, redirect_stdout(nowhere), redirect_stderr(nowhere):
        try:
            put_in(one)
            flow = Partly(room=room)
            made = shell_of(odd.read(), flow), tuple(flow.given)
            odd.built = lambda: made
            code = int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", *FIGURES]))
            if not code and room != "pipeline":
                code = int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", f"tests/{room}", "-k", "not demo"]))
        except BaseException:
            code = 1
    os._exit(code)


def outcome(one: Crossed) -> str:
    room = one.file.relative_to(ROOT).parts[1]
    if room == "pipeline" and not wires_hold(one):
        return "noticed by its name"
    run = FORKS.Process(target=_tried, args=(one, room))
    run.start()
    run.join(LONG)
    if run.is_alive():
        run.kill()
        run.join()
        return "without end"
    if run.exitcode:
        return "noticed"
    wires = " and ".join(one.wires)
    print(f"survived {one.file.relative_to(ROOT)}: {one.what} {wires}\n  {one.before}\n  {one.after}", flush=True)
    return "survived"


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=pick(60, 1))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--minutes", type=float, default=20)
    parser.add_argument("--only", default=pick("", "pipeline/wear"), help="only files whose path has this in it")
    chosen = parser.parse_args()
    until, outcomes = time.monotonic() + 60 * chosen.minutes, Counter[str]()
    pool = crossings(chosen.only)
    shell_of(odd.read(), Partly())
    for one in random.Random(chosen.seed).sample(pool, min(chosen.count, len(pool))):
        if time.monotonic() > until:
            break
        outcomes[outcome(one)] += 1
        print(dict(outcomes), flush=True)
    print(f"of {len(pool)} there could be")


if __name__ == "__main__":
    os.environ |= {"OMP_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    os.chdir(ROOT)
    main()
