"""Glue tabs: where they fit they are whole, in a gap they narrow, and they never touch what they must not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from shellgen.geom.curves import length
from shellgen.geom.tabs import TabSizes, part, tabs

SIZES = TabSizes(width=6.0, least=2.5, longest=18.0, shortest=4.5, sag=0.35, gap=0.8, end=0.7)
NOTHING = shapely.Polygon()


def polygons(made):
    return [shapely.Polygon(tab.outline) for tab in made]


def check(edge, piece, others, made, sizes=SIZES):
    """What holds for all tabs."""
    shapes = polygons(made)
    for tab, shape in zip(made, shapes, strict=True):
        assert shape.is_valid and shape.intersection(piece).area < 1e-6 and shape.intersection(others).area < 1e-6
        top = shapely.LineString(tab.outline[-2:])
        assert top.distance(piece) >= sizes.gap - 1e-9 and (others.is_empty or top.distance(others) >= sizes.gap - 1e-9)
        foot = part(edge, tab.begin, tab.end)
        assert np.allclose(tab.outline[: len(foot)], foot)
        chord = shapely.LineString(foot[[0, -1]])
        assert max(chord.distance(shapely.Point(p)) for p in foot) <= sizes.sag + 1e-9, "it folds flat"
        assert sizes.shortest - 1e-9 <= tab.end - tab.begin <= sizes.longest
        assert shapely.hausdorff_distance(chord, top) >= sizes.least - 1e-9
    for k, one in enumerate(shapes):
        assert all(one.intersection(other).area < 1e-6 for other in shapes[:k])
    ends = [0.0, *(end for tab in made for end in (tab.begin, tab.end)), length(edge)]
    assert all(after - before >= sizes.end - 1e-9 for before, after in zip(ends[::2], ends[1::2], strict=True))


def test_a_free_straight_edge_has_whole_tabs_from_end_to_end():
    edge = np.array([(0.0, 0.0), (50.0, 0.0)])
    piece = shapely.box(0, 0, 50, 30)
    made = tabs(edge, piece, NOTHING, SIZES)
    check(edge, piece, NOTHING, made)
    assert len(made) == 3 and sum(tab.end - tab.begin for tab in made) == pytest.approx(50 - 6 * SIZES.end)
    for tab in made:
        x0, y0, x1, y1 = shapely.Polygon(tab.outline).bounds
        assert y0 == pytest.approx(-SIZES.width) and y1 == pytest.approx(0.0)
        assert tab.area == pytest.approx((x1 - x0 - 0.45 * SIZES.width) * SIZES.width)
        assert np.allclose(tab.free[[0, -1]], [(x0, 0), (x1, 0)])


@pytest.mark.parametrize("radius", [16.0, 40.0, 200.0])
@pytest.mark.parametrize("hollow", [False, True])
def test_tabs_on_a_curve_are_short_enough_to_fold(radius, hollow):
    turn = np.linspace(0.2, np.pi - 0.2, 80)
    arc = radius * np.column_stack([np.cos(turn), np.sin(turn)])
    if hollow:  # the piece lies around the arc
        edge = arc[::-1]
        piece = shapely.box(-1.2 * radius, arc[0, 1], 1.2 * radius, 1.2 * radius).difference(shapely.Polygon(arc))
    else:
        edge, piece = arc, shapely.Polygon(arc)
    made = tabs(edge, piece, NOTHING, SIZES)
    check(edge, piece, NOTHING, made)
    assert sum(tab.end - tab.begin for tab in made) > 0.5 * length(edge)


@pytest.mark.parametrize("opening", [2.0, 4.0, 8.0, 16.0, 40.0])
def test_tabs_in_a_dart_are_as_wide_as_the_gap_allows(opening):
    tip, low, high = (0.0, 0.0), (60.0, -opening / 2), (60.0, opening / 2)
    piece = shapely.box(-30, -40, 60, 40).difference(shapely.Polygon([tip, low, high]))
    edge = np.array([tip, low])[::-1]
    edge = edge if shapely.Point(30, -opening / 4 - 0.5).within(piece) and _left(edge, piece) else edge[::-1]
    made = tabs(edge, piece, NOTHING, SIZES)
    check(edge, piece, NOTHING, made)
    room = opening - SIZES.gap
    assert bool(made) == (room > SIZES.least + 0.5), "none in a gap that is too narrow for the least"
    line = shapely.LineString(edge)
    widest = max((line.distance(shapely.Point(p)) for tab in made for p in tab.outline), default=0.0)
    assert widest <= min(room, SIZES.width) + 1e-6


def _left(edge, piece):
    (x0, y0), (x1, y1) = edge
    middle, left = edge.mean(axis=0), np.array([y0 - y1, x1 - x0])
    return shapely.Point(middle + 0.1 * left / np.hypot(*left)).within(piece)


def test_tabs_keep_clear_of_others_and_mirror():
    rng = np.random.default_rng(5)
    for _ in range(12):
        turn = np.sort(rng.uniform(0, 2 * np.pi, 9))
        ring = np.column_stack([np.cos(turn), np.sin(turn)]) * rng.uniform(15, 40, (9, 1))
        piece = shapely.Polygon(ring)
        others = shapely.Point(rng.uniform(-45, 45, 2)).buffer(8).difference(piece.buffer(0.5))
        edge = ring[:6]
        made = tabs(edge, piece, others, SIZES)
        check(edge, piece, others, made)
        flip = np.array([-1.0, 1.0])
        mirrored = tabs(edge[::-1] * flip, shapely.Polygon(ring[::-1] * flip),
                        shapely.transform(others, lambda points, flip=flip: points * flip), SIZES)  # fmt: skip
        assert sum(t.area for t in mirrored) == pytest.approx(sum(t.area for t in made), rel=0.15, abs=2.0)


def test_nothing_fits_where_nothing_can():
    edge = np.array([(0.0, 0.0), (3.0, 0.0)])
    assert tabs(edge, shapely.box(0, 0, 3, 9), NOTHING, SIZES) == ()
    wall = shapely.box(0, -30, 50, -3.2)
    long = np.array([(0.0, 0.0), (50.0, 0.0)])
    assert tabs(long, shapely.box(0, 0, 50, 30), wall, SIZES) == ()
    assert tabs(long, shapely.box(0, 0, 50, 30), wall, replace(SIZES, least=2.3)) != ()
