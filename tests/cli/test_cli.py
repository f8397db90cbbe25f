"""The command line: what is printed where, exit codes, and a quick start."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner, Result
from pond import RECORD

from shellgen import pipeline, preset, record
from shellgen.cli import main
from shellgen.core import worker
from shellgen.core.flow import Flow
from shellgen.errors import FitError, PresetError
from shellgen.pack import contents
from shellgen.preset import starter
from shellgen.record.findings import FindingEntry
from shellgen.record.plain import plain

ROOT = Path(__file__).parents[2]


def run(*words: str) -> Result:
    return CliRunner().invoke(main, list(words))


def replace_build(monkeypatch: pytest.MonkeyPatch, build: Any) -> None:
    """`build` in the place of the whole flow."""

    def shell_of(content: preset.Preset, flow: Flow) -> SimpleNamespace:
        made: SimpleNamespace = build(content, flow=flow, progress=flow.show, exact_solids=False)
        return made

    monkeypatch.setattr(contents, "build", build)
    monkeypatch.setattr(pipeline, "shell_of", shell_of)
    monkeypatch.setattr(worker, "started", nullcontext)
    monkeypatch.setattr(record, "record", lambda shell: shell.record)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def built(here: Path, monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """A pond.yaml, and a build that is only told: the folders that packs are written to."""
    (here / "pond.yaml").write_text("dome: plan\n", encoding="utf-8")
    folders: list[Path] = []

    def build(content: preset.Preset, *, flow: Any, progress: Any, **_: bool) -> SimpleNamespace:
        progress("surface")
        return SimpleNamespace(record=RECORD, seconds={"surface": 0.25}, write=folders.append)

    replace_build(monkeypatch, build)
    return folders


def test_build_tells_a_person(built: list[Path]) -> None:
    result = run("build", "pond.yaml", "--timings")
    assert result.exit_code == 0 and built == [Path("out/pond")]
    for words in (
        f"pond is in {Path('out/pond')}",
        "size                    560 x 460 x 180 mm",
        "pieces                  2",
        "largest stretch         2.1 % in C-crown-1",
        "seams                   1, 0.50 m in all when flat",
        "deviates from the dome  2.3 mm as glued, 0.6 mm when formed",
        "spikes                  3 from 2 masters",
        "ring strip              0.24 m",
        "Caution: A tip is sharp",
        "surface     0.25 s",
    ):
        assert words in result.stdout
    assert "all well" not in result.stdout
    assert "s  surface" in result.stderr


def test_build_tells_a_program(built: list[Path]) -> None:
    result = run("build", "pond.yaml", "--json", "--timings", "--out", "elsewhere")
    assert json.loads(result.stdout) == plain(RECORD) and built == [Path("elsewhere")]
    assert "0.25 s" in result.stderr


def test_show_prints_one_stage(built: list[Path]) -> None:
    lines = run("show", "pieces", "pond.yaml").stdout.splitlines()
    assert lines[0].split()[0] == "id" and "stretch_max" in lines[0]
    assert lines[2].startswith("C-crown-1") and "0.021" in lines[2].split()
    assert json.loads(run("show", "seams", "pond.yaml", "--json").stdout) == plain(RECORD.seams)
    assert re.search(r"^rim_length_mm +1630$", run("show", "dome", "pond.yaml").stdout, re.MULTILINE)
    wrong = run("show", "peaces", "pond.yaml")
    assert wrong.exit_code == 2 and "Did you mean pieces?" in wrong.stderr


def test_mistakes_are_one_line_and_exit_code_two(
    built: list[Path], here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (here / "bad.yaml").write_text("dome:\n  lenght: 3\n", encoding="utf-8")
    for words, message in (
        (("check", "bad.yaml"), "Error: bad.yaml:2: dome.lenght: There is no such line"),
        (("build", "none.yaml"), "Error: none.yaml: There is no such file"),
        (("build", "nowhere"), "Error: nowhere: There is no such file"),
        (("check", "x" * 5000), "Error: " + "x" * 5000 + ": The file cannot be read"),
        (("check", "a\0b"), "Error: "),
        (("new", "Marsh Warden"), 'Error: "Marsh Warden" cannot name a preset'),
        (("new", "pond"), "Error: pond.yaml: This file exists already"),
        (("new", "mere", "--like", "bad.yaml"), "Error: bad.yaml:2: dome.lenght"),
        (("list", "layout"), "Error: TOPIC: layout is not a topic. Choose layouts"),
    ):
        result = run(*words)
        assert result.exit_code == 2 and result.stderr.startswith(message) and result.stdout == ""
        assert result.stderr.count("\n") == 1
    assert not (here / "mere.yaml").exists()

    def refuse(content: preset.Preset, *, flow: Any, progress: Any, **_: bool) -> None:
        raise FitError("a piece is larger than the sheet")

    replace_build(monkeypatch, refuse)
    result = run("build", "pond.yaml")
    assert (result.exit_code, result.stderr) == (2, "Error: pond.yaml: a piece is larger than the sheet\n")


def test_a_place_that_cannot_be_written_is_told_before_anything_is_computed(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object, **__: object) -> None:
        raise AssertionError("computed for nothing")

    replace_build(monkeypatch, never)
    monkeypatch.setattr("shellgen.share.build", never)
    monkeypatch.setattr("shellgen.sizes.batch.build", never)
    for name in ("pond", "wearers"):
        text = "dome: plan\n" if name == "pond" else "wearers: [{name: newt, years: 9}]\n"
        (here / f"{name}.yaml").write_text(text, encoding="utf-8")
    (here / "photos").mkdir()
    (here / "photos" / "cat.jpg").write_bytes(b"x")
    (here / "link").symlink_to(here / "new")
    sizes = ("sizes", "pond.yaml", "--for", "wearers.yaml")
    for words, place, message in (
        (("build", "pond.yaml"), "pond.yaml", "is not a folder"),
        (("build", "pond.yaml"), "link", "is not a folder"),
        (("build", "pond.yaml"), "photos", "holds files but no shell.json"),
        (("build", "pond.yaml"), "pond.yaml/in", "Not a directory"),
        (("build", "pond.yaml"), "link/in", "Not a directory"),
        (("build", "pond.yaml"), "x" * 300, "File name too long"),
        (("share", "pond.yaml"), "photos", "Is a directory"),
        (("share", "pond.yaml"), "pond.yaml/a.zip", "Not a directory"),
        (sizes, "pond.yaml", "Not a directory"),
    ):
        result = run(*words, "--out", place)
        assert result.exit_code == 2 and message in result.stderr and result.stderr.count("\n") == 1
    assert sorted(path.name for path in here.iterdir()) == ["link", "photos", "pond.yaml", "wearers.yaml"]


def test_a_stages_mistake_is_given_its_line(built: list[Path], here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (here / "pond.yaml").write_text("plates:\n  pleurals: 9\n", encoding="utf-8")

    def refuse(content: preset.Preset, *, flow: Any, progress: Any, **_: bool) -> None:
        raise PresetError("layout.pleurals", "9 pleurals do not go with 5 vertebrals.", "Give 4 to 6.")

    replace_build(monkeypatch, refuse)
    assert run("build", "pond.yaml").stderr == (
        "Error: pond.yaml:2: plates.pleurals: 9 pleurals do not go with 5 vertebrals. Give 4 to 6.\n"
    )


def test_a_fault_of_ours_is_no_mistake_of_theirs(built: list[Path], monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(content: preset.Preset, *, flow: Any, progress: Any, **_: bool) -> None:
        raise ZeroDivisionError

    replace_build(monkeypatch, fail)
    assert run("build", "pond.yaml").exit_code == 1


def test_a_stage_that_is_none_is_refused_before_anything_is_computed(
    built: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object, **__: object) -> None:
        raise AssertionError("computed for nothing")

    replace_build(monkeypatch, never)
    for word in ("preset", "foo"):
        assert run("show", word, "pond.yaml").exit_code == 2
    assert "or preset" not in run("show", "--help").stdout


FAULT = FindingEntry("fault", "nest", "no room for C-mid-1", False)


@pytest.mark.parametrize("command", ("build", "check"))
def test_faults_come_first_and_end_a_command_with_code_1(
    command: str, built: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    faulty = replace(RECORD, findings=(*RECORD.findings, FAULT))

    def build(*_: object, **__: object) -> SimpleNamespace:
        return SimpleNamespace(record=faulty, seconds={}, write=built.append)

    replace_build(monkeypatch, build)
    result = run(command, "pond.yaml")
    assert result.exit_code == 1 and "1 fault" in result.stdout
    lines = result.stdout.splitlines()
    fault, caution = lines.index("FAULT: No room for C-mid-1"), lines.index("Caution: A tip is sharp")
    assert fault < 2 and fault < caution
    assert built == ([Path("out/pond")] if command == "build" else []), "the pack is written, with its faults"
    assert run(command, "pond.yaml", "--json").exit_code == 1


def test_check_says_what_it_found_and_is_good_only_without(built: list[Path], monkeypatch: pytest.MonkeyPatch) -> None:
    assert run("check", "pond.yaml").stdout == "Caution: A tip is sharp\npond.yaml has 1 caution.\n"
    told = json.loads(run("check", "pond.yaml", "--json").stdout)
    assert told["findings"] == plain(RECORD.findings) and told["figures"]["plates.layout"] == "turtle"
    replace_build(monkeypatch, lambda *_, **__: SimpleNamespace(record=replace(RECORD, findings=())))
    assert run("check", "pond.yaml").stdout == "pond.yaml has no faults or cautions.\n"


def test_check_shows_every_figure(here: Path) -> None:
    (here / "pond.yaml").write_text("dome: {length: 20 in}\n", encoding="utf-8")
    result = run("check", "--figures", "pond.yaml")
    assert result.exit_code == 0
    assert ["dome.length", "508", "mm", "560", "mm"] in [line.split() for line in result.stdout.splitlines()]
    figures = json.loads(run("check", "--figures", "pond.yaml", "--json").stdout)
    assert figures["dome.length"] == "508 mm" and figures["plates.layout"] == "turtle"


def test_new_presets_are_good_and_keep_their_comments(here: Path) -> None:
    assert run("new", "mere").exit_code == run("new", "deep/tarn.yaml").exit_code == 0
    assert run("new", "second-warden", "--like", str(ROOT / "presets" / "marsh-warden.yaml")).exit_code == 0
    for path in ("mere.yaml", "deep/tarn.yaml", "second-warden.yaml"):
        assert preset.read(here / path).name == Path(path).stem
        text = (here / path).read_text(encoding="utf-8")
        assert text.count("#") > 8 and (here / path).with_name(starter.SCHEMA_FILE).exists()
    assert "The Marsh Warden: the old tortoise" in (here / "second-warden.yaml").read_text(encoding="utf-8")


def test_demos_are_found_by_name(here: Path) -> None:
    result = run("check", "--figures", "marsh-warden")
    assert result.exit_code == 0 and "dome.length" in result.stdout
    assert "marsh-warden.yaml" in run("list", "presets").stdout


@pytest.mark.parametrize(
    ("topic", "word"),
    [
        ("layouts", "hexes"),
        ("profiles", "cone"),
        ("surfaces", "plan"),
        ("papers", "210 x 297 mm"),
        ("fields", "spikes[].base_diameter"),
        ("schema", '"$schema"'),
        ("record-schema", '"title": "shell.json"'),
    ],
)
def test_lists(topic: str, word: str) -> None:
    result = run("list", topic)
    assert result.exit_code == 0 and word in result.stdout
    assert topic in run("list").stdout


def test_help_starts_quickly_and_heavy_rooms_stay_shut() -> None:
    program = (
        "import sys\nfrom shellgen.cli import main\n"
        "try: main(sys.argv[1:], standalone_mode=False)\nexcept SystemExit: pass\n"
        "print([name for name in ('numpy', 'scipy', 'yaml', 'cadquery', 'shapely') if name in sys.modules])"
    )
    before = os.times()
    done = subprocess.run([sys.executable, "-c", program, "--help"], capture_output=True, check=True)
    after = os.times()
    assert done.stdout.splitlines()[-1] == b"[]"
    spent = after.children_user + after.children_system - before.children_user - before.children_system
    assert spent < 0.5  # of the processor's time, so that a busy machine does not fail the test
