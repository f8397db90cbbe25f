"""One design for many wearers: what grading changes and what it leaves, and how sizes are built side by side."""

import os
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import joblib
import numpy as np
import pytest
import yaml
from click.testing import CliRunner

from shellgen import bind, contents, mesh, pipeline, preset, resolved, wearer, yamltree
from shellgen.cli import main
from shellgen.errors import FitError, PresetError
from shellgen.flow import Flow
from shellgen.params import Chosen
from shellgen.plans import kept
from shellgen.sizes import batch, chart, command, grade, wearers
from shellgen.spikes import clear, place

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


def said(text):
    return bind.bind(yamltree.parse(text.encode()), preset.Preset)


def worn(**measures):
    return wearer.Params(**measures)


@pytest.fixture(scope="module")
def turtle():
    return grade.design(said(TURTLE))


def stands(of):
    """Spikes as they come to stand, the remarks made, and their room from plate line to plate line."""
    flow = Flow()
    surface, layout = (made.value for made in pipeline.dome(of, flow))
    grid = mesh.build(surface, layout, of.mesh)
    spikes, remarks = place.build(surface, grid, layout, of.spikes, ring_thickness=of.rings.thickness)
    lines = clear.plate_lines(surface, layout)
    room = {s.name: 2 * np.linalg.norm(lines - s.frame[:3, 3], axis=1).min() for s in spikes}
    return {spike.name: spike for spike in spikes}, remarks, room


# Grading


def test_the_same_wearer_gets_the_same_shell(turtle):
    same = grade.grade(turtle, "same", turtle.preset.wearer)
    assert grade.changes(turtle.preset, same) == () and same.name == "turtle-same"


def test_domes_follow_the_survey(turtle):
    """ANSUR II, women, 5th and 95th against the 50th percentile: length as the trunk (sitting height less what the
    knob of the neck lies below the crown), width and height as the shoulders; but for rounding to a millimetre."""
    rows = {row["measure"]: row["value"] for row in PUBLISHED if row["id"] in {f"female-{n}" for n in ADULT}}
    for column in (0, 2):
        stated = {name: float(rows[name][column]) for name in ("stature", "neck_height", "sitting_height")}
        breadth = float(rows["shoulder_breadth"][column])
        middle = {name: rows[name][1] for name in stated}
        new = grade.grade(turtle, "w", worn(survey="female", shoulder_breadth=breadth, **stated)).dome.own
        trunk, usual = (m["sitting_height"] - m["stature"] + m["neck_height"] for m in (stated, middle))
        old = turtle.preset.dome.own
        wider = breadth / rows["shoulder_breadth"][1]
        assert new.length == pytest.approx(old.length * trunk / usual, abs=0.5)
        assert (new.width, new.height) == pytest.approx((old.width * wider, old.height * wider), abs=0.5)


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


def test_as_many_cells_in_every_size():
    of = grade.design(said("name: cells\nseams: plates\nmesh: {edge: 40}\nplates: {layout: hexes, size: 120}"))
    for measures in ({"years": 9}, {"stature": 1870}):
        new = grade.grade(of, "w", worn(**measures))
        layout = pipeline.dome(new, Flow())[1].value
        assert len(layout.plates) == of.plates and new.plates.own.size != of.preset.plates.own.size


def test_what_cannot_be_graded_says_so(turtle):
    scanned = replace(turtle, preset=replace(turtle.preset, dome=Chosen("scan", None)))
    with pytest.raises(FitError, match="a dome of kind scan is one wearer's own"):
        grade.grade(scanned, "w", worn(years=8))
    wide = replace(turtle.preset.dome.own, width=990.0)
    with pytest.raises(FitError, match=r"dome.width comes to .* mm for this wearer; allowed: 100 mm to 1000 mm"):
        grade.grade(replace(turtle, preset=replace(turtle.preset, dome=Chosen("plan", wide))), "w", worn(stature=2000))


def test_seams_are_kept_where_they_hold():
    few = "{plan: plates, stretch_limit: 6 %}\nplates: {vertebrals: 3, pleurals: 2, marginals: 6}"
    of = said(TURTLE.replace("seams: plates", f"seams: {few}").replace("edge: 30", "edge: 40"))
    layout, _, cut = (made.value for made in pipeline.seams_of(of, Flow()))
    every = kept.pairs(layout, cut.cut_lines)
    across = [i for i in range(len(layout.lines)) if kept.pair(layout, i) == "vertebral-1 / vertebral-2"]
    assert len(across) == 2 and kept.pairs(layout, (across[0],)) is None, "half a seam across the midline"
    for between, held in ((every, True), (every[:1], False)):
        own = kept.Params(between=between, walks=1)
        again, _, found = pipeline.seams_of(replace(of, seams=replace(of.seams, name="kept", own=own)), Flow())
        assert (kept.pairs(again.value, found.value.cut_lines) == between) == held


