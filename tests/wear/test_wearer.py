"""The wearer's measures against the surveys, the dome that fits them, and the lay figure made of them."""

from __future__ import annotations

from dataclasses import fields, replace
from itertools import pairwise
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest
import trimesh
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from shellgen import pipeline, preset, record
from shellgen.core import flow
from shellgen.dome import mesh
from shellgen.dome.surfaces import plan
from shellgen.errors import PresetError
from shellgen.model import Spike, SpikeShape
from shellgen.plates import turtle
from shellgen.record.plain import plain
from shellgen.wear import wearer
from shellgen.wear.wearer import Params, body, fit, mannequin, survey, trunk

ROWS = {row["id"]: row for row in yaml.safe_load(Path("tests/published/wearer.yaml").read_text("utf-8"))}
SURVEYED = [row for row in ROWS.values() if "percentiles" in row]
SPREADS = [row for row in ROWS.values() if row.get("deviation")]


def at(row, percentile: float) -> float:
    return getattr(body(Params(survey=row["survey"], years=row.get("years"), percentile=percentile)), row["measure"])


@pytest.mark.parametrize("row", SURVEYED, ids=lambda row: row["id"])
def test_percentiles_are_the_published_ones(row):
    found = [at(row, percentile) for percentile in row["percentiles"]]
    assert found == pytest.approx(row["value"], abs=row["tolerance"])


@pytest.mark.parametrize("row", SPREADS, ids=lambda row: row["id"])
def test_spread_agrees_with_the_published_deviation(row):
    one = NormalDist().cdf(1) * 100
    found = (at(row, one) - at(row, 100 - one)) / 2
    assert found == pytest.approx(row["value"], rel=row["tolerance"])


def test_elbows_hang_outside_the_share_of_both_sexes():
    for sex in ("male", "female"):
        row = ROWS[f"{sex}-arms-over-shoulders"]
        assert row["value"] == pytest.approx(fit.ELBOWS, abs=row["tolerance"])


def test_both_is_halfway_and_a_year_between_birthdays_too():
    male, female, both = (body(Params(survey=s, percentile=50)) for s in ("male", "female", "both"))
    six, seven, eight = (body(Params(years=y)) for y in (6.0, 7.0, 8.0))
    for name in survey.MEASURES:
        assert getattr(both, name) == pytest.approx((getattr(male, name) + getattr(female, name)) / 2)
        if name in ("stature", "mass_kg"):
            assert getattr(seven, name) == pytest.approx((getattr(six, name) + getattr(eight, name)) / 2)
    assert (six.group, both.group) == ("child", "child"), "nobody says that the wearer is grown"


def test_childrens_other_measures_go_with_the_stature():
    child, grown = body(Params(years=8.0)), body(Params(percentile=50))
    for name in set(survey.MEASURES) - {"stature", "mass_kg"}:
        assert getattr(child, name) / child.stature == pytest.approx(getattr(grown, name) / grown.stature)


MEASURED = {name.replace("_kg", ""): name for name in survey.MEASURES}


@pytest.mark.parametrize("name", MEASURED)
@pytest.mark.parametrize("percentile", [5, 50, 80])
def test_what_is_measured_stays_and_leads_its_kind(name, percentile):
    """A body of one percentile throughout is found again from any one of its measures, within that measure's kind."""
    whole, field = body(Params(survey="female", percentile=percentile)), MEASURED[name]
    value = getattr(whole, field) * (1000 if name == "mass" else 1)
    again = body(Params(survey="female", **{name: value}))
    assert again.stated == (field,) and getattr(again, field) == pytest.approx(value / (1000 if name == "mass" else 1))
    kind = wearer.BULK if field in wearer.BULK else wearer.FRAME
    for other in kind:
        assert getattr(again, other) == pytest.approx(getattr(whole, other), rel=1e-9)


def test_mass_without_a_measure_goes_with_the_square_of_the_stature():
    short, tall = (body(Params(stature=s)) for s in (1500.0, 1800.0))
    assert tall.mass_kg / short.mass_kg == pytest.approx((1800 / 1500) ** 2)


