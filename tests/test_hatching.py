"""Hatching against the general intersection of lines and areas."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

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
