"""A maker who prints on Letter reads every quantity in inches, pounds and so on too; all others read none of them."""

import re
from dataclasses import replace
from functools import cache
from html import unescape
from pathlib import Path

import once
import pytest

from shellgen import guide, page, preset
from shellgen.canvas import Text, rule
from shellgen.canvas.lettering import wrapped
from shellgen.cli import summary
from shellgen.core.flow import Flow
from shellgen.draw.overview import overview
from shellgen.draw.template import templates
from shellgen.errors import PresetError
from shellgen.guide import html
from shellgen.model import Finding
from shellgen.pack import papers
from shellgen.pack.stack import Stack
from shellgen.pipeline import shell_of
from shellgen.preset import resolved
from shellgen.record import record
from shellgen.record.tables import tables

SMALL = """
title: Pond
dome: {length: 300, width: 260, height: 100, keel: 0}
wearer: {years: 8}
plates: {layout: turtle, vertebrals: 3, pleurals: 2, marginals: 6}
mesh: {edge: 28}
seams: {plan: plates}
scores: {depth: 9}
making: {core: 3}
spikes: [{plates: vertebral, height: 50, base_diameter: 50}]
nest: {effort: quick}
"""
METRIC = re.compile(r"\d (?:[ck]?m[23²³]?|mm[2²]?|k?g|mL|°C)(?![\w/²³])")
OTHER = re.compile(r"\d (?:in²|in³|ft²|ft|oz|fl oz|lb|°F)(?!\w)|\d in\)")
BESIDE = re.compile(r"(?: \(| |, )(?:under )?\d[\d ./x×toand]* (?:in[²³]?|ft²?|oz|fl oz|lb|°F)(?!\w)")
"""What follows a metric quantity."""
PLAIN = (
    r"100 mm(?: both ways|(?= long\.))",  # the square and the rules on every page, next to a bar of 4 in
    r"\b[a-z_]+: [\d.]+ mm",  # a line of the preset
)
"""What stays metric, on purpose."""
FAULT = Finding("fault", "size", "C-crown-1 is 912 mm long; a sheet has room for 900 x 600 mm.")


@cache
def small():
    def made(folder: Path):
        (folder / "pond.yaml").write_text(SMALL)
        how = preset.read(folder / "pond.yaml")
        shell = shell_of(how, Flow())
        return how, replace(shell, findings=(FAULT, *shell.findings))

    return once.shared("units", made)


def words(drawing):
    """All its words in the order in which they are written: broken lines follow each other."""
    return " ".join(item.text for item in drawing.items if isinstance(item, Text))


def markup(text):
    """The text between tags, without how an amount to buy is computed: that stays metric, as its rates are."""
    text = re.sub(
        r"<style.*?</style>|<script.*?</script>|<[^>]* data-name=\"how computed\".*?</t.>", " ", text, flags=re.S
    )
    return " ".join(unescape(re.sub("<[^>]+>", " ", text)).split())


@cache
def read(paper):
    """What is read of the small shell, by its place: on paper, on the page, in the guide and in the terminal."""
    how, shell = small()
    how, of = replace(how, print=replace(how.print, paper=paper)), rule.of(paper)
    figures, top = record(shell), shell.top
    pieces = templates(shell.name, shell.ground, shell.foam, top.seats, top.spikes, shell.worn.wear.anchors, rule=of)
    said = {}
    with pytest.MonkeyPatch.context() as patch:
        paged = Stack.pdf

        def pdf(self, name, drawings, **more):
            said.update({f"{name}: {drawing.name}": words(drawing) for drawing in drawings})
            paged(self, name, drawings, **more)

        patch.setattr(Stack, "pdf", pdf)
        printed = papers.build(shell, how, pieces)
    said |= {path: f"{words(drawing)} {drawing.title}" for path, drawing in printed.drawings.items()}
    said |= {f"cover: {text}": text for text in papers.job_of(shell, how).faults}
    content = guide.guide(guide.kit_of(shell, how, figures, printed.pages, printed.drawings))
    said["guide"] = markup(html.write(content).decode())
    whole = overview(shell.ground, shell.foam, top.seats, title="Pond")
    shown = page.of(figures, tables(shell), pieces, whole, (b"", b""), title="Pond", rule=of)
    said["page"] = markup(shown.head + shown.body)
    said["summary"] = summary.text(figures, Path("out"), of)
    said["check"] = summary.checked(figures, Path("pond.yaml"), of)
    said["figures"] = summary.preset(resolved.resolved(how), of)
    said["harness"] = summary.harness(figures, of)
    return said


