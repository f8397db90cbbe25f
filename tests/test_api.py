"""What other programs may use: it works as its own page says, is typed, and costs nothing until it is used."""

from __future__ import annotations

import doctest
import inspect
import subprocess
import sys
import tomllib
from importlib import metadata
from pathlib import Path

from packaging.requirements import Requirement

import shellgen

ROOT = Path(__file__).parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def test_the_examples_run() -> None:
    found = doctest.testmod(shellgen)
    assert found.attempted > 10 and not found.failed


def test_all_is_there_typed_and_documented() -> None:
    for name in shellgen.__all__:
        thing = getattr(shellgen, name)
        assert thing.__doc__, name
        if inspect.isfunction(thing):
            assert "return" in thing.__annotations__
            assert set(inspect.signature(thing).parameters) <= set(thing.__annotations__)
    assert (ROOT / "shellgen" / "py.typed").exists()
    assert not hasattr(shellgen, "no_such_name")


def test_importing_the_package_brings_nothing_heavy() -> None:
    program = "import sys, shellgen; sys.exit(any(m in sys.modules for m in ('numpy', 'yaml', 'shellgen.preset')))"
    subprocess.run([sys.executable, "-c", program], check=True)


def test_what_is_installed_is_what_the_project_asks_for() -> None:
    """What an inventory (SBOM) is made from: every library in a closed range, installed within it."""
    for line in PROJECT["dependencies"]:
        wanted = Requirement(line)
        assert {s.operator for s in wanted.specifier} == {">=", "<"}, f"{line}: from a version to below another"
        assert metadata.version(wanted.name) in wanted.specifier, line
    assert all((ROOT / path).read_text(encoding="utf-8").strip() for path in PROJECT["license-files"])
