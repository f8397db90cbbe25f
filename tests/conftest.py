"""Packs of the demo presets, each built once for all tests."""

import json
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


@pytest.fixture(scope="session")
def packs():
    """Folder and record of a demo's pack by its preset's name, built when first asked for."""

    def made(folder, name):
        from shellgen import build, read  # most files of tests do without

        build(read(Path("presets") / f"{name}.yaml")).write(folder / name)
        return folder / name, json.loads((folder / name / "shell.json").read_text())

    return cache(lambda name: once.shared(f"pack-{name}", partial(made, name=name)))


def pytest_generate_tests(metafunc):
    if "demo" in metafunc.fixturenames:
        metafunc.parametrize("demo", [path.stem for path in PRESETS])
