"""The house rules that a machine can watch."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

from shellgen.core import arrays

ROOT = Path(__file__).parent.parent
FILES = sorted(path for room in ("shellgen", "tests", "benchmarks") for path in (ROOT / room).rglob("*.py"))
LONGEST_FILE, LONGEST_FUNCTION, USUAL_FUNCTION = 300, 60, 30
LONGER_FILES = {
    "tests/dome/test_scan.py": "one table of scans, good and bad",
    "tests/finish/test_paint.py": "one table of colours and coats",
    "tests/geom/test_flattening.py": "laws and published values of one algorithm",
    "tests/geom/test_relaxation.py": "laws and published values of one algorithm",
    "tests/live/test_bench.py": "one server, all that it answers and refuses",
    "tests/live/test_live.py": "one preview, all that it shows",
    "tests/pattern/test_proof.py": "laws of one virtual build, and the faults that it must catch",
    "tests/pipeline/test_figures.py": "key figures of one pack, each computed a second way",
    "tests/preset/test_preset.py": "one table of mistakes",
    "tests/wear/test_wear.py": "one table of loads and lengths",
    "tests/wear/test_wearer.py": "one table of body measures",
}
LONGER_FUNCTIONS = {
    "shell_of": "the flow itself: one call a stage, and one name for each field of the shell",
}
AT_ALL = 500, 130  # lines of those files and functions


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """All of a file."""
    return tuple(ast.walk(tree(path)))


def code_lines(node: ast.FunctionDef | ast.AsyncFunctionDef, lines: list[str]) -> int:
    """Lines of a function without its docstring, comments and blank ones."""
    first = node.body[0]
    told = range(first.lineno, (first.end_lineno or 0) + 1) if ast.get_docstring(node) else range(0)
    here = (k for k in range(node.lineno, (node.end_lineno or 0) + 1) if k not in told)
    return sum(1 for k in here if lines[k - 1].strip() and not lines[k - 1].lstrip().startswith("#"))


def functions() -> list[tuple[str, str, int]]:
    """File, name and length of every function."""
    found = []
    for path in FILES:
        lines = path.read_text(encoding="utf-8").splitlines()
        for node in nodes(path):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                found.append((path.relative_to(ROOT).as_posix(), node.name, code_lines(node, lines)))
    return found


def test_files_are_short() -> None:
    for path in FILES:
        name, count = path.relative_to(ROOT).as_posix(), len(path.read_text(encoding="utf-8").splitlines())
        assert count <= (AT_ALL[0] if name in LONGER_FILES else LONGEST_FILE), f"{name} has {count} lines: split it"


def test_functions_are_short() -> None:
    found = functions()
    for file, name, count in found:
        most = AT_ALL[1] if name in LONGER_FUNCTIONS else LONGEST_FUNCTION
        assert count <= most, f"{name} in {file} has {count} lines of code"
    usual = sorted(count for *_, count in found)[int(0.95 * len(found))]
    assert usual <= USUAL_FUNCTION


def test_every_module_says_what_it_is_for() -> None:
    silent = [str(p) for p in FILES if p.name != "__init__.py" and not ast.get_docstring(tree(p))]
    assert not silent


BY_NAME = {"body", "build", "choose", "count", "curves", "expected", "graded", "places", "steps", "strands", "write"}
"""What members of families have, and `registry` finds."""


def module_of(path: Path) -> str:
    """Last word of a module's name."""
    return path.parent.name if path.name == "__init__.py" else path.stem


def called_names(path: Path) -> set[tuple[str, str]]:
    """Every name that a file uses, with the last word of the module that it is from, as far as can be told."""
    modules, found = {}, set()
    for node in nodes(path):
        if isinstance(node, ast.ImportFrom):
            modules |= {name.asname or name.name: name.name for name in node.names}
            found |= {((node.module or "").rpartition(".")[2], name.name) for name in node.names}
    for node in nodes(path):
        if isinstance(node, ast.Name):
            found.add((module_of(path), node.id))
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            found.add((modules.get(node.value.id, ""), node.attr))
    return found


def test_no_function_is_left_that_nobody_calls() -> None:
    """None that only tests call either: what they measure by stands in the tests."""
    package = [path for path in FILES if path.is_relative_to(ROOT / "shellgen")]
    used = set().union(*(called_names(path) for path in package))
    faces = ROOT / "shellgen/__init__.py", ROOT / "shellgen/cli/commands.py"
    unused = {
        (path.relative_to(ROOT).as_posix(), node.name)
        for path in package
        for node in tree(path).body
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
        and path not in faces
        and node.name not in BY_NAME
        and (module_of(path), node.name) not in used
    }
    assert not unused


