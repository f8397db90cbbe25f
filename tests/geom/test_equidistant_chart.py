"""The chart: against Snyder's formulas on a hemisphere, its inverse, lengths of rays, and areas by two routes."""

from __future__ import annotations

import measures
import numpy as np
import pytest

from shellgen.dome.surfaces import plan
from shellgen.geom import equidistant_chart, patches


@pytest.fixture(scope="module", params=measures.DOMES)
def laid(request):
    surface = plan.build(measures.DOMES[request.param])
    return surface, equidistant_chart.chart(surface)


def spread(count: int) -> np.ndarray:
    """uv over the whole disc, its centre, its rim and its midline among them."""
    rng = np.random.default_rng(4)
    radius, turn = np.sqrt(rng.random(count)), 2 * np.pi * rng.random(count)
    radius[:100], radius[100], turn[101:150], turn[150:200] = 1.0, 0.0, 0.0, np.pi
    return np.column_stack([radius * np.cos(turn), radius * np.sin(turn)])


def test_it_is_invertible_on_the_whole_domain(laid):
    _, chart = laid
    uv = spread(4000)
    assert np.abs(chart.uv(chart.flat(uv)) - uv).max() < 1e-12
    xy = chart.flat(uv)
    assert np.abs(chart.flat(chart.uv(xy)) - xy).max() < 1e-9


def test_rays_keep_their_length_and_the_midline_its_place(laid):
    surface, chart = laid
    radius = np.linspace(0, 1, 20001)
    for turn in (0.0, 0.4, 1.3, 2.2, np.pi):
        ray = radius[:, None] * (np.cos(turn), np.sin(turn))
        length = np.linalg.norm(np.diff(surface.points(ray), axis=0), axis=1).sum()
        assert np.hypot(*chart.flat(ray[-1:])[0]) == pytest.approx(length, abs=1e-4)
    middle = chart.flat(np.column_stack([np.linspace(-1, 1, 41), np.zeros(41)]))
    assert (middle[:, 1] == 0).all() and (np.diff(middle[:, 0]) > 0).all()


def test_it_is_mirrored_exactly(laid):
    _, chart = laid
    uv = spread(500)
    assert np.array_equal(chart.flat(uv * (1, -1)), chart.flat(uv) * (1, -1))


def test_area_by_its_stretches_is_that_of_the_outline(laid):
    """The product of the stretches is the area's; integrated over the dome it must give the plane figure's area."""
    surface, chart = laid
    radii, weights = patches.gauss_radii(60)
    uv = patches.polar_grid(radii, 240)
    tangent = surface.tangents(uv)
    element = np.linalg.norm(np.cross(tangent[..., 0], tangent[..., 1]), axis=1)
    whole = patches.integrate(element * chart.stretches(uv).prod(axis=1), radii, weights)
    rim = chart.outline(4001)
    half = 0.5 * np.abs((rim[:-1, 0] * rim[1:, 1] - rim[1:, 0] * rim[:-1, 1]).sum())
    assert whole == pytest.approx(2 * half, rel=1e-6)


def test_a_hemisphere_is_laid_as_snyder_says():
    """Azimuthal equidistant (USGS PP 1395, p. 195): x = R c sin(az); the stretch across is c / sin c, along it 1.
    Area of the cap up to c is 2 pi R h with h = R (1 - cos c) (Archimedes)."""
    surface = plan.build(measures.HEMISPHERE)
    chart = equidistant_chart.chart(surface)
    uv = spread(900)[101:]
    point = surface.points(uv) / 250
    c, bearing = np.arccos(np.clip(point[:, 2], -1, 1)), np.arctan2(point[:, 1], point[:, 0])
    wanted = 250 * c[:, None] * np.column_stack([np.cos(bearing), np.sin(bearing)])
    assert np.abs(chart.flat(uv) - wanted).max() < 1e-4
    assert np.abs(chart.stretches(uv) - np.column_stack([np.ones_like(c), c / np.sin(c)])).max() < 1e-6
    radii, weights = patches.gauss_radii(40)
    grid = patches.polar_grid(0.7 * radii, 64)
    tangent = surface.tangents(grid)
    element = np.linalg.norm(np.cross(tangent[..., 0], tangent[..., 1]), axis=1)
    cap = 0.49 * patches.integrate(element, radii, weights)
    height = 250 - surface.points(np.array([[0.7, 0.0]]))[0, 2]
    assert cap == pytest.approx(2 * np.pi * 250 * height, rel=1e-9)
