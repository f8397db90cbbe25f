"""A small share of the benchmark of made-up presets: each gives a sound shell or one clear error, and all is drawn."""

from __future__ import annotations

import random
import re
import sys
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from shellgen import preset
from shellgen.errors import FitError, PresetError, ShellgenError
from shellgen.pipeline.shell import Shell
from shellgen.preset import Preset, schema
from shellgen.workshop import nest

sys.path.insert(0, str(Path(__file__).parent.parent / "benchmarks"))
import generated
import made_up
import sound

NUMBERS = (2, 4, 9, 11)
"""Quick ones."""
DRAWS = 1200


def allowed(of: Mapping[str, Any], where: str) -> Iterator[str]:
    """Every field, option and kind of section that a JSON Schema knows, as paths."""
    yield from (_option(where, option) for option in of.get("enum", ()))
    for kind in of.get("anyOf", ()):
        yield from allowed(kind, _of_kind(kind, where))
    for name, field in of.get("properties", {}).items():
        yield f"{where}.{name}"
        yield from allowed(field, f"{where}.{name}")
    if "items" in of:
        yield from allowed(of["items"], f"{where}[]")


def written(value: Any, of: Mapping[str, Any], where: str) -> Iterator[str]:
    """Those of them that a preset writes."""
    if value in of.get("enum", ()):
        yield _option(where, value)
    for kind in of.get("anyOf", ()):
        key = _key(kind)
        if key is None or (isinstance(value, dict) and value[key] == kind["properties"][key]["const"]):
            yield from written(value, kind, _of_kind(kind, where))
    if isinstance(value, dict):
        for name, own in value.items():
            if name in of.get("properties", {}):
                yield f"{where}.{name}"
                yield from written(own, of["properties"][name], f"{where}.{name}")
    if isinstance(value, list) and "items" in of:
        for item in value:
            yield from written(item, of["items"], f"{where}[]")


def _option(where: str, value: Any) -> str:
    """The same for all members of a family; null and none are one, as are true and True."""
    return f"{re.sub('[(].*?[)]', '', where)} = {value}".lower()


def _key(kind: Mapping[str, Any]) -> str | None:
    """The field that says which member of a family a section is, if it is one."""
    return next((name for name, field in kind.get("properties", {}).items() if "const" in field), None)


def _of_kind(kind: Mapping[str, Any], where: str) -> str:
    key = _key(kind)
    return f"{where}({kind['properties'][key]['const']})" if key else where


def test_every_field_and_option_of_the_schema_is_drawn() -> None:
    known = schema.schema(Preset)
    trees = (made_up.draw(random.Random(number), exact=False).tree for number in range(DRAWS))
    drawn = {path for tree in trees for path in written(tree, known, "")}
    assert not set(allowed(known, "")) - drawn


def test_one_number_is_one_preset(tmp_path: Path) -> None:
    assert made_up.draw(random.Random(5)).text == made_up.draw(random.Random(5)).text


@pytest.mark.parametrize("number", range(40))
def test_any_preset_is_read_or_refused_in_one_line(number: int, tmp_path: Path) -> None:
    """Many of the figures on their bounds."""
    try:
        preset.read(made_up.draw(random.Random(number), bold=0.2, exact=False).write(tmp_path))
    except ShellgenError as error:
        assert str(error).isprintable()


@pytest.fixture(scope="module")
def shells(tmp_path_factory: pytest.TempPathFactory) -> Mapping[int, Shell]:
    """Those that came out good, each with its lists and masks."""
    folder, good = tmp_path_factory.mktemp("made-up"), {}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(nest.parts, "EFFORT", dict.fromkeys(nest.parts.EFFORT, (1, 5)))  # any sound layout will do
        for number in NUMBERS:
            try:
                good[number] = generated.build(made_up.draw(random.Random(number)), folder)
            except ShellgenError as error:
                assert str(error).isprintable()
    return good


def test_half_of_them_come_out_good(shells: Mapping[int, Shell]) -> None:
    assert 2 * len(shells) >= len(NUMBERS)


def test_a_refusal_is_counted_by_its_kind_and_a_mistake_by_its_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(error: Exception) -> generated.Outcome:
        def build(*_: Any, **__: Any) -> Shell:
            raise error

        monkeypatch.setattr(generated, "build", build)
        return generated.tried(1, tmp_path)

    refused = fails(FitError("L-mid-3 is 12.5 mm too long"))
    assert (refused.outcome, refused.kind) == (generated.REFUSED, "FitError # is # mm too long")
    assert (
        fails(PresetError("foam.thickness", '"12 yd" is too large.', "Give 1 mm to 50 mm.")).outcome
        == generated.REFUSED
    )
    assert fails(ZeroDivisionError("none")).kind.startswith("ZeroDivisionError test_generated.py:")
    assert fails(generated.Hang("more than 60 s")).outcome == "Hang"


def test_a_long_run_ends_in_a_hang(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(generated, "PATIENCE", 0.05)

    def build(*_: Any, **__: Any) -> Shell:
        while True:
            sum(range(1000))

    monkeypatch.setattr(generated, "build", build)
    assert generated.tried(1, tmp_path).outcome == "Hang"


def test_a_run_goes_on_with_what_its_log_lacks(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    log, numbers = tmp_path / "log.jsonl", []

    def tried(number: int, *_: Any, **__: Any) -> generated.Outcome:
        numbers.append(number)
        return generated.Outcome(number, generated.REFUSED, "FitError # is too long", other="seams: gores")

    monkeypatch.setattr(generated, "tried", tried)
    monkeypatch.setattr(generated, "hurry", lambda: None)  # for the whole process
    for count in ("2", "5"):
        monkeypatch.setattr(sys, "argv", ["generated.py", "--count", count, "--log", str(log)])
        generated.main()
    assert numbers == [1, 2, 3, 4, 5]
    told = generated.report(generated._logged(log))
    assert "5 presets: 5 refused" in told and "overturned by seams: FitError # is too long  (1, 2, 3, 4)" in told


def test_a_shell_with_a_fault_is_reported(shells: Mapping[int, Shell]) -> None:
    """A seam left open, a piece turned over, a piece lost and a hole in a master."""
    shell = next(s for s in shells.values() if s.top.masters and len(s.foam.cut.pieces) > 2)
    cut, pattern, casts = shell.foam.cut, shell.foam.pattern, shell.top.casts
    piece, flat, master = cut.pieces[0], pattern.flats[0], casts[0].solid

    def told(group: str, **changed: object) -> str:
        return "; ".join(sound.faults(replace(shell, **{group: replace(getattr(shell, group), **changed)})))

    def with_first(of: object) -> object:
        return replace(pattern, flats=(of, *pattern.flats[1:]))

    holed = replace(casts[0], solid=replace(master, faces=master.faces[1:]))
    assert not "".join(sound.faults(shell))
    assert "differ by" in told("foam", pattern=with_first(replace(flat, flat=flat.flat * 1.05)))
    assert "folds over itself" in told("foam", pattern=with_first(replace(flat, flat=flat.flat * (-1, 1))))
    assert "cover the dome" in told("foam", cut=replace(cut, pieces=(piece, piece, *cut.pieces[2:])))
    assert "is not closed" in told("top", casts=(holed, *casts[1:]))
