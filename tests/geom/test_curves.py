"""Curves against circles, ellipses and shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from sourced import rows

from shellgen.geom import curves


def ellipse(a: float, b: float, count: int) -> np.ndarray:
    turn = 2 * np.pi * np.arange(count) / count
    return np.column_stack([a * np.cos(turn), b * np.sin(turn)])


def test_length_of_an_ellipse_converges_at_second_order():
    row = rows("surface")["ellipse-300-250"]
    errors = [row["value"] - curves.length(ellipse(300, 250, n), closed=True) for n in (100, 200, 400)]
    assert errors[2] < 0.02
    assert errors[0] / errors[1] == pytest.approx(4, rel=0.01)
    assert errors[1] / errors[2] == pytest.approx(4, rel=0.01)


def test_resample_is_even_and_keeps_the_ends():
    points = np.random.default_rng(2).normal(size=(30, 3)).cumsum(axis=0)
    even = curves.resample(points, 200)
    assert np.array_equal(even[0], points[0]) and np.array_equal(even[-1], points[-1])
    where = [curves.length(points) * k / 199 for k in range(200)]
    assert even == pytest.approx(curves.at_arc_length(points, where), abs=1e-12)
    steps = np.diff(curves.arc_length(curves.resample(ellipse(3, 2, 500), 60)))
    assert np.ptp(steps) < 2e-3 * steps.mean()  # chords of arcs of equal length


def test_places_along_agree_with_shapely():
    points = np.array([[0.0, 0], [30, 0], [30, 40], [100, 40]])
    line = shapely.LineString(points)
    for s in (0, 10, 30, 55.5, 140):
        assert curves.at_arc_length(points, s) == pytest.approx(np.array(line.interpolate(s).coords[0]))
    assert curves.at_arc_length(points, [-5, 1e6]) == pytest.approx(points[[0, -1]])
    round_trip = curves.at_arc_length(points, curves.length(points, closed=True) + 10, closed=True)
    assert round_trip == pytest.approx([10, 0])


def test_area_agrees_with_shapely():
    rough = ellipse(300, 200, 60) * (1 + 0.3 * np.sin(3 * np.arange(60)))[:, None] + (1000, -500)
    polygon = shapely.Polygon(rough)
    assert curves.polygon_area(rough) == pytest.approx(polygon.area)
    assert curves.polygon_area(rough[::-1]) == pytest.approx(-polygon.area)