def test_far_outside_the_survey_bodies_go_on_in_proportion():
    tall, taller = (body(Params(stature=s)) for s in (2100.0, 2200.0))
    for name in wearer.FRAME:
        assert getattr(taller, name) / getattr(tall, name) == pytest.approx(2200 / 2100)
    found = wearer.remarks(Params(stature=2200.0), taller)
    assert any(f.level == "caution" and "almost nobody with this stature" in f.text for f in found)


@pytest.mark.parametrize(("aside", "group"), [(-2.0, "child"), (2.0, "adult")])
def test_without_years_only_a_stature_no_woman_has_is_from_the_childrens_survey(aside, group):
    """Three standard deviations below the mean; of the normal distribution 5 % lie below 1.645 of them."""
    low, middle, _ = survey.ADULTS["female"]["stature"]
    stature = middle - 3 * (middle - low) / 1.645 + aside
    unknown, known = wearer.complete(Params(stature=stature)), wearer.complete(Params(stature=stature, group=group))
    assert all(getattr(unknown, name) == getattr(known, name) for name in survey.MEASURES)


@pytest.mark.parametrize(
    ("figures", "where", "says"),
    [
        ({"group": "child"}, "wearer.years", "neither years nor stature"),
        ({"years": 3.0}, "wearer.years", "4 to 14 years, or the stature too"),
        ({"years": 16.0}, "wearer.years", "4 to 14 years, or the stature too"),
        ({"back_length": 180.0}, "wearer.back_length", "Is the unit right?"),
        ({"stature": 1700.0, "mass": 15e3}, "wearer.mass", "kg is not likely for such a body"),
        ({"stature": 1600.0, "neck_height": 1550.0}, "wearer.neck_height", "up to 1520 mm"),
        ({"stature": 1600.0, "sitting_height": 1300.0}, "wearer.sitting_height", "up to 1280 mm"),
        (
            {"stature": 1700.0, "neck_height": 1000.0, "sitting_height": 800.0},
            "wearer.sitting_height",
            "Measure sitting",
        ),
    ],
)
def test_measures_that_no_body_has_are_refused(figures, where, says):
    with pytest.raises(PresetError) as caught:
        body(Params(**figures))
    assert caught.value.where == where and says in str(caught.value)


def test_remarks_say_where_measures_come_from_and_tell_none():
    grown = Params(group="adult", percentile=50)
    said = wearer.remarks(grown, body(grown))
    assert [f.level for f in said] == ["ok"] and "Army" in said[0].text and "unweighted" in said[0].text
    child = Params(years=6.0, shoulder_breadth=261.0)
    said = wearer.remarks(child, body(child))
    assert [f.level for f in said] == ["caution"] and "rough" in said[0].text
    assert "shoulder breadth, back" not in said[0].text and "261" not in said[0].text
    known = {name: getattr(body(Params()), MEASURED[name]) for name in MEASURED if name != "mass"}
    whole = Params(group="adult", mass=75e3, **known)
    assert wearer.remarks(whole, body(whole)) == ()


# The dome that fits


@pytest.fixture(scope="module")
def grids():
    """Mesh of a dome of these outer figures, coarse."""
    made = {}

    def grid(size: fit.DomeSize):
        key = (size.length, size.width, size.height)
        if key not in made:
            surface = plan.build(plan.Params(*key))
            made[key] = mesh.build(surface, turtle.build(surface, turtle.Params()), mesh.Params(edge=60.0))
        return made[key]

    return grid


BODIES = [
    Params(percentile=5.0), Params(percentile=50.0), Params(percentile=95.0), Params(years=6.0), Params(years=14.0),
    Params(survey="male", percentile=95.0), Params(survey="female", percentile=5.0), Params(stature=2050.0, mass=130e3),
]  # fmt: skip


@pytest.mark.parametrize("who", BODIES, ids=lambda p: f"{p.survey}-{p.percentile}-{p.years}-{p.stature}")
def test_the_advised_dome_has_nothing_said_against_it(grids, who):
    found = body(who)
    size = fit.size(found)
    worn = fit.build(found, grids(size), ())
    assert [f.level for f in worn.findings] == ["ok"] and worn.fits
    assert worn.neck - worn.seat == pytest.approx(trunk(found))
    assert size.width < fit.ELBOWS * found.shoulder_breadth and size.length > fit.BACK_LEAST * found.back_length
    assert worn.neck > size.length / 2 and worn.seat < -size.length / 2 and worn.back < 0


