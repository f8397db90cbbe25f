"""Irregular cells against published bounds, scipy's Voronoi cells and what was asked for."""

from __future__ import annotations

from dataclasses import replace

import measures
import numpy as np
import pytest
import shapely
import sourced
from scipy.spatial import SphericalVoronoi, Voronoi, cKDTree

from shellgen.dome.surfaces import plan
from shellgen.errors import PresetError
from shellgen.model import Layout, Surface
from shellgen.plates import _honeycomb as honeycomb
from shellgen.plates import _voronoi as voronoi
from shellgen.plates import cells

ROWS = sourced.rows("layouts")
HEXAGON = ROWS["hexagon quotient"]["value"]


def quotients(surface: Surface, layout: Layout) -> np.ndarray:
    """4 pi A / P^2 of every cell that is not on the rim."""
    areas = measures.plate_areas(surface, layout)
    lengths = [measures.line_length(surface, line) for line in layout.lines]
    found = []
    for plate, area in zip(layout.plates, areas, strict=True):
        if plate.kind == "cell":
            around = [i for c in plate.cells for i, _ in layout.cells[c] if layout.lines[i].kind != "midline"]
            found.append(4 * np.pi * area / sum(lengths[i] for i in around) ** 2)
    return np.array(found)


def random_quotients() -> np.ndarray:
    """Those of Voronoi cells of random points in a plane, by scipy and shapely."""
    net = Voronoi(np.random.default_rng(1).random((3000, 2)))
    inner = (net.regions[k] for k in net.point_region)
    shapes = [shapely.Polygon(net.vertices[r]) for r in inner if r and -1 not in r]
    shapes = [s for s in shapes if shapely.box(0.05, 0.05, 0.95, 0.95).contains(s)]
    return np.array([4 * np.pi * s.area / s.length**2 for s in shapes])


def test_the_more_they_are_relaxed_the_nearer_they_come_to_regular_hexagons():
    """Random cells are the least compact, relaxed ones more, and none more than a honeycomb on average (Hales)."""
    surface = plan.build(measures.DOMES["child"])
    means = [float(random_quotients().mean())]
    for relaxed in (0.0, 0.3, 1.0):
        params = cells.Params(cells=70, relaxed=relaxed, grading=1.0)
        seeds = [cells.build(surface, replace(params, seed=seed)) for seed in (1, 2)]
        means.append(float(np.concatenate([quotients(surface, layout) for layout in seeds]).mean()))
    assert means == sorted(means)
    assert means[0] < 0.75 and 0.95 * HEXAGON < means[-1] < 1.005 * HEXAGON


def test_relaxed_centres_come_to_the_least_moment():
    """Mean squared distance to the nearest centre times the centres' density: 1 / pi for random ones (Hertz; on a
    sphere too, by chords), and after relaxing hardly above that of a honeycomb, below which nothing goes (Fejes Toth,
    Gersho). Away from the borders of the quarter of a sphere.
    """
    mesh = honeycomb.fine(plan.build(measures.HEMISPHERE), 30)
    vertex = np.random.default_rng(3).choice(len(mesh.uv), 200, replace=False, p=mesh.weight / mesh.weight.sum())
    centres = honeycomb.Centres(mesh.points[vertex], np.zeros(200, dtype=bool))
    inner = (np.linalg.norm(mesh.uv, axis=1) < 0.85) & (mesh.points[:, 1] > 25)

    def moment(of: honeycomb.Centres) -> float:
        away = cKDTree(of.points).query(mesh.points[inner])[0]
        return float(np.average(away**2, weights=mesh.weight[inner]) * len(of.points) / mesh.weight.sum())

    relaxed = moment(honeycomb._lloyd(mesh, centres, 200))
    assert moment(centres) == pytest.approx(ROWS["Poisson moment"]["value"], rel=0.15)
    assert ROWS["hexagon moment"]["value"] * 0.98 < relaxed < 1.07 * ROWS["hexagon moment"]["value"]


def test_corners_are_those_of_scipys_spherical_voronoi_cells():
    """On a hemisphere, away from the rim, where the sphere below has no centres."""
    surface = plan.build(measures.HEMISPHERE)
    mesh = honeycomb.fine(surface, 60)
    centres = voronoi.scattered(mesh, np.full(len(mesh.uv), 60.0), 120, np.random.default_rng(1))
    found = honeycomb.contacts(mesh, centres.nearest(mesh))
    uv = voronoi.sharpened(surface, found, centres, limit=15.0)
    mirrored = centres.points[~centres.middle] * (1, -1, 1)
    points = np.concatenate([centres.points, mirrored, [[0, 0, -250.0]]])
    known = SphericalVoronoi(points, radius=250, center=np.zeros(3)).vertices
    inner = np.linalg.norm(uv, axis=1) < 0.75
    inner[list(found.middle)] = False
    away = cKDTree(known).query(surface.points(uv[inner]))[0]
    assert inner.sum() > 60 and np.mean(away < 0.05) > 0.95


def test_cells_at_the_rim_are_as_wide_as_asked():
    """By a straight line through the roots of their areas. Cells on the rim are cut off there, so that large ones come
    out somewhat smaller than asked."""
    surface = plan.build(measures.HEMISPHERE)
    for grading in (0.5, 1.0, 1.8):
        layout = cells.build(surface, cells.Params(cells=120, relaxed=1.0, grading=grading))
        areas = measures.plate_areas(surface, layout)
        middle = [np.mean([measures.outline(layout, c).mean(axis=0) for c in p.cells], axis=0) for p in layout.plates]
        radius = np.linalg.norm(middle, axis=1)
        slope, start = np.polyfit(radius, np.sqrt(areas), 1)
        assert (start + slope) / start == pytest.approx(grading, rel=0.2)


@pytest.mark.parametrize("relaxed", [0.0, 0.3, 1.0])
@pytest.mark.parametrize("count", [12, 60, 200])
def test_there_are_about_as_many_as_asked(count, relaxed):
    layout = cells.build(plan.build(plan.Params()), cells.Params(cells=count, relaxed=relaxed))
    assert len(layout.plates) == pytest.approx(count, abs=max(3, 0.03 * count))


def test_a_seed_is_a_scatter_of_its_own():
    surface = plan.build(plan.Params())
    one, two, again = (cells.build(surface, cells.Params(seed=seed)) for seed in (1, 2, 1))
    assert np.array_equal(one.nodes, again.nodes) and not np.array_equal(one.nodes, two.nodes)


@pytest.mark.parametrize("seed", range(1, 9))
def test_no_cell_is_too_narrow(seed):
    surface = plan.build(measures.DOMES["child"])
    layout = cells.build(surface, cells.Params(relaxed=0.0, seed=seed))
    assert measures.side_lengths(surface, layout).min() > 10


def test_cells_that_are_too_small_are_refused_with_what_to_change(monkeypatch):
    small = plan.build(plan.Params(length=200, width=160, height=60))
    with pytest.raises(PresetError, match=r"plates.cells: 240 cells are down to \d+ mm wide.* Use \d+ or fewer"):
        cells.build(small, cells.Params(cells=240))
    monkeypatch.setattr(cells, "TRIES", 1)
    with pytest.raises(PresetError, match=r"plates.cells: 1 scatters of 120 cells .* Use fewer cells, relax them more"):
        cells.build(plan.build(measures.DOMES["child"]), cells.Params(cells=120, relaxed=0.0, seed=3))
