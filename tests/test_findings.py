"""What the checks find: worded for a maker, the same in every door, first on every paper; no pack where it harms."""

import io
import json
from dataclasses import fields
from pathlib import Path

import pytest
from click.testing import CliRunner
from pypdf import PdfReader
from written import preset_of

from shellgen import pipeline, share
from shellgen.canvas.rule import METRIC
from shellgen.cli import main, summary
from shellgen.core.flow import Flow
from shellgen.errors import FaultError
from shellgen.model.said import apart, count, several, shares_apart
from shellgen.pack import contents
from shellgen.pipeline import plans
from shellgen.record import Record, record
from shellgen.record.plain import optional, plain
from shellgen.sizes import batch, wearers

SMALL = """
name: pond-guard
dome: {length: 300, width: 260, height: 90}
plates: {layout: turtle, vertebrals: 3, pleurals: 2, marginals: 6}
mesh: {edge: 40}
shape: {rounds: 0}
spikes: [{plates: pleural, base_diameter: 20, height: 30}]
nest: {effort: quick}
"""
FAULTY = f"""{SMALL}
seams: {{plan: plates, stretch_limit: 1 %}}
wearer: {{years: 8}}
wear: {{harness: neckband}}
schedule: {{start: 2026-11-01, event: 2026-11-03, weekday_hours: 1}}
"""


COVERED = {"templates", "model", "wrap", "rings", "patches", "masks", "guide"}
"""Papers with a cover."""


@pytest.fixture(scope="module")
def flow():
    return Flow()


@pytest.fixture(scope="module")
def faulty(flow):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(plans, "OTHERS", ("gores",))  # the quickest
        return contents.build(preset_of(FAULTY), flow=flow, accept_faults=True)


def faults_of(pack):
    return [finding.text for finding in pack.record.findings if finding.level == "fault"]


# ---- words ---------------------------------------------------------------------------------------------------------


def test_numbers_that_are_compared_differ_as_they_are_shown():
    assert apart(3.04, 3.0, digits=1) == ("3.04", "3.00")
    assert apart(5.0, 3.0, digits=1) == ("5.0", "3.0")
    assert apart(3.0, 3.0, digits=1) == ("3.0", "3.0"), "equal numbers are equal with any digits"
    assert shares_apart(0.0304, 0.03) == ("3.04 %", "3.00 %")
    assert shares_apart(0.05, 0.03) == ("5.0 %", "3.0 %")


def test_names_and_counts_read_as_one_says_them():
    assert [count(n, "piece") for n in (0, 1, 2)] == ["0 pieces", "1 piece", "2 pieces"]
    assert several(["a"], "seam") == "seam a"
    assert several(["a", "b"], "seam") == "seams a and b"
    assert several("abcd") == "a, b, c and d"
    assert several("abcdef") == "a, b, c and 3 more"


# ---- one line for each cause ---------------------------------------------------------------------------------------


def test_one_cause_is_said_once_and_harm_comes_first(faulty):
    found = faulty.record.findings
    assert len([f for f in found if "stretched" in f.text]) == 1, "neither piece by piece, nor as a caution as well"
    assert found[0].safety and "child's neck" in found[0].text
    levels = [finding.level for finding in found]
    assert levels == sorted(levels, key=("fault", "caution", "ok").index)


@pytest.mark.parametrize(
    ("start", "words"),
    (
        ("2026-11-05", "The start, Thursday 5 November 2026, is after the event, Tuesday 3 November 2026"),
        ("2026-11-01", "That is before your start, Sunday 1 November 2026"),
    ),
)
def test_a_start_after_the_event_is_said_as_that(start, words, flow):
    shell = pipeline.shell_of(preset_of(FAULTY.replace("start: 2026-11-01", f"start: {start}")), flow)
    (text,) = (finding.text for finding in shell.work.plan.findings)
    assert words in text


# ---- first in every place ------------------------------------------------------------------------------------------


def test_faults_stand_on_every_cover_and_first_in_page_guide_and_summary(faulty):
    faults = faults_of(faulty)
    assert len(faults) >= 3
    covers = [name for name in faulty.files if name.endswith("-A4.pdf") and name.split("-")[0] in COVERED]
    assert {name.split("-")[0] for name in covers} == COVERED
    for name in covers:
        cover = " ".join(PdfReader(io.BytesIO(faulty.files[name])).pages[0].extract_text().split())
        assert faults[0][:60] in cover, name
    for name, later in (("index.html", 'class="facts"'), ("guide.html", 'id="steps"')):
        page = faulty.files[name].decode().replace("\N{NO-BREAK SPACE}", " ").replace("\N{WORD JOINER}", "")
        place = [page.index(text[:40].replace("'", "&#x27;")) for text in faults]
        assert max(place) < page.index(later), name
    lines = summary.text(faulty.record, Path("out"), METRIC).splitlines()
    assert [line.startswith("FAULT: ") for line in lines[1 : len(faults) + 1]] == [True] * len(faults)
    assert f"with {len(faults)} faults" in lines[0]


# ---- every door ----------------------------------------------------------------------------------------------------


def test_no_pack_is_made_where_somebody_could_come_to_harm(faulty, flow, tmp_path):
    with pytest.raises(FaultError, match="could be hurt") as refused:
        contents.build(preset_of(FAULTY), flow=flow)
    assert list(refused.value.faults) == [f.text for f in faulty.record.findings if f.safety]
    (one,) = batch.build(preset_of(FAULTY), (wearers.Wearer("newt", preset_of(FAULTY).wearer),), tmp_path, workers=1)
    assert one.state == "failed" and "could be hurt" in one.trouble and "child's neck" in one.trouble
    assert not list(tmp_path.iterdir())


def test_a_shell_with_any_fault_is_not_passed_on():
    with pytest.raises(FaultError, match="the checks found faults"):
        share.build(preset_of(FAULTY.replace("years: 8", "years: 30").replace("neckband", "straps")))


def test_the_command_says_why_and_writes_nothing(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("pond.yaml").write_text(FAULTY, encoding="utf-8")
    for words in (("build",), ("share",)):
        told = CliRunner().invoke(main, [*words, "pond.yaml"])
        assert told.exit_code == 1 and "FAULT: " in told.stderr and "--accept-faults" in told.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["pond.yaml"]


@pytest.mark.parametrize("more", ("", "foam: {thickness: 4}\n", "wear: {harness: vest, friction: 0.02}\n"))
def test_check_and_build_find_the_same(more):
    wanted = preset_of(SMALL + "seams: {plan: gores, gores: 4, stretch_limit: 15 %}\n" + more)
    checked = record(pipeline.shell_of(wanted, Flow()))
    assert contents.build(wanted).record.findings == checked.findings
    assert list(plain(checked)) == [field.name for field in fields(Record) if not optional(field)]


def test_check_finds_in_the_demos_what_their_packs_say(packs, demo):
    folder, made = packs(demo)
    assert json.loads((folder.parent / "findings.json").read_text()) == made["findings"]
