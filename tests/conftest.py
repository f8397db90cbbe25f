"""Packs of the demo presets, each built once for all tests."""

import json
import sys
from functools import cache, partial
from pathlib import Path

import once
import pytest

HERE = Path(__file__).parent
PRESETS = sorted((HERE.parent / "presets").glob("*.yaml"))


def pytest_configure(config):
    once.begin()


def pytest_unconfigure(config):
    once.end()


def pytest_collection_modifyitems(items):
    """Tests of the whole program take longest, so they go first: no process is left with one while the others wait."""
    items.sort(key=lambda item: item.path.parent != HERE)


@pytest.fixture(scope="module", autouse=True)
def _forget():
    """What the stages have computed for one file of tests is of no use to the next."""
    yield
    if "shellgen.core.memory" in sys.modules:
        sys.modules["shellgen.core.memory"].MEMORY.clear()


@pytest.fixture(scope="session")
def packs():
    """Folder and record of a demo's pack by its preset's name, built when first asked for. Beside it lies
    findings.json: what `check` finds, which gives the build what both compute."""

    def made(folder, name):
        from shellgen import pipeline, read, record  # most files of tests do without
        from shellgen.core.flow import Flow
        from shellgen.pack import contents
        from shellgen.record.plain import plain

        content, flow = read(Path("presets") / f"{name}.yaml"), Flow()
        found = record.record(pipeline.shell_of(content, flow)).findings
        (folder / "findings.json").write_text(json.dumps(plain(found)))
        contents.build(content, flow=flow).write(folder / name)
        return folder / name, json.loads((folder / name / "shell.json").read_text())

    return cache(lambda name: once.shared(f"pack-{name}", partial(made, name=name)))


def pytest_generate_tests(metafunc):
    if "demo" in metafunc.fixturenames:
        metafunc.parametrize("demo", [path.stem for path in PRESETS])
