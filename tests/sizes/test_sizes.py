"""One design for many wearers: what grading changes and what it leaves, and who they are."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import yaml
from written import preset_of

from shellgen.core.flow import Flow
from shellgen.dome import mesh
from shellgen.errors import FitError, PresetError
from shellgen.fields.params import Chosen
from shellgen.pattern.plans import kept
from shellgen.pipeline import dome, foam
from shellgen.preset import resolved
from shellgen.sizes import grade, wearers
from shellgen.spikes import netlines, place
from shellgen.wear import wearer
from shellgen.wear.wearer import steps

SMALL = """
name: small
dome: {length: 380, width: 320, height: 120, keel: 0, flare: 8}
mesh: {edge: 40}
foam: {thickness: 6}
seams: {plan: plates, stretch_limit: 15 %}
shape: {rounds: 0}
plates: {vertebrals: 3, pleurals: 2, marginals: 6}
spikes: [{plates: vertebral, base_diameter: 40, height: 14, profile: stud, tip_radius: 20, sizes: 1, ring: no}]
making: {moulds: no}
wearer: {years: 10}
nest: {effort: quick}
"""
TURTLE = """
name: turtle
mesh: {edge: 30}
seams: plates
spikes:
  - {plates: [vertebral, pleural], base_diameter: 44, height: 52, tip_radius: 6, size_at_rim: 0.7, sizes: 4}
  - {plates: marginal, base_diameter: 26, height: 24, sizes: 2, size_at_rim: 1}
wearer: {percentile: 50, survey: female}
"""
PUBLISHED = yaml.safe_load(Path("tests/published/wearer.yaml").read_text("utf-8"))
ADULT = ("stature", "neck_height", "sitting_height", "shoulder_breadth")
NAMES = ("heron", "newt", "toad")


def worn(**measures):
    return wearer.Params(**measures)


@pytest.fixture(scope="module")
def turtle():
    return grade.design(preset_of(TURTLE))


def cut_of(of):
    """The layout of a preset, and its mesh as cut."""
    flow = Flow()
    on = dome.ground(of, flow)
    return on.layout, foam.cut(of, flow, on)


def stands(of):
    """Spikes as they come to stand, the remarks made, and their room from plate line to plate line."""
    flow = Flow()
    surface, layout = dome.plated(of, flow)
    grid = mesh.build(surface, layout, of.mesh)
    spikes, remarks = place.build(surface, grid, layout, of.spikes, ring_thickness=of.rings.thickness)
    lines = netlines.net_points(surface, layout)
    room = {s.name: 2 * np.linalg.norm(lines - s.frame[:3, 3], axis=1).min() for s in spikes}
    return {spike.name: spike for spike in spikes}, remarks, room


# Grading


def test_the_same_wearer_gets_the_same_shell(turtle):
    same = grade.grade(turtle, "same", turtle.preset.wearer)
    assert grade.changes(turtle.preset, same) == () and same.name == "turtle-same"


def test_domes_follow_the_survey_in_steps(turtle):
    """ANSUR II, women, 5th and 95th against the 50th percentile: length as the trunk (sitting height less what the
    knob of the neck lies below the crown), width and height as the shoulders; both wearers are in steps, so the ratio
    is off by up to half a step of either."""
    rows = {row["measure"]: row["value"] for row in PUBLISHED if row["id"] in {f"female-{n}" for n in ADULT}}
    lengths = []
    for column in (0, 2):
        stated = {name: float(rows[name][column]) for name in ("stature", "neck_height", "sitting_height")}
        breadth = float(rows["shoulder_breadth"][column])
        middle = {name: rows[name][1] for name in stated}
        new = grade.grade(turtle, "w", worn(survey="female", shoulder_breadth=breadth, **stated)).dome.own
        trunk, usual = (m["sitting_height"] - m["stature"] + m["neck_height"] for m in (stated, middle))
        old = turtle.preset.dome.own
        wider = breadth / rows["shoulder_breadth"][1]
        off = np.log([new.length / old.length / (trunk / usual), new.width / old.width / wider]) / np.log(steps.BONES)
        assert np.abs(off).max() < 1.0 + 1e-3
        assert new.height / old.height == pytest.approx(new.width / old.width, abs=0.005)
        lengths.append(new.length)
    assert lengths[0] < old.length < lengths[1]


@pytest.mark.parametrize("measures", [{"years": 8}, {"stature": 1525, "survey": "female"}, {"stature": 1880}])
def test_rings_still_fit_and_what_stays_stays(turtle, measures):
    before = resolved.resolved(turtle.preset).rows
    new = grade.grade(turtle, "w", worn(**measures))
    assert resolved.resolved(turtle.preset).rows == before, "nothing is changed in place"
    old, first = turtle.preset, {stand.name: stand for stand in turtle.stands}
    for section in ("foam", "rings", "edging", "materials", "nest", "plates", "making"):
        assert getattr(new, section) is getattr(old, section)
    for one, was in zip(new.spikes, old.spikes, strict=True):
        same = ("tip_radius", "sizes", "clearance", "gap", "size_at_rim", "in_row", "profile")
        assert all(getattr(one, name) == getattr(was, name) for name in same)
        ring = new.rings.width
        slope = (one.height - ring) / one.base_diameter, (was.height - ring) / was.base_diameter
        assert slope[0] == pytest.approx(slope[1], abs=0.6 / one.base_diameter), "in proportion above the ring"
    spikes, remarks, room = stands(new)
    assert set(spikes) == set(first), "as many spikes, on the same plates"
    assert not any("smaller" in remark.text for remark in remarks)
    fixed = 2 * (old.rings.thickness + 2.0)
    for name, spike in spikes.items():
        share = (spike.base_diameter + fixed) / room[name]
        was = (first[name].grade * old.spikes[first[name].group].base_diameter + fixed) / first[name].room
        assert share < was + 1.5 / room[name], "no larger a share of its plate, but for rounding to a millimetre"


def test_steps_and_distances_of_spikes_grow_as_the_dome_does():
    of = grade.design(
        preset_of("""
