"""Packs of the demo presets, each built once for all tests."""

import json
from pathlib import Path

import pytest

from shellgen import preset
from shellgen.pack import contents

PRESETS = sorted((Path(__file__).parent.parent / "presets").glob("*.yaml"))


@pytest.fixture(scope="session")
def packs(tmp_path_factory):
    """Folder and record of a demo's pack by its preset's name, built when first asked for."""
    root, made = tmp_path_factory.mktemp("packs"), {}

    def pack(name):
        if name not in made:
            contents.build(preset.read(Path("presets") / f"{name}.yaml")).write(root / name)
            made[name] = (root / name, json.loads((root / name / "shell.json").read_text()))
        return made[name]

    return pack


def pytest_generate_tests(metafunc):
    if "demo" in metafunc.fixturenames:
        metafunc.parametrize("demo", [path.stem for path in PRESETS])
