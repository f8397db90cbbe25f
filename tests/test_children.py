"""A child stays a child: in every door the same faults and cautions, whatever is stripped, derived or read back."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest
from written import preset_of

from shellgen import preset, record, share
from shellgen.core.flow import Flow
from shellgen.errors import PresetError
from shellgen.live import work
from shellgen.live.work import Errand, Workshop
from shellgen.pipeline import shell_of
from shellgen.share import cover, plain
from shellgen.sizes import grade, wearers
from shellgen.wear import wearer
from shellgen.wear._say import END
from shellgen.wear.wearer import Params, age, survey

SHELL = """
name: small
dome: {length: 380, width: 320, height: 120, keel: 0, flare: 8}
mesh: {edge: 40}
foam: {thickness: 6}
seams: {plan: plates, stretch_limit: 15 %}
shape: {rounds: 0}
plates: {vertebrals: 3, pleurals: 2, marginals: 6}
spikes: []
nest: {effort: quick}
"""
CHILDREN = {
    "eight years": ("{years: 8}", "neckband"),
    "53 inches, no years": ("{stature: 53 in}", "neckband"),
    "a child by word": ("{group: child, stature: 1.32 m}", "{harness: neckband, breakaway: no}"),
    "sixteen and tall": ("{years: 16, stature: 1.78 m}", "{harness: neckband, belt: no}"),
    "nothing but the shoulders": ("{shoulder_breadth: 29 cm}", "neckband"),
    "may be read": ("{years: 10, stature: 1.38 m, share: yes}", "neckband"),
    "a stature that a child could have": ("{stature: 1.72 m, mass: 60 kg}", "neckband"),
    "on straps": ("{years: 9}", "straps"),
    "on a vest": ("{years: 4}", "vest"),
    "of a percentile": ("{years: 12, percentile: 60}", "straps"),
}


def written(who, harness):
    return f"{SHELL}wearer: {who}\nwear: {harness}\n" if who else f"{SHELL}wear: {harness}\n"


@pytest.fixture(scope="module")
def flow():
    """One for all: the shells differ in their wearers alone."""
    return Flow()


def told(figures):
    """Of a record: the group, what faults of safety there are, and whether a child's caution stands there."""
    texts = [f.text for f in figures.findings if f.level == "caution"]
    faults = [f.text for f in figures.findings if f.safety and f.level == "fault"]
    assert all("a child's neck" in text for text in faults)
    return figures.wear.group, faults, any(f"more than {END:g} mm hangs loose" in text for text in texts)


@pytest.mark.parametrize("name", CHILDREN)
def test_a_child_is_one_in_every_door(name, flow, tmp_path, monkeypatch):
    """Check and build, share, a shared preset read back, sizes and live."""
    who, harness = CHILDREN[name]
    path = tmp_path / "small.yaml"
    path.write_text(written(who, harness))
    of = preset.read(path)
    passed_on = share.public(of)
    again = tmp_path / "again.yaml"
    again.write_text(plain.text(passed_on))
    doors = {"build": of, "share": passed_on, "read back": preset.read(again)}
    doors["sizes"] = grade.grade(grade.design(of, flow=flow), "newt", of.wearer)
    regraded = grade.grade(grade.design(passed_on, flow=flow), "newt", of.wearer)
    assert wearer.shown(regraded.wearer).group == "child" and regraded.wear.name == of.wear.name
    found = {door: told(record.record(shell_of(one, flow))) for door, one in doors.items()}
    found["live"] = told(_followed(path, flow, monkeypatch))
    banned = "neckband" in harness
    for door, (group, faults, cautioned) in found.items():
        assert (group, len(faults), cautioned) == ("child", int(banned), True), door
    assert not any(word in again.read_text() for word in ("stature", "years", "mass", "breadth", "percentile"))
    assert "group: child" in again.read_text()


def _no_page(*_, **__):
    return SimpleNamespace(title="", head="", body="", foam=b"", standing=b"")


