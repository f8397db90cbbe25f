"""A thousandth of the benchmark of made-up presets: each gives a shell that is sound, or one clear error."""

from __future__ import annotations

import random
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from shellgen import flow, pipeline, preset
from shellgen.errors import ShellgenError
from shellgen.shell import Shell

sys.path.insert(0, str(Path(__file__).parent.parent / "benchmarks"))
import generated

NUMBERS = range(1, 11)
ONCE_BAD = (1700, 2541, 2555, 4090, 4928, 5110, 7205)
"""Presets of the benchmark that ended in a fault of the program once."""


@pytest.fixture(scope="module")
def shells(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Shell]:
    """Those of the ten that came out good."""
    path, good = tmp_path_factory.mktemp("made-up") / "made-up.yaml", {}
    for number in NUMBERS:
        path.write_text(generated.small_text(random.Random(number)), encoding="utf-8")
        try:
            good[number] = pipeline.shell_of(preset.read(path), flow.Flow()).value
        except ShellgenError as error:
            assert str(error).isprintable()
    return good


@pytest.mark.parametrize("number", NUMBERS)
def test_a_made_up_shell_is_sound(number: int, shells: dict[int, Shell]) -> None:
    if number in shells:
        assert not list(generated.faults(shells[number]))


def test_a_third_of_them_come_out_good(shells: dict[int, Shell]) -> None:
    assert 3 * len(shells) >= len(NUMBERS)


@pytest.mark.parametrize("number", ONCE_BAD)
def test_what_was_mended_stays_so(number: int, tmp_path: Path) -> None:
    generated.scan(tmp_path / generated.SCAN)
    assert "FAULT" not in generated.tried(number, "shell", tmp_path / "made-up.yaml")


@pytest.mark.parametrize("number", NUMBERS)
def test_any_figures_end_well(number: int, tmp_path: Path) -> None:
    path = tmp_path / "made-up.yaml"
    path.write_text(generated.preset_text(random.Random(number)), encoding="utf-8")
    try:
        generated.build(path, "mesh")
    except ShellgenError as error:
        assert str(error).isprintable()


def test_a_shell_with_a_fault_is_told(shells: dict[int, Shell]) -> None:
    """A seam left open, a piece turned over, a piece lost, a hole in a master and a figure that is none."""
    shell = next(s for s in shells.values() if s.masters and len(s.cut.pieces) > 2)
    piece, flat, master = shell.cut.pieces[0], shell.pattern.flats[0], shell.masters[0]

    def told(**changed: object) -> str:
        return "; ".join(generated.faults(replace(shell, **changed)))

    def with_first(of: object) -> object:
        return replace(shell.pattern, flats=(of, *shell.pattern.flats[1:]))

    assert not told()
    longer = flat.flat + np.eye(len(flat.flat), 2) * 5
    assert "differ by" in told(pattern=with_first(replace(flat, flat=longer)))
    assert "folds over itself" in told(pattern=with_first(replace(flat, flat=flat.flat * (-1, 1))))
    assert "cover the dome" in told(cut=replace(shell.cut, pieces=(piece, piece, *shell.cut.pieces[2:])))
    assert "is not closed" in told(masters=(replace(master, faces=master.faces[1:]), *shell.masters[1:]))
    with pytest.raises(ValueError, match="not JSON compliant"):
        told(thickness=float("nan"))
