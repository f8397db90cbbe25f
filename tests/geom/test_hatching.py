"""Areas of tone and their hatching against general operations on areas."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from shellgen.draw import shading
from shellgen.geom.hatching import hatched


def blot(seed: int) -> shapely.Geometry:
    """Islands with holes, some of them cut through."""
    random = np.random.default_rng(seed)
    discs = [shapely.Point(x, y).buffer(r) for x, y, r in random.uniform((0, 0, 2), (60, 40, 9), (14, 3))]
    holes = [shapely.Point(x, y).buffer(r) for x, y, r in random.uniform((0, 0, 1), (60, 40, 4), (20, 3))]
    return shapely.union_all(discs).difference(shapely.union_all(holes))


@pytest.mark.parametrize("seed", range(5))
def test_stretches_are_those_of_the_general_intersection(seed):
    area, step = blot(seed), 1.7
    found = hatched(area, step)
    lines = shapely.multilinestrings([[(-99.0, -99.0 + k * step), (199.0, 199.0 + k * step)] for k in range(-99, 99)])
    wanted = area.intersection(lines)
    assert found[:, 1, 0].min() > found[:, 0, 0].min()
    assert (np.diff(found[:, :, 0], axis=1) >= 0).all()
    assert np.allclose((found[:, :, 1] - found[:, :, 0]) / step, np.round((found[:, :, 1] - found[:, :, 0]) / step))
    made = shapely.multilinestrings(found)
    assert made.length == pytest.approx(wanted.length, rel=1e-9)
    assert made.hausdorff_distance(wanted) < 1e-6


def test_lines_through_corners_and_along_edges():
    square = shapely.Polygon([(0, 0), (2, 0), (2, 2), (0, 2)])
    corner, *lines = hatched(square, 1.0)
    assert corner == pytest.approx(np.array([(2, 0), (2, 0)]))
    assert np.array(lines) == pytest.approx(np.array([[(1, 0), (2, 1)], [(0, 0), (2, 2)], [(0, 1), (1, 2)]]))
    slanted = shapely.Polygon([(0, 0), (3, 3), (3, 4), (0, 1)])  # its sides lie on two lines, of which one counts
    assert hatched(slanted, 1.0) == pytest.approx(np.array([[(0, 0), (3, 3)]]))


@pytest.mark.parametrize(
    "area", (shapely.Polygon(), shapely.LineString([(0, 0), (5, 0)]), shapely.box(0, 0.2, 0.1, 0.3))
)
def test_nothing_where_no_line_goes_through_an_area(area):
    assert hatched(area, 1.0).shape == (0, 2, 2)


def test_the_ground_that_triangles_cover_is_that_of_each_of_them():
    side = np.arange(7.0)
    vertices = np.array(np.meshgrid(side, side)).reshape(2, -1).T + np.random.default_rng(1).uniform(-0.2, 0.2, (49, 2))
    low = (np.arange(6)[:, None] * 7 + np.arange(6)).ravel()
    faces = np.concatenate([np.stack([low, low + 8, low + 1], 1), np.stack([low, low + 7, low + 8], 1)])
    x, y = vertices.T
    if ((x[faces[0, 1]] - x[faces[0, 0]]) * (y[faces[0, 2]] - y[faces[0, 0]])) < 0:
        faces = faces[:, ::-1]
    middle = vertices[faces].mean(axis=1)
    for inside in (np.hypot(*(middle - 3).T) < 2.5, np.abs(np.hypot(*(middle - 3).T) - 2) < 0.8, middle[:, 0] < 9.0):
        found = shading._covered(vertices, faces, inside)
        each = shapely.union_all(shapely.polygons(vertices[faces[inside]]))
        assert found.symmetric_difference(each).area < 1e-9 < found.area
    for share in (0.1, 0.5, 0.9):  # few are apart, many touch at vertices, most have holes
        inside = np.random.default_rng(2).random(len(faces)) < share
        edges = np.sort(np.concatenate([faces[inside][:, [k, k - 1]] for k in range(3)]), axis=1)
        once = [vertices[e] for e, n in zip(*np.unique(edges, axis=0, return_counts=True), strict=True) if n == 1]
        plain = shapely.build_area(shapely.MultiLineString(once))
        assert shapely.equals_exact(shading._covered(vertices, faces, inside), plain, normalize=True)