# Wearers


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("- {name: heron}\n", "w.yaml:1: found a list"),
        ("wearers: []", "w.yaml:1: wearers: found an empty list"),
        ("wearers:\n- {stature: 1700}", r"w.yaml:2: wearers\[1\].name: found no such line"),
        ("wearers:\n- {name: ../../etc}", r'w.yaml:2: wearers\[1\].name: found "../../etc"'),
        ("wearers:\n- {name: con}", r'w.yaml:2: wearers\[1\].name: found "con"'),
        ("wearers:\n- name: heron\n  statur: 1700", r"w.yaml:3: wearers\[1\].statur: .*did you mean stature"),
        ("wearers:\n- {name: heron}\n- name: heron", r'w.yaml:3: wearers\[2\].name: found "heron" a second time'),
        ("wearers:\n- name: newt\n  group: child", r"w.yaml:2: wearers\[1\].years: found neither years nor stature"),
        ("wearers:\n- name: toad\n  stature: 1700\n  shoulder_breadth: 160", r"w.yaml:4: wearers\[1\].shoulder_br"),
        ("wearers:\n- {name: !!python/object:os.system x}", "w.yaml:2: found the tag"),
        ("wearers: &a\n- *a", "w.yaml:1: found "),
    ],
)
def test_a_hostile_list_is_one_error_with_its_line(tmp_path, monkeypatch, text, words):
    monkeypatch.chdir(tmp_path)
    Path("w.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(PresetError, match=words):
        wearers.read(Path("w.yaml"))


# Building side by side


def company(*names):
    return tuple(wearers.Wearer(name, worn(years=8 + n)) for n, name in enumerate(names))


def quick(of):
    """A pack in a second: the mesh of the graded dome, to the last bit."""
    surface, layout = (made.value for made in pipeline.dome(of, Flow()))
    grid = mesh.build(surface, layout, of.mesh)
    return SimpleNamespace(record={"name": of.name}, files={"mesh.bin": grid.points.tobytes()})


def contents_of(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_bytes_do_not_depend_on_the_workers(tmp_path):
    for workers in (1, 2):
        made = batch.build(said(SMALL), company(*NAMES), tmp_path / str(workers), workers=workers, make=quick)
        assert [(size.name, size.state) for size in made] == [(name, "built") for name in NAMES]
    one, two = (contents_of(tmp_path / folder) for folder in ("1", "2"))
    assert one == two and set(one) == {f"{name}/{file}" for name in NAMES for file in ("shell.json", "mesh.bin")}


def test_an_interruption_loses_only_what_was_being_made(tmp_path):
    tried = []

    def broken_off(of):
        tried.append(of.name)
        if len(tried) == 2:
            raise KeyboardInterrupt
        return quick(of)

    with pytest.raises(KeyboardInterrupt):
        batch.build(said(SMALL), company(*NAMES), tmp_path, workers=1, make=broken_off)
    made = batch.build(said(SMALL), company(*NAMES), tmp_path, workers=1, make=broken_off)
    assert [size.state for size in made] == ["kept", "built", "built"]
    assert tried == ["small-heron", "small-newt", "small-newt", "small-toad"]
    (tmp_path / "newt" / "mesh.bin").write_bytes(b"cut short")
    again = batch.build(said(SMALL), company(*NAMES), tmp_path, workers=1, make=quick)
    assert [size.state for size in again] == ["kept", "built", "kept"], "a damaged pack is built anew"
    assert again[0].changed == made[0].changed != ()
    other = batch.build(said(SMALL.replace("ring: no", "ring: yes")), company("heron"), tmp_path, workers=1, make=quick)
    assert other[0].state == "built", "another design"


def test_one_failing_size_stops_no_other(tmp_path):
    def brittle(of):
        return quick(of) if of.name != "small-newt" else 1 // 0

    people = (*company(*NAMES), wearers.Wearer("giant", worn(stature=2290, sitting_height=1190, shoulder_breadth=590)))
    wide = said(SMALL.replace("width: 320", "width: 560"))
    made = batch.build(wide, people, tmp_path, workers=1, make=brittle)
    assert [size.state for size in made] == ["built", "failed", "built", "failed"]
    assert "ZeroDivisionError" in made[1].trouble
    assert "dome.width comes to" in made[3].trouble
    assert sorted(p.name for p in tmp_path.iterdir()) == ["heron", "toad"], "no rubble"


def test_a_dask_cluster_does_the_same(tmp_path):
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None) as cluster,
        distributed.Client(cluster),
        joblib.parallel_config("dask"),
    ):
        made = batch.build(said(SMALL), company(*NAMES), tmp_path / "dask", make=quick)
    assert [size.state for size in made] == ["built"] * 3
    batch.build(said(SMALL), company(*NAMES), tmp_path / "here", workers=1, make=quick)
    assert contents_of(tmp_path / "dask") == contents_of(tmp_path / "here")