def _no_solids(*_):
    return b"", b""


def _no_templates(*_, **__):
    return ()


def _followed(path, flow, monkeypatch):
    """The record of the preview; how its page is drawn is not the matter here, and takes most of its time."""
    monkeypatch.setattr(work.page, "of", _no_page)
    monkeypatch.setattr(work.page, "solids_of", _no_solids)
    monkeypatch.setattr(work, "templates", _no_templates)
    monkeypatch.setattr(work, "Flow", lambda *_: flow)
    monkeypatch.setattr(Workshop, "_bare", lambda *_: None)
    events = []
    works = Workshop(path, lambda *event: events.append(event))
    works.do(Errand())
    assert works.good is not None, events[-1]
    return works.good.record


def test_a_shell_as_small_as_a_childs_is_one_until_the_preset_says_otherwise(flow):
    for group, faults in ((None, 1), ("child", 1), ("adult", 0)):
        of = replace(preset_of(written("", "neckband")), wearer=Params(group=group))
        found = told(record.record(shell_of(of, flow)))
        assert (found[0], len(found[1])) == (group or "child", faults)
        assert share.public(of).wearer.group == group
    assert age.of_shell(None, 560, 460, least={"length": 480, "width": 372}) == "adult"


def test_a_shared_pack_says_on_its_cover_that_it_is_a_childs(flow):
    of = share.public(preset_of(written("{years: 8}", "vest")))
    figures = record.record(shell_of(of, flow))
    text = cover.readme(of, figures, [])
    assert "a child" in text and "round a child's neck" in text


def test_sizes_keep_who_is_small_a_child():
    """Of a design for a child of nine."""
    of = grade.design(preset_of(written("{years: 9}", "straps")))
    for who, group in (({"stature": 1346.2}, "child"), ({"years": 30, "stature": 1400.0}, "adult")):
        new = grade.grade(of, "newt", Params(**who))
        assert wearer.shown(new.wearer).group == group and share.public(new).wearer.group == group


@pytest.mark.parametrize(
    ("figures", "group"),
    [
        ({"years": 17.9}, "child"), ({"years": 18.0}, "adult"), ({"stature": 1346.2}, "child"),
        ({"stature": 1870.0}, "child"), ({"stature": 1871.0}, "adult"), ({}, "child"),
        ({"group": "adult", "stature": 1346.2}, "adult"), ({"group": "child", "years": 40.0}, "child"),
        ({"years": 40.0, "stature": 1346.2}, "adult"), ({"percentile": 99.0, "survey": "male"}, "adult"),
    ],
)  # fmt: skip
def test_years_decide_then_the_word_then_the_body(figures, group):
    if figures.get("years", 20.0) < 18 or figures.get("group") == "child":
        figures = {**figures, "stature": 1600.0}
    assert wearer.body(Params(**figures)).group == wearer.in_steps(Params(**figures)).group == group


def test_who_cannot_be_is_refused():
    """CDC growth charts 2000: of boys of two and a half years the 97th percentile is 986 mm (Agemos 30.5)."""
    with pytest.raises(PresetError, match=r"2300 mm.* at 2 years"):
        wearer.body(Params(years=2.0, stature=2300.0))
    wearer.body(Params(years=2.5, stature=986.0))
    with pytest.raises(PresetError, match="the years decide"):
        Params(group="adult", years=8.0)
    with pytest.raises(PresetError, match="neither years nor stature of a child"):
        preset.tailored(preset_of("wearer: {group: child}"), kept=())
    assert survey.usual_stature("male", 2.0) == pytest.approx(868.6)


def test_a_wearer_of_whom_nothing_is_said_gets_no_size(tmp_path):
    path = tmp_path / "w.yaml"
    path.write_text("wearers:\n- {name: heron, years: 8}\n- {name: newt}\n")
    with pytest.raises(PresetError, match=r"w.yaml:3: wearers\[2\]: Nothing but the name"):
        wearers.read(path)
