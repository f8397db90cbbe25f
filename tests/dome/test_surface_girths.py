"""The dome of measured girths against half ellipsoids, its own stations and the tape laid over it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ellipe
from sourced import rows

from shellgen import preset
from shellgen.dome.surfaces import girths
from shellgen.dome.surfaces.girths import Params, Station, over, section
from shellgen.errors import GeometryError, PresetError
from shellgen.geom import patches

PILLOW = Params(
    length=560.0,
    stations=(
        Station(at=60.0, girth=420.0, width=300.0),
        Station(at=200.0, girth=620.0, width=440.0, height=170.0),
        Station(at=350.0, girth=640.0, width=460.0),
        Station(at=500.0, girth=420.0, width=310.0),
    ),
)
UV = np.random.default_rng(12).uniform(-1, 1, (2000, 2))
UV = UV[np.hypot(*UV.T) < 0.999]


def cut_across(surface, at: float, half_length: float, count: int = 4001) -> np.ndarray:
    """Points where the plane at `at` from the neck edge meets the dome, rim to rim: exact, since x is a p."""
    p = 1 - at / half_length
    turn = np.linspace(-np.pi / 2, np.pi / 2, count)
    q, w = np.sqrt(1 - p * p) * np.sin(turn), np.sqrt(1 - p * p) * np.cos(turn)
    radius = np.arccos(np.clip(w, 0, 1)) / (np.pi / 2)
    flat = np.column_stack([np.full(count, p), q])
    return surface.points(flat * (radius / np.maximum(np.hypot(*flat.T), 1e-300))[:, None])


def length(points: np.ndarray) -> float:
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def test_half_ellipse_has_the_published_perimeter():
    row = rows("surface")["ellipse-300-250"]
    assert over(300, 250) == pytest.approx(row["value"] / 2, abs=1e-9)
    assert over(200, 60) == pytest.approx(2 * 200 * ellipe(1 - 0.09), rel=1e-12)


def test_girths_of_half_an_ellipsoid_give_it_back():
    """Stations need not be many: breadth and height over those of the unit sphere do not change along an ellipsoid."""
    a, b, c = 280.0, 230.0, 170.0
    stations = []
    for at in (40.0, 150.0, 300.0, 480.0):
        share = np.sqrt(1 - (1 - at / a) ** 2)
        stations.append(Station(at=at, girth=over(b * share, c * share), width=2 * b * share))
    made = girths.build(Params(length=2 * a, stations=tuple(stations)))
    points = made.points(UV) / (a, b, c)
    assert np.abs(np.linalg.norm(points, axis=1) - 1).max() < 1e-9
    one = girths.build(Params(length=400.0, stations=(Station(at=200.0, girth=np.pi * 200, width=400.0),)))
    assert patches.area(one) == pytest.approx(2 * np.pi * 200**2, rel=1e-9)


@pytest.mark.parametrize("cover", [0.0, 10.0])
def test_every_measure_is_found_again_on_the_dome(cover):
    surface = girths.build(replace(PILLOW, cover=cover))
    for station in PILLOW.stations:
        curve = cut_across(surface, station.at + cover, 280.0 + cover)
        assert np.ptp(curve[:, 0]) < 1e-9
        assert np.ptp(curve[:, 1]) == pytest.approx(station.width + 2 * cover, abs=1e-6)
        assert length(curve) == pytest.approx(station.girth + np.pi * cover, abs=0.001)
        if station.height is not None:
            assert curve[:, 2].max() == pytest.approx(station.height + cover, abs=1e-6)
    rim = surface.points(patches.polar_grid(np.ones(1), 4000))
    assert np.ptp(rim[:, 0]) == pytest.approx(560 + 2 * cover, rel=1e-6) and np.abs(rim[:, 2]).max() < 1e-9


def test_graded_forms_keep_their_shape():
    """Twice along, half across, up as it was: sections shrink as ellipses do, and the boxy one stays as boxy."""
    other = girths.graded(PILLOW, 2.0, 0.5, 1.0)
    assert [station.at for station in other.stations] == [120, 400, 700, 1000]
    for before, after in zip(PILLOW.stations, other.stations, strict=True):
        (half, height, boxy), grown = section(before), section(after)
        assert grown == pytest.approx((half / 2, height, boxy), abs=0.1)


def test_height_left_out_is_that_of_the_ellipse():
    ball = section(Station(at=1.0, girth=np.pi * 150, width=300.0))
    assert ball == pytest.approx((150.0, 150.0, 0.0), abs=1e-9)
    stated = section(Station(at=1.0, girth=over(150, 110, 0.3), width=300.0, height=110.0))
    assert stated == pytest.approx((150.0, 110.0, 0.3), abs=1e-9)


@pytest.mark.parametrize("offset", [0.0, -5.0])
def test_tangents_are_the_derivatives(offset):
    """Central differences, away from the stations, where the third derivative jumps: the error falls as the square."""
    surface = girths.build(PILLOW)
    tangent, knots = surface.tangents(UV, offset=offset), np.array([60.0, 200.0, 350.0, 500.0])
    apart = np.abs(280 - surface.points(UV)[:, :1] - knots).min(axis=1) > 2
    for axis in range(2):
        errors = []
        for step in (4e-4, 2e-4):
            away = step * np.eye(2)[axis]
            moved = surface.points(UV + away, offset=offset) - surface.points(UV - away, offset=offset)
            errors.append(np.abs(moved / (2 * step) - tangent[:, :, axis])[apart].max())
        assert errors[0] < 0.01 and errors[0] / errors[1] == pytest.approx(4, rel=0.1)


def test_curvature_does_not_jump_at_a_station():
    surface = girths.build(PILLOW)
    x = 1 - 200 / 280 + np.array([-1e-7, 1e-7])
    uv = np.column_stack([np.arcsin(x) / (np.pi / 2), np.zeros(2)])
    one, other = patches.curvatures(surface, uv)
    assert one == pytest.approx(other, rel=1e-4)


def test_mirror_is_exact_to_the_last_bit():
    surface, flip, other = girths.build(PILLOW), np.array([1, -1, 1]), UV * (1, -1)
    for offset in (0.0, -5.0):
        assert np.array_equal(surface.points(other, offset=offset), surface.points(UV, offset=offset) * flip)
    assert np.array_equal(surface.normals(other), surface.normals(UV) * flip)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(st.floats(0.04, 0.96), st.floats(100, 500), st.floats(1.05, 2.2), st.none() | st.floats(30, 250)),
        min_size=1,
        max_size=6,
        unique_by=lambda row: row[0],
    )
)
def test_any_measures_give_a_sound_dome_or_one_clear_error(rows):
    try:
        stations = tuple(
            Station(at=600 * at, girth=width * more, width=width, height=height)
            for at, width, more, height in sorted(rows, key=lambda row: row[0])
        )
        surface = girths.build(Params(length=600.0, stations=stations))
    except (GeometryError, PresetError) as error:
        assert len(str(error)) > 30
        return
    points = surface.points(patches.polar_grid(np.linspace(0, 1, 41), 120))
    assert np.isfinite(points).all() and points[:, 2].min() >= 0 and np.abs(points[-120:, 2]).max() < 1e-9
    for station in stations:
        assert length(cut_across(surface, station.at, 300.0)) == pytest.approx(station.girth, abs=0.01)


@pytest.mark.parametrize(
    ("lines", "line", "says"),
    [
        ("  - {at: 200, girth: 300, width: 320}", 5, "326 mm or more: a tape over the top is longer than across"),
        ("  - {at: 200, girth: 900, width: 320, height: 90}", 5, "3.. to 4.. mm"),
        ("  - {at: 600, girth: 500, width: 320}", 3, "length: 560 mm"),
        (
            "  - {at: 200, girth: 500, width: 320}\n  - {at: 150, girth: 500, width: 320}",
            5,
            "more than 200 mm, the place before",
        ),
        ("", 4, "Give at least one"),
    ],
)
def test_impossible_measures_are_named_with_their_line(tmp_path: Path, lines: str, line: int, says: str):
    path = tmp_path / "basket.yaml"
    path.write_text(f"dome:\n  kind: girths\n  length: 560\n  stations:\n{lines}\n")
    with pytest.raises(PresetError, match=says) as caught:
        preset.read(path)
    assert caught.value.line == line