def test_larger_bodies_get_larger_domes():
    sizes = [fit.size(body(who)) for who in (Params(years=6.0), *BODIES[:3])]
    for one, next_ in pairwise(sizes):
        assert one.length < next_.length and one.width < next_.width and one.height < next_.height


def spike(x: float, z: float, height: float, towards=(0.0, 0.0, 1.0)) -> Spike:
    frame = np.eye(4)
    frame[:3, 2], frame[:3, 3] = towards, (x, 0.0, z)
    return Spike(
        "s", 0, np.zeros(2), frame, 0.0, np.zeros((3, 3)), np.zeros((3, 2)), "m", SpikeShape("cone", 30.0, 30.0, height)
    )


@pytest.mark.parametrize(
    ("change", "spikes", "level", "says"),
    [
        ({"length": 700.0}, (), "fault", "below the seat of a chair"),
        ({"length": 600.0}, (), "caution", "pushes it up|pushes the shell up"),
        ({"length": 300.0}, (), "caution", "looks like a knapsack"),
        ({"width": 500.0}, (), "caution", "pushes the arms out"),
        ({"width": 800.0}, (), "caution", "doorway has room for 715 mm. Go through sideways"),
        ({}, (spike(250.0, 60.0, 90.0, (1.0, 0.0, 0.0)),), "caution", "above the base of the neck"),
        ({}, (spike(220.0, 80.0, 220.0),), "caution", "cannot see the floor behind"),
        ({"height": 290.0}, (), "caution", "stool or bench"),
        ({}, (spike(-100.0, 150.0, 350.0),), "caution", "Sideways, wearer and shell"),
    ],
)
def test_a_dome_that_does_not_fit_is_told_so(grids, change, spikes, level, says):
    found = body(Params())
    worn = fit.build(found, grids(replace(fit.size(found), **change)), spikes)
    fitting = [f for f in worn.findings if any(part in f.text for part in says.split("|"))]
    assert [f.level for f in fitting] == [level] and not worn.fits, [f.text for f in worn.findings]
    assert any(character.isdigit() for character in fitting[0].text)


def test_arms_raised_meet_a_dome_that_is_square_at_the_neck():
    found = body(Params())
    size = fit.size(found)
    square = plan.build(plan.Params(size.length, 480.0, size.height, taper=0.4, squareness=0.4))
    grid = mesh.build(square, turtle.build(square, turtle.Params()), mesh.Params(edge=60.0))
    wide = replace(found, shoulder_breadth=300.0)
    assert any("raised freely" in f.text for f in fit.build(wide, grid, ()).findings)


def test_sight_is_the_tangent_to_a_single_point():
    """One point behind the back: the line from the eyes over it meets the floor where similar triangles say."""
    found, at_ = body(Params()), fit.Fit(300.0, -350.0, -10.0, fit.DomeSize(1, 1, 1), ())
    eye_up = found.neck_height + fit.EYES * (found.stature - found.neck_height)
    z = at_.back - found.chest_depth / 4
    x = at_.neck + fit.EYES * (found.stature - found.neck_height)
    seen = fit.sight(found, at_, np.array([[x - 200.0, 0.0, z + 150.0]]))
    assert seen == pytest.approx(eye_up * 150 / 200)
    assert fit.sight(found, at_, np.array([[x + 1.0, 0.0, z + 150.0]])) == np.inf


def test_limits_do_not_tell_the_measures(grids):
    """Whatever is said of a dome is the same for bodies that differ by little."""
    found = body(Params(shoulder_breadth=401.0))
    other = replace(found, shoulder_breadth=403.0)
    grid = grids(fit.DomeSize(540.0, 520.0, 170.0))
    texts = [[f.text for f in fit.build(b, grid, ()).findings] for b in (found, other)]
    assert texts[0] == texts[1] and "490 mm" in texts[0][0]


# In a preset


def written(tmp_path: Path, text: str) -> preset.Preset:
    path = tmp_path / "bell.yaml"
    path.write_text(text)
    return preset.read(path)


def test_a_named_wearer_gets_the_figures_that_the_dome_leaves_open(tmp_path):
    own = written(tmp_path, "wearer:\n  years: 6\n").dome.own
    advised = fit.size(body(Params(years=6.0)))
    assert (own.length, own.width, own.height) == (advised.length, advised.width, advised.height)
    own = written(tmp_path, "wearer:\n  years: 6\ndome:\n  width: 300\n").dome.own
    assert (own.length, own.width, own.height) == (advised.length, 300, advised.height)