name: newt
seams: plates
mesh: {edge: 40}
spikes:
  - {place: {at: line, along: rim, every: 60, away: 30}, base_diameter: 20, height: 20, size_at_rim: 1, sizes: 1}
  - {place: {at: scattered, apart: 70}, base_diameter: 20, height: 20, size_at_rim: 1, sizes: 1}
  - {by_hand: [{forward: 50, outward: 80}], base_diameter: 20, height: 20, size_at_rim: 1, sizes: 1, clearance: -20}
""")
    )
    new = grade.grade(of, "w", worn(years=8))
    scale = [getattr(new.dome.own, side) / getattr(of.preset.dome.own, side) for side in ("length", "width")]
    mean = np.sqrt(np.prod(scale))
    (rim, loose, hand), (was_rim, was_loose, was_hand) = new.spikes, of.preset.spikes
    assert mean < 0.9
    assert rim.place.own.every == pytest.approx(mean * was_rim.place.own.every, rel=1e-3)
    assert rim.place.own.away == pytest.approx(mean * was_rim.place.own.away, rel=1e-3)
    assert loose.place.own.apart == pytest.approx(mean * was_loose.place.own.apart, rel=1e-3)
    assert [rim.base_diameter, loose.base_diameter] == pytest.approx(2 * [20 * mean], abs=1.6), "and bases with them"
    (one,), (was,) = hand.by_hand, was_hand.by_hand
    assert (one.forward / was.forward, one.outward / was.outward) == pytest.approx(scale, rel=1e-3)
    many = [sum(stand.group == g for stand in of.stands) for g in range(3)]
    _, _, there = grade._seen(new, Flow())
    now = [sum(stand.group == g for stand in there) for g in range(3)]
    assert now == pytest.approx(many, rel=0.15), "about as many"


def test_as_many_cells_in_every_size():
    of = grade.design(preset_of("name: cells\nseams: plates\nmesh: {edge: 40}\nplates: {layout: hexes, size: 120}"))
    for measures in ({"years": 9}, {"stature": 1870}):
        new = grade.grade(of, "w", worn(**measures))
        layout = dome.plated(new, Flow())[1]
        assert len(layout.plates) == of.plates and new.plates.own.size != of.preset.plates.own.size


def test_what_cannot_be_graded_says_so(turtle):
    scanned = replace(turtle, preset=replace(turtle.preset, dome=Chosen("scan", None)))
    with pytest.raises(FitError, match="A dome of kind scan belongs to one wearer"):
        grade.grade(scanned, "w", worn(years=8))
    wide = replace(turtle.preset.dome.own, width=990.0)
    with pytest.raises(FitError, match=r"dome.width comes to .* mm for this wearer. Give 100 mm to 1000 mm"):
        grade.grade(replace(turtle, preset=replace(turtle.preset, dome=Chosen("plan", wide))), "w", worn(stature=2000))


def test_seams_are_kept_where_they_hold():
    few = "{plan: plates, stretch_limit: 6 %}\nplates: {vertebrals: 3, pleurals: 2, marginals: 6}"
    of = preset_of(TURTLE.replace("seams: plates", f"seams: {few}").replace("edge: 30", "edge: 40"))
    layout, cut = cut_of(of)
    every = kept.pairs(layout, cut.cut_lines)
    across = [i for i in range(len(layout.lines)) if kept.pair(layout, i) == "vertebral-1 / vertebral-2"]
    assert len(across) == 2 and kept.pairs(layout, (across[0],)) is None, "half a seam across the midline"
    for between, held in ((every, True), (every[:1], False)):
        own = kept.Params(between=between, walks=1)
        again, found = cut_of(replace(of, seams=replace(of.seams, name="kept", own=own)))
        assert (kept.pairs(again, found.cut_lines) == between) == held


# Wearers


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("- {name: heron}\n", "w.yaml:1: The file is a list"),
        ("wearers: []", "w.yaml:1: wearers: The list is empty"),
        ("wearers:\n- {stature: 1700}", r"w.yaml:2: wearers\[1\].name: This line is missing"),
        ("wearers:\n- {name: ../../etc}", r'w.yaml:2: wearers\[1\].name: "../../etc"'),
        ("wearers:\n- {name: con}", r'w.yaml:2: wearers\[1\].name: "con"'),
        ("wearers:\n- name: heron\n  statur: 1700", r"w.yaml:3: wearers\[1\].statur: .*Did you mean stature"),
        ("wearers:\n- {name: heron}\n- name: heron", r'w.yaml:3: wearers\[2\].name: "heron" stands here twice'),
        (
            "wearers:\n- name: newt\n  group: child",
            r"w.yaml:2: wearers\[1\].years: There are neither years nor stature",
        ),
        ("wearers:\n- name: toad\n  stature: 1700\n  shoulder_breadth: 160", r"w.yaml:4: wearers\[1\].shoulder_br"),
        ("wearers:\n- {name: !!python/object:os.system x}", "w.yaml:2: The tag"),
        ("wearers: &a\n- *a", "w.yaml:1: "),
    ],
)
def test_a_hostile_list_is_one_error_with_its_line(tmp_path, monkeypatch, text, words):
    monkeypatch.chdir(tmp_path)
    Path("w.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(PresetError, match=words):
        wearers.read(Path("w.yaml"))
