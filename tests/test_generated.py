"""A thousandth of the benchmark of made-up presets: each gives a good result or one clear error."""

from __future__ import annotations

import importlib.util
import random
from pathlib import Path

import pytest

from shellgen.errors import ShellgenError

_SPEC = importlib.util.spec_from_file_location(
    "generated", Path(__file__).parent.parent / "benchmarks" / "generated.py"
)
assert _SPEC and _SPEC.loader
generated = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(generated)


@pytest.mark.parametrize("number", range(1, 11))
def test_a_made_up_preset_gives_a_mesh_or_one_clear_error(number: int, tmp_path: Path) -> None:
    path = tmp_path / "made-up.yaml"
    path.write_text(generated.preset_text(random.Random(number)), encoding="utf-8")
    try:
        generated.build(path, "mesh")
    except ShellgenError as error:
        assert str(error).isprintable()
