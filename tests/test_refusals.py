"""What is refused before any work is done."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from empty_record import empty

from shellgen import pack
from shellgen.cli import main
from shellgen.record import Record


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_pack_does_not_replace_the_folder_one_stands_in(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (here / "pond.yaml").write_text("dome: plan\n", encoding="utf-8")
    (here / "new" / "deep").mkdir(parents=True)
    for start, out in (("new/deep", "."), ("new/deep", str(here / "new" / "deep"))):
        monkeypatch.chdir(here / start)
        result = run("build", str(here / "pond.yaml"), "--out", out)
        assert result.exit_code == 2 and "the current folder" in result.stderr
    pack.write(here / "old", empty(Record, name="old"), {"a.txt": b""})
    (here / "old" / "tables").mkdir()
    monkeypatch.chdir(here / "old" / "tables")
    assert "the current folder" in run("build", str(here / "pond.yaml"), "--out", "..").stderr


def test_unknown_items_under_prices_are_refused_at_once(here: Path) -> None:
    (here / "pond.yaml").write_text("prices: {items: [{item: paint, price: 3}, {item: gold}]}\n", encoding="utf-8")
    result = run("build", "pond.yaml")
    assert result.exit_code == 2 and 'prices.items[2].item: "gold"' in result.stderr
    assert "seam plan" not in result.stderr
    (here / "pond.yaml").write_text("prices: {items: [{item: 'strap webbing 40 mm', price: 3}]}\n", encoding="utf-8")
    assert run("check", "--figures", "pond.yaml").exit_code == 0
