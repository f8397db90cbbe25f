"""The digest of a preset: of its content alone, and of nothing private."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from shellgen import preset
from shellgen.fields.params import Chosen, File
from shellgen.preset import Preset
from shellgen.preset.digest import digest
from shellgen.wear.wearer import Params


def read(path: Path, text: str) -> Preset:
    path.parent.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return preset.read(path)


def test_it_is_of_what_is_said_not_of_how_or_where(tmp_path: Path) -> None:
    one = digest(read(tmp_path / "pond.yaml", "dome: {length: 20 in}\n"))
    assert one == digest(read(tmp_path / "other" / "pond.yaml", "# mine\ndome:\n  length: 508 mm\nmarks: {}\n"))
    assert one != digest(read(tmp_path / "pond.yaml", "dome: {length: 509 mm}\n"))
    assert one != digest(read(tmp_path / "mere.yaml", "dome: {length: 20 in}\n")), "the name is content"
    assert len(one) == 64 and int(one, 16)


def test_of_a_file_only_what_it_holds_counts() -> None:
    def scanned(where: str, content: str) -> str:
        own = File(where, Path("/") / where, content)
        return digest(replace(preset.Preset(name="pond"), dome=Chosen("scan", (own,))))

    assert scanned("a/form.stl", "1") == scanned("b/form.stl", "1") != scanned("a/form.stl", "2")


@pytest.mark.parametrize("name", ["stature", "neck_girth", "mass"])
def test_private_measures_are_not_found_by_trying_them_all(name: str) -> None:
    """All of a range as wide as a step: there are few digests, and each stands for a step or for most of one."""
    usual = {"stature": 1690.0, "neck_girth": 330.0, "mass": 68000.0}

    def of(value: float, *, share: bool) -> str:
        who = Params(**{**usual, name: value}, share=share)  # type: ignore[arg-type]
        return digest(preset.Preset(name="pond", wearer=who))

    tried = [usual[name] * (1 + k / 500) for k in range(-25, 26)]
    assert len({of(value, share=False) for value in tried}) <= 2
    assert len({of(value, share=True) for value in tried}) == len(tried)
