"""The command chart, and what a drawing changes: the preview's files, a pack's digest and what is shared."""

from __future__ import annotations

import re
from pathlib import Path

import charts
import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from shellgen import cli, preset
from shellgen.core.flow import Flow
from shellgen.draw import fiducials
from shellgen.pipeline import dome
from shellgen.plates import drawn
from shellgen.preset import digest
from shellgen.share import form, plain

PRESET = "name: toad\ndome: {length: 420, width: 340, height: 120}\n"


def ran(*words: str) -> str:
    done = CliRunner().invoke(cli.main, list(words))
    assert done.exit_code == 0, done.output
    return done.output


@pytest.fixture(scope="module")
def toad(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A preset with its chart, and one that is drawn on the chart."""
    folder = tmp_path_factory.mktemp("toad")
    (folder / "toad.yaml").write_text(PRESET)
    ran("chart", str(folder / "toad.yaml"))
    (folder / "drawn.yaml").write_text(PRESET + "plates: {layout: drawn, file: toad-chart.svg}\n")
    return folder


def test_a_chart_is_an_svg_with_layers_and_two_pdfs_at_true_size(toad: Path) -> None:
    text = (toad / "toad-chart.svg").read_text()
    assert re.findall(r'<g id="(\w+)"', text) == ["guides", "lines", "spikes", "names"]
    width, height = map(float, re.findall(r'(?:width|height)="([\d.]+)mm"', text)[:2])
    page = PdfReader(toad / "toad-chart.pdf").pages[0].mediabox
    assert [float(page.width), float(page.height)] == pytest.approx([width * 72 / 25.4, height * 72 / 25.4], abs=0.01)
    assert len(PdfReader(toad / "toad-chart-A4.pdf").pages) > 3
    assert text.count("data-marker=") == len(fiducials.BITS) == 4


def test_the_preset_drawn_on_its_own_chart_has_the_same_plates(toad: Path) -> None:
    first, again = (dome.plated(preset.read(toad / f"{n}.yaml"), Flow())[1] for n in ("toad", "drawn"))
    assert {plate.name for plate in first.plates} == {plate.name for plate in again.plates}


def test_a_chart_without_lines_can_be_had_while_the_drawing_is_wrong(toad: Path) -> None:
    bad = toad / "bad.svg"
    text = (toad / "toad-chart.svg").read_text()
    bad.write_text(text.replace('<g id="lines"', '<path d="M150 200h9"/><g id="lines"'))
    (toad / "bad.yaml").write_text(PRESET + "plates: {layout: drawn, file: bad.svg}\n")
    failed = CliRunner().invoke(cli.main, ["chart", str(toad / "bad.yaml")])
    assert failed.exit_code == 2 and "bad-problem.svg in the same folder" in failed.output
    assert (toad / "bad-problem.svg").read_bytes().startswith(b"<?xml")
    assert re.search(r"bad\.yaml:3: plates\.file: bad\.svg: ", failed.output)
    ran("chart", "--no-lines", "--whole", "--out", str(toad / "empty"), str(toad / "bad.yaml"))
    assert 'id="lines"' in (toad / "empty" / "toad-chart.svg").read_text()


def test_it_is_in_inches_on_letter_paper(toad: Path) -> None:
    (toad / "letter.yaml").write_text(PRESET + "print: {paper: Letter}\n")
    ran("chart", "--no-lines", "--out", str(toad / "letter"), str(toad / "letter.yaml"))
    text = (toad / "letter" / "toad-chart.svg").read_text()
    assert 'data-girth="50.8"' in text and "Figures are inches of tape" in text


def test_the_drawing_counts_by_its_content(toad: Path) -> None:
    """The preview follows it, and a pack's digest changes with it, not with its name."""
    first = preset.read(toad / "drawn.yaml")
    assert list(preset.files(first)) == [toad / "toad-chart.svg"]
    (toad / "other.svg").write_bytes((toad / "toad-chart.svg").read_bytes())
    (toad / "other.yaml").write_text(PRESET + "plates: {layout: drawn, file: other.svg}\n")
    assert digest.digest(preset.read(toad / "other.yaml")) == digest.digest(first)
    (toad / "other.svg").write_bytes((toad / "toad-chart.svg").read_bytes().replace(b"</svg>", b" </svg>"))
    assert digest.digest(preset.read(toad / "other.yaml")) != digest.digest(first)


def test_what_is_shared_has_the_lines_on_a_fresh_chart(toad: Path, tmp_path: Path) -> None:
    secret = (toad / "toad-chart.svg").read_text().replace("<title>", "<desc>drawn by Ada in /home/ada</desc><title>")
    (toad / "secret.svg").write_text(secret)
    (toad / "secret.yaml").write_text(PRESET + "plates: {layout: drawn, file: secret.svg}\n")
    of = preset.read(toad / "secret.yaml")
    surface, layout = dome.plated(of, Flow())
    passed_on, files = form.passed_on(of, surface, layout)
    assert set(files) == {form.LINES} and b"ada" not in files[form.LINES].lower()
    (tmp_path / form.LINES).write_bytes(files[form.LINES])
    (tmp_path / "again.yaml").write_text(plain.text(passed_on))
    again = preset.read(tmp_path / "again.yaml")
    assert isinstance(again.plates.own, drawn.Params)
    assert charts.apart(surface, layout, dome.plated(again, Flow())[1]) < 0.15