def test_no_function_is_written_twice() -> None:
    """Bodies of five lines or more that are the same but for their names."""
    seen: dict[str, str] = {}
    twins = []
    for path in FILES:
        if path.is_relative_to(ROOT / "shellgen"):
            for node in nodes(path):
                if isinstance(node, ast.FunctionDef):
                    body = node.body[1:] if ast.get_docstring(node) else node.body
                    text = "\n".join(ast.unparse(line) for line in body)
                    if text.count("\n") >= 4:
                        here = f"{path.relative_to(ROOT)}:{node.name}"
                        twins += [(seen[text], here)] if text in seen else []
                        seen.setdefault(text, here)
    assert not twins


CHANGING = {
    "Doorkeeper": "the preview's visitors", "Errand": "work that may be called off",
    "Follower": "what was last read", "PackBuild": "how far it has come", "Workbench": "what its pages have opened",
    "Packer": "grows as it is written", "Workshop": "the preview's shells",
    "_GlbFile": "grows as it is written", "_Shelf": "sheets are used up",
    "Stack": "pages pile up", "DrawnWeb": "a drawing while it is mended", "SvgElement": "grows as it is read",
}  # fmt: skip


ARRAYS = {name for name, kind in vars(arrays).items() if "ndarray" in repr(kind)}
"""Names for arrays in types."""


def test_values_are_frozen_and_arrays_never_compared() -> None:
    """A dataclass is frozen unless it is listed, has slots, and is not told to compare arrays, which have no truth."""
    changing = set()
    for path in FILES:
        for node in nodes(path) if path.is_relative_to(ROOT / "shellgen") else ():
            if not isinstance(node, ast.ClassDef):
                continue
            made = [d for d in node.decorator_list if ast.unparse(d).startswith("dataclass(")]
            if not made:
                continue
            flags = {word.arg: ast.unparse(word.value) for word in made[0].keywords}  # type: ignore[attr-defined]
            told = [ast.unparse(field.annotation) for field in node.body if isinstance(field, ast.AnnAssign)]
            cached = any(
                ast.unparse(d) == "cached_property" for f in node.body for d in getattr(f, "decorator_list", ())
            )
            assert flags.get("slots") == "True" or cached, f"{path.name}: {node.name}"
            assert flags.get("eq") == "False" or not ARRAYS & set(re.findall(r"\w+", " ".join(told))), (
                f"{path.name}: {node.name}"
            )
            changing |= {node.name} if flags.get("frozen") != "True" else set()
    assert changing == set(CHANGING)


USUAL_NAMES = {"Params": "what a preset says of a stage: each stage has its own"}


def test_a_class_name_has_one_meaning() -> None:
    homes: dict[str, list[str]] = {}
    for path in (ROOT / "shellgen").rglob("*.py"):
        for node in nodes(path):
            if isinstance(node, ast.ClassDef):
                homes.setdefault(node.name.lstrip("_"), []).append(path.relative_to(ROOT).as_posix())
    twice = {name: files for name, files in homes.items() if len(files) > 1}
    assert twice.keys() == USUAL_NAMES.keys(), f"one name, several classes: {twice}"


def test_the_linter_finds_nothing_security_rules_included() -> None:
    words = [sys.executable, "-m", "ruff", "check", "--output-format", "concise", "shellgen", "tests", "benchmarks"]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def test_no_room_opens_a_network_or_runs_what_it_reads() -> None:
    """Only the preview may listen, on this computer; nothing evaluates text or unpickles. To write is no harm."""
    never = {"eval", "exec", "compile", "pickle", "marshal", "shelve", "urlopen", "requests", "ftplib", "smtplib"}
    for path in FILES:
        if path.is_relative_to(ROOT / "shellgen"):
            all_ = nodes(path)
            modules = {a.name.split(".")[0] for n in all_ if isinstance(n, ast.Import) for a in n.names}
            taken = [n for n in all_ if isinstance(n, ast.ImportFrom)]
            modules |= {(n.module or "").split(".")[0] for n in taken if [a.name for a in n.names] != ["dumps"]}
            called = {n.func.id for n in all_ if isinstance(n, ast.Call) and isinstance(n.func, ast.Name)}
            assert not (modules | called) & never, path
            if not path.is_relative_to(ROOT / "shellgen" / "live"):
                assert not modules & {"socket", "urllib", "http", "uvicorn", "starlette"}, path
