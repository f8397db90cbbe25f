"""Lists and stages: what they find, how wide they are, and that a wrong word is answered before any work."""

from __future__ import annotations

import dataclasses
import os
import re
import subprocess
import sys
from typing import Any

import pytest
from click.testing import CliRunner, Result

from shellgen.cli import main, stages
from shellgen.cli.lists import LISTS
from shellgen.fields import params
from shellgen.preset import Preset, resolved
from shellgen.record import Record
from shellgen.record.plain import optional

ROWS = resolved.reference(Preset).rows
WIDE = ("schema", "record-schema", "presets")
"""Lists for programs, and paths."""


def run(*words: str, columns: int = 80) -> Result:
    return CliRunner(env={"COLUMNS": str(columns)}).invoke(main, list(words))


def fields(*words: str) -> list[str]:
    """The fields that are listed."""
    lines = run("list", "fields", *words).stdout.splitlines()
    return [line.strip().partition(":")[0] for line in lines if line.startswith("  ") and line[2] != " "]


def test_a_section_lists_its_lines_and_no_others() -> None:
    for name in params.specs(Preset):
        mine = [row[0] for row in ROWS if row[0].split(".")[0].removesuffix("[]") == name]
        assert fields(name) == mine and mine, name
    assert fields("spike") == fields("spikes")
    assert fields("wearers") == fields("wearer"), "as the list of wearers names it"


def test_a_word_finds_names_and_help() -> None:
    found = fields("neck")
    assert {"wearer.neck_girth", "wearer.back_length", "seams.least_neck"} <= set(found)
    for name, _, _, doc in ROWS:
        assert (name in found) or "neck" not in f"{name} {doc}".lower()
    assert fields("spikes", "tip_radius") == ["spikes[].tip_radius"] == fields("Tip", "RADIUS", "spikes")
    none = run("list", "fields", "xyzzy")
    assert none.exit_code == 2 and "No line of a preset has xyzzy" in none.stderr


@pytest.mark.parametrize("columns", (50, 80, 120))
def test_every_list_fits_the_terminal_and_loses_no_word(columns: int) -> None:
    for topic in (topic for topic in LISTS if topic not in WIDE):
        assert all(len(line) <= columns for line in run("list", topic, columns=columns).stdout.splitlines()), topic
    whole = " ".join(run("list", "fields", columns=columns).stdout.split())
    assert all(f"{doc} Allowed: {allowed}." in whole for _, _, allowed, doc in ROWS)


def test_a_pipe_is_80_columns_wide() -> None:
    env = {key: value for key, value in os.environ.items() if key not in ("COLUMNS", "LINES")}
    words = [sys.executable, "-m", "shellgen", "list", "fields", "spikes"]
    lines = subprocess.run(words, capture_output=True, check=True, text=True, env=env).stdout.splitlines()
    assert 70 < max(map(len, lines)) <= 80


def test_stages_are_the_keys_of_the_record() -> None:
    assert sorted(stages.STAGES) == sorted(field.name for field in dataclasses.fields(Record) if not optional(field))
    assert all(name in run("show").stdout and about in run("show").stdout for name, about in stages.STAGES.items())
    assert run("show").stdout == run("list", "stages").stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("show", "foo", "marsh-warden"), "STAGE: foo is not a stage. Choose dome, plates"),
        (("show", "foo"), "and 21 more: shellgen list stages."),
        (("show", "preset", "marsh-warden"), "STAGE: preset is not a stage"),
        (("show", "marsh-warden", "pieces"), "The stage comes first: shellgen show pieces marsh-warden"),
        (("show", "pieces"), "PRESET: The preset is missing. Write it last: shellgen show pieces my-shell.yaml"),
        (("show", "pieces", "nowhere"), "nowhere: There is no such file"),
        (("list", "necks"), 'Search every line of a preset with "shellgen list fields necks"'),
        (("list", "layouts", "hexes"), "layouts cannot be searched"),
    ],
)
def test_a_wrong_word_is_answered_before_anything_is_computed(
    words: tuple[str, ...], said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: Any) -> None:
        raise AssertionError("computed for nothing")

    monkeypatch.setattr("shellgen.pipeline.shell_of", never)
    result = run(*words)
    assert (result.exit_code, result.stdout) == (2, "") and said in result.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("show foo marsh-warden", "foo is not a stage"),
        ("show pieces no-such.yaml", "There is no such file"),
        ("check no-such.yaml", "There is no such file"),
        ("build no-such.yaml", "There is no such file"),
        ("build presets", "This is a folder"),
        ("build tests/bad_presets/tab.yaml", "Here is a tab"),
        ("check tests/bad_presets/png.yaml", "not UTF-8"),
        ("share no-such.yaml", "There is no such file"),
        ("live no-such.yaml", "There is no such file"),
        ("sizes no-such.yaml --for pyproject.toml", "no-such.yaml: There is no such file"),
        ("sizes marsh-warden --for no-such.yaml", "There is no such file"),
    ],
)
def test_what_is_wrong_at_first_sight_is_answered_without_the_rooms_that_compute(words: str, said: str) -> None:
    program = (
        "import sys\nfrom shellgen.cli import main\n"
        "try: main(sys.argv[1:])\nexcept SystemExit as end: print(end.code)\n"
        "print([name for name in ('numpy', 'scipy', 'shapely', 'reportlab') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", program, *words.split()], capture_output=True, check=True, text=True)
    assert done.stdout == "2\n[]\n" and said in done.stderr


def test_no_help_names_a_list_that_there_is_not() -> None:
    helps = " ".join(" ".join(run(command, "--help").stdout.split()) for command in main.commands)
    named = re.findall(r"shellgen list ([\w-]+)", helps)
    assert named and set(named) <= set(LISTS)
    assert {"pieces", "seams", "spikes"} <= set(stages.STAGES), "the help of show names them"