def test_on_letter_every_quantity_is_in_both_units():
    for place, text in read("Letter").items():
        for found in METRIC.finditer(re.sub("|".join(PLAIN), "", text)):
            bare = re.sub("|".join(PLAIN), "", text)
            assert BESIDE.match(bare, found.end()), (place, bare[max(0, found.start() - 60) : found.end() + 60])
    assert "912 mm (35 7/8 in) long" in read("Letter")["check"]


def test_on_a4_nobody_reads_inches():
    letter = read("Letter")
    for place, text in read("A4").items():
        assert not OTHER.search(text), (place, OTHER.search(text))
    for place in ("guide", "page", "summary", "check", "figures", "harness", "sheets/sheet-1-order.svg"):
        assert OTHER.search(letter[place]), f"{place} has quantities"


@pytest.mark.parametrize(
    ("text", "both"),
    [
        # 1 in = 25.4 mm, 1 lb = 453.59237 g, 1 oz = lb / 16, all exact (NIST Handbook 44, appendix C)
        ("hang 16 kg from it", "hang 16 kg (35.3 lb) from it"),
        ("0.2 kg", "0.2 kg (7.1 oz)"),
        ("100 x 254 mm", "100 x 254 mm (3 15/16 x 10 in)"),
        ("from 5.0 to 4.8 mm (rms)", "from 5.0 to 4.8 mm (0.197 to 0.189 in) (rms)"),
        ("10 mm foam", "10 mm (3/8 in) foam"),
        ("floor mat (600 x 600 mm)", "floor mat (600 x 600 mm, 23 5/8 x 23 5/8 in)"),
        ("2 cm", "2 cm (13/16 in)"),
        ("929 cm2", "929 cm2 (144 in²)"),
        ("1 m² at 100 °C", "1 m² (10.8 ft²) at 100 °C (212 °F)"),
        ("150 g/m2 and 3 mL/m stay, as 0.35 g/cm3", "150 g/m2 and 3 mL/m stay, as 0.35 g/cm3"),
        ("3.12 m of it", "3.12 m (10 ft 3 in) of it"),  # 122.83 in, to the nearest inch of a tape measure
        ("0.3 m", "0.3 m (1 ft)"),
        ("0.02 m", "0.02 m (1 in)"),
        ("foam: thickness: 15 mm", "foam: thickness: 15 mm"),
        ("size: 5 x 7 mm", "size: 5 x 7 mm"),
        ("a pull of 40 N, 14 kPa, 3 % and 2 h", "a pull of 40 N, 14 kPa, 3 % and 2 h"),
    ],
)
def test_the_other_unit_follows_once(text, both):
    of = rule.of("Letter")
    assert of.both(text) == both == of.both(both)
    assert rule.METRIC.both(text) == text


def test_no_line_ends_within_a_quantity():
    text = "cut 560 mm (22 1/16 in) of it, 3.12 m (10 ft 3 in) in all, by 2.9 % at 40 N"
    assert rule.unbroken(text).split(" ") == [
        "cut", "560\xa0mm", "(22\xa01/16\xa0in)", "of", "it,", "3.12\xa0m", "(10\xa0ft\xa03\xa0in)", "in", "all,", "by",
        "2.9\xa0%", "at", "40\xa0N",
    ]  # fmt: skip
    assert rule.unbroken("3 inner rings, 2 mats, 5 notes") == "3 inner rings, 2 mats, 5 notes"
    lines = wrapped(text, 30.0, 2.5)
    assert " ".join(lines) == text
    for whole in ("560 mm", "22 1/16 in", "3.12 m", "10 ft 3 in", "2.9 %", "40 N"):
        assert any(whole in line for line in lines), whole


def test_figures_of_a_table_have_the_other_unit_alone():
    of = rule.of("Tabloid")
    assert [of.other(254.0, "mm"), of.other(453.6, "g"), of.other(3, "pieces")] == ["10 in", "1.0 lb", ""]
    assert rule.METRIC.other(254.0, "mm") == ""


def test_a_mistake_names_the_makers_units():
    error = PresetError("dome.girth", "300 mm is too short.", "Give 400 mm or more.", file="a.yaml", line=3)
    said = str(error.worded(rule.of("Letter").both))
    assert said == ("a.yaml:3: dome.girth: 300 mm (11 13/16 in) is too short. Give 400 mm (15 3/4 in) or more.")
