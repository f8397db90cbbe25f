"""A new preset: every line in the words of its field, and questions that write what was answered."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from shellgen import preset
from shellgen.cli import main, questions, terminal
from shellgen.fields.values import explained
from shellgen.preset import opening

ROOT = Path(__file__).parents[2]
ENTER = "\n"


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*words: str, answers: str = "") -> Result:
    return CliRunner().invoke(main, list(words), input=answers)


def lines(text: str) -> dict[str, tuple[str, str]]:
    """What each key is given, and its comment; keys are unique in a new preset but for those of spikes."""
    found = re.findall(r"^[ -]*#?(\w+): (.*?) +# (.*)$", text, re.MULTILINE)
    return {key: (value, comment) for key, value, comment in found}


@pytest.mark.parametrize("unit", opening.UNITS)
def test_every_line_is_explained_in_the_words_of_its_field(unit: str, here: Path) -> None:
    text = opening.text("mere", unit=unit)
    assert all(len(line) <= opening.WIDEST for line in text.splitlines())
    for line in opening.LINES:
        spec = opening.spec_of(line.field)
        comments = (spec["doc"], explained(spec), explained(spec).removeprefix(spec["doc"]).strip())
        mine = [row.partition("  # ")[2] for row in text.splitlines() if f"{line.steps[-1]}: " in row]
        assert set(comments) & set(mine), line.field
    (here / "mere.yaml").write_text(text, encoding="utf-8")
    (here / "tarn.yaml").write_text(re.sub("^( *)#(?=[a-z])", r"\1", text, flags=re.MULTILINE), encoding="utf-8")
    plain, all_on = (preset.read(here / name) for name in ("mere.yaml", "tarn.yaml"))
    assert (plain.wearer.group, plain.dome.own.length) == (None, 560), "nobody is an adult unsaid"
    assert all_on.wearer.years == 34 and all_on.schedule.event is not None and all_on.making.printer.bed_z == 220
    assert all_on.dome.own.width == pytest.approx(460, abs=4) and all_on.nest.sheets[0].count == 2


def test_the_first_lines_are_those_that_matter() -> None:
    text = opening.text("mere")
    keys = ("Lengths are", "group:", "years:", "paper:", "sheets:", "printer:", "event:", "harness:", "dome:")
    order = [text.index(word) for word in keys]
    assert order == sorted(order)


def test_without_a_terminal_nothing_is_asked() -> None:
    result = run("new", "mere")
    assert result.exit_code == 0 and result.stdout == "mere.yaml is ready to edit. Next: shellgen check mere.yaml\n"


def test_on_a_terminal_it_asks_unless_told_not_to(monkeypatch: pytest.MonkeyPatch, here: Path) -> None:
    monkeypatch.setattr(terminal, "is_person", lambda: True)
    assert "Age in years" in run("new", "mere", answers=ENTER * 20).stdout
    assert "Age in years" not in run("new", "tarn", "--no-questions").stdout
    assert "Age in years" not in run("new", "pool", "--like", str(ROOT / "presets" / "marsh-warden.yaml")).stdout
    assert (here / "mere.yaml").read_text("utf-8") == (here / "tarn.yaml").read_text("utf-8").replace("tarn", "mere")


def test_enter_accepts_every_default(here: Path) -> None:
    assert run("new", "mere", "--questions", answers=ENTER * 20).exit_code == 0
    run("new", "tarn")
    assert (
        lines((here / "mere.yaml").read_text("utf-8")).keys() == lines((here / "tarn.yaml").read_text("utf-8")).keys()
    )
    kept, usual = (preset.read(here / name) for name in ("mere.yaml", "tarn.yaml"))
    assert (kept.dome.own.length, kept.nest.sheets[0].length) == (usual.dome.own.length, usual.nest.sheets[0].length)


def test_answers_are_written_and_mistakes_asked_again(here: Path) -> None:
    answers = (
        "in",
        "child",
        "",
        "9",
        "52",
        "200",
        "None",
        "",
        "1 cm",
        "24",
        "24 in",
        "next May",
        "2027-05-01",
        "vest",
    )
    result = run("new", "mere", "--questions", answers="\n".join(answers) + "\n")
    assert result.exit_code == 0, result.output
    for words in ('"200 in" is too large. Give 5.906 in to 23.62 in', '"next May" is not a day of the calendar'):
        assert words in result.output
    made = preset.read(here / "mere.yaml")
    assert (made.wearer.group, made.wearer.years, made.wearer.stature) == ("child", 9, pytest.approx(52 * 25.4))
    assert made.wearer.shoulder_breadth is None and made.print.paper == "Letter"
    assert (made.foam.thickness, made.nest.sheets[0].length) == (10.0, pytest.approx(24 * 25.4))
    assert str(made.schedule.event) == "2027-05-01" and made.wear.name == "vest"
    assert made.dome.own.length < 500, "fitted to the child"


def test_an_adult_is_not_asked_for_years_and_each_question_is_the_fields_own(here: Path) -> None:
    result = run("new", "mere", "--questions", answers="in\nadult\n\n11 1/2\n" + ENTER * 20)
    shown = " ".join(result.output.split())
    for field in questions.ASKED:
        words = " ".join(explained(opening.spec_of(field), "in").split())
        assert (words in shown) == (field != "wearer.years"), field
    made = preset.read(here / "mere.yaml").wearer
    assert (made.group, made.shoulder_breadth) == ("adult", pytest.approx(11.5 * 25.4))


def test_nothing_is_asked_for_a_name_that_cannot_be_and_nothing_written_if_stopped(here: Path) -> None:
    (here / "pond.yaml").write_text("dome: plan\n", encoding="utf-8")
    for name in ("pond", "Marsh Warden"):
        result = run("new", name, "--questions", answers=ENTER * 20)
        assert result.exit_code == 2 and result.stdout == ""
    assert run("new", "mere", "--questions", answers="mm\n").exit_code == 1
    assert not (here / "mere.yaml").exists()