def test_a_worker_that_is_lost_is_told_and_the_rest_made_by_the_same_call(tmp_path):
    def deadly(of):
        return quick(of) if of.name != "small-newt" else os._exit(1)

    made = {one.name: one for one in batch.build(said(SMALL), company(*NAMES), tmp_path, workers=2, make=deadly)}
    assert made["newt"].state == "failed" and made["newt"].trouble == batch.LOST
    again = batch.build(said(SMALL), company(*NAMES), tmp_path, workers=1, make=quick)
    assert [one.state for one in again].count("built") == [one.state for one in made.values()].count("failed")


def test_a_cluster_without_scheduler_or_workers_is_one_clear_error(tmp_path):
    distributed = pytest.importorskip("distributed")
    with pytest.raises(FitError, match="no Dask scheduler answers at nowhere"):
        command.run(said(SMALL), company("heron"), tmp_path, cluster="nowhere")
    with (
        distributed.LocalCluster(n_workers=0, processes=False, dashboard_address=None) as cluster,
        pytest.raises(FitError, match="has no workers; allowed: one or more, dask worker inproc"),
    ):
        command.run(said(SMALL), company("heron"), tmp_path, cluster=cluster.scheduler_address)


def test_the_command_builds_whole_packs_and_a_chart(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("small.yaml").write_text(SMALL, encoding="utf-8")
    Path("w.yaml").write_text("wearers:\n- {name: heron, years: 9}\n- {name: newt, years: 12}\n", encoding="utf-8")
    words = ["sizes", "small.yaml", "--for", "w.yaml", "--workers", "2"]
    first = CliRunner().invoke(main, words)
    assert first.exit_code == 0, first.output
    assert "2 of 2 sizes are in out/small-sizes" in first.stdout and "2 of 2  " in first.stderr
    made = contents_of(Path("out/small-sizes"))
    rows = made["size-chart.csv"].decode().splitlines()
    assert rows[0].startswith("wearer,dome.length,") and [row.split(",")[0] for row in rows[1:]] == [
        "design",
        "heron",
        "newt",
    ]
    of = said(SMALL)
    alone = contents.build(grade.grade(grade.design(of), "newt", worn(years=12)))
    for path, data in alone.files.items():
        assert made[f"newt/{path}"] == data, path
    again = CliRunner().invoke(main, words)
    assert again.exit_code == 0 and again.stderr.count("was there already") == 2
    assert contents_of(Path("out/small-sizes")) == made


def test_a_failure_is_told_and_sets_the_exit_code(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("small.yaml").write_text(SMALL.replace("width: 320", "width: 900"), encoding="utf-8")
    Path("w.yaml").write_text("wearers:\n- {name: heron, stature: 2000}\n", encoding="utf-8")
    result = CliRunner().invoke(main, ["sizes", "small.yaml", "--for", "w.yaml", "--workers", "1"])
    assert result.exit_code == 1 and "FAILED: heron: dome.width comes to" in result.stdout
    assert "0 of 1 sizes" in result.stdout and Path("out/small-sizes/sizes.json").is_file()


def test_a_failed_size_has_an_empty_line_in_the_chart():
    table = chart.chart(
        [batch.Size("a", "failed", trouble="x"), batch.Size("b", "failed", (("dome.length", "1 mm", "2 mm"),))]
    )
    assert table.rows == (("design", "1 mm"), ("a", ""), ("b", "2 mm"))