@pytest.mark.parametrize("text", ["name: bell\n", "wearer:\n", "wearer:\n  share: yes\n"])
def test_nobody_named_leaves_the_dome_as_it_was(tmp_path, text):
    made = written(tmp_path, text)
    assert not made.wearer.given
    assert (made.dome.own.length, made.dome.own.width, made.dome.own.height) == (560, 460, 180)


def test_girths_are_not_changed_by_a_wearer(tmp_path):
    lines = "dome:\n  kind: girths\n  length: 500\n  stations:\n  - {at: 250, girth: 600, width: 400}\n"
    assert written(tmp_path, f"wearer:\n  years: 6\n{lines}").dome.own.length == 500


def test_a_wearer_that_cannot_be_is_named_with_its_line(tmp_path):
    with pytest.raises(PresetError) as caught:
        written(tmp_path, "name: bell\nwearer:\n  group: child\n  years: 3\n")
    assert caught.value.line == 4


@pytest.fixture(scope="module")
def worn(tmp_path_factory):
    text = "wearer:\n  stature: 1683\n  shoulder_breadth: 397\n  share: {}\nmesh: {{edge: 40 mm}}\nspikes: []\n"
    text += "seams: plates\nplates: {{layout: hexes, size: 200}}\nshape: {{rounds: 0}}\nnest: {{effort: quick}}\n"
    running = flow.Flow()
    made = {}
    for share in ("no", "yes"):
        path = tmp_path_factory.mktemp("worn") / "bell.yaml"
        path.write_text(text.format(share))
        made[share] = pipeline.shell_of(preset.read(path), running)
    return made


def test_the_record_keeps_measures_to_itself_unless_told(worn):
    quiet, told = (record.record(worn[share]) for share in ("no", "yes"))
    assert quiet.wearer.measures_given and set(plain(quiet.wearer)) == {"measures_given", "fits", "findings"}
    assert not any(figure in str(quiet.wearer) for figure in ("1683", "397"))
    assert told.wearer.measures["stature"] == 1683
    assert told.wearer.measured == ("stature", "shoulder_breadth")
    assert {f.text for f in worn["no"].worn.fit.findings} <= {f.text for f in quiet.findings}


# The lay figure


@settings(max_examples=15, deadline=None, derandomize=True)
@given(
    st.sampled_from(["adult", "child"]), st.floats(900, 2150), st.floats(0.8, 1.8), st.sampled_from(list(survey.SEXES))
)
def test_lay_figures_are_closed_symmetric_and_as_measured(group, stature, stout, sex):
    usual = body(Params(group=group, survey=sex, stature=stature)).mass_kg
    found = body(Params(group=group, survey=sex, stature=stature, mass=1000 * max(8.0, stout * usual)))
    at_ = fit.Fit(300.0, 300.0 - trunk(found), -10.0, fit.size(found), ())
    part = mannequin.build(found, at_)
    figure = trimesh.Trimesh(part.vertices, part.faces, process=False)
    assert len(part.faces) < 6000 and figure.is_watertight and figure.is_winding_consistent
    assert all(bead.volume > 0 for bead in figure.split())
    low, high = part.vertices.min(axis=0), part.vertices.max(axis=0)
    assert high[0] - low[0] == pytest.approx(found.stature, abs=1e-6)
    assert high[0] == pytest.approx(at_.neck + found.stature - found.neck_height)
    assert high[2] == pytest.approx(at_.back, abs=0.02 * found.chest_depth) and high[2] <= at_.back + 1e-9
    mirrored = part.vertices * (1, -1, 1)
    key = [np.lexsort(np.round(points, 6).T) for points in (part.vertices, mirrored)]
    assert np.abs(part.vertices[key[0]] - mirrored[key[1]]).max() < 1e-9
    assert np.abs(np.linalg.norm(part.vertex_normals, axis=1) - 1).max() < 1e-12
    assert 0.4 < figure.volume / 1e6 / found.mass_kg < 1.6, "litres per kilogram: neither sticks nor barrels"


def test_every_measure_can_be_stated():
    names = {f.name for f in fields(Params)}
    assert set(MEASURED) <= names
