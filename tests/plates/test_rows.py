"""Staggered rows of scales: joints behind the middle of scales, counts that change by one, sizes as asked."""

from __future__ import annotations

from itertools import pairwise

import measures
import numpy as np
import pytest

from shellgen.dome.surfaces import plan
from shellgen.errors import PresetError
from shellgen.plates import rows

CASES = [(11, 8, 1.5), (4, 5, 1.0), (8, 4, 0.6), (16, 11, 2.5), (20, 8, 1.0), (30, 12, 1.0)]


@pytest.mark.parametrize(("count", "across", "grading"), CASES)
def test_rows_grow_and_shrink_by_one_scale(count, across, grading):
    """As the dorsal scales of snakes: their rows are most in number at mid-body and fewer towards head and tail, and
    adjacent rows are offset (encyclopaedia article on snake scales, liquisearch.com, read in excerpt)."""
    counts = rows._counts(rows.Params(rows=count, across=across, grading=grading))
    assert len(counts) == count and {abs(b - a) for a, b in pairwise(counts)} == {1}
    assert counts[0] <= max(counts) >= counts[-1] and min(counts) >= rows.FEWEST
    if grading == 1:
        peak = np.flatnonzero(np.array(counts) >= max(counts) - 1).mean()
        assert abs(peak - (count - 1) / 2) <= 1.5 and abs(max(counts) - across) <= 1


@pytest.mark.parametrize(("count", "across", "grading"), CASES)
def test_joints_alternate_from_row_to_row(count, across, grading):
    """Between two neighbouring joints of a row lies exactly one of the next row, and none is near another."""
    counts = rows._counts(rows.Params(rows=count, across=across, grading=grading))
    joints = rows._joints(counts)
    for n, own in zip(counts, joints, strict=True):
        assert len(own) == n // 2 and (own[:1] == 0).all() == (n % 2 == 0) and (np.diff(own) > 0).all()
        assert len(own) == 0 or own[-1] < 1
    for a, b in pairwise(joints):
        both = np.concatenate([a, b])
        order = np.argsort(both)
        assert (np.diff(order >= len(a)) != 0).all(), "two joints of one row follow each other"
        assert np.diff(both[order]).min() > 0.02


def test_an_inner_scale_touches_six():
    """Two in its own row, two ahead and two behind: the bricks of a wall are a honeycomb (Euler)."""
    layout = rows.build(plan.build(plan.Params()), rows.Params(rows=12, across=8, grading=1.0))
    rim = {layout.cell_plate[max(line.left, line.right)] for line in layout.lines if line.kind == "rim"}
    inner = [plate for k, plate in enumerate(layout.plates) if k not in rim]
    assert len(inner) > 15 and {len(plate.neighbours) for plate in inner} == {plate.sides for plate in inner} == {6}


def test_rows_are_as_high_as_asked():
    """Along the ridge, where scales and joints lie in turn."""
    surface = plan.build(plan.Params())
    params = rows.Params(rows=9, across=6, grading=2.0, roundness=0.0)
    layout = rows.build(surface, params)
    middle = [line for line in layout.lines if not line.uv[:, 1].any() and line.kind != "rim"]
    middle.sort(key=lambda line: -line.uv[:, 0].max())
    found = np.array([measures.line_length(surface, line) for line in middle])
    assert found / found.sum() == pytest.approx(rows._heights(params), rel=0.01)
    assert found[-1] / found[0] == pytest.approx(2.0, rel=0.01)


def test_scales_are_larger_towards_the_tail():
    surface = plan.build(plan.Params(taper=0.0))
    for grading in (1.0, 2.0):
        layout = rows.build(surface, rows.Params(grading=grading))
        areas = measures.plate_areas(surface, layout)
        middle = np.array(
            [np.mean([measures.outline(layout, c)[:, 0].mean() for c in plate.cells]) for plate in layout.plates]
        )
        behind, ahead = areas[middle < -0.3].mean(), areas[middle > 0.3].mean()
        assert behind > 1.5 * ahead if grading > 1 else behind == pytest.approx(ahead, rel=0.2)


def test_rounder_scales_bulge_more_to_the_tail():
    """The hindmost point of a scale on the midline lies behind the joints at its two sides."""
    surface = plan.build(plan.Params())
    bulge = []
    for roundness in (0.0, 0.5, 1.0):
        layout = rows.build(surface, rows.Params(roundness=roundness))
        plate = layout.plates[min(k for k, p in enumerate(layout.plates) if p.side == "C" and len(p.neighbours) == 6)]
        own = surface.points(np.concatenate([measures.outline(layout, c) for c in plate.cells]))
        back = own[np.abs(own[:, 1]) < 1e-6, 0].min()
        bulge.append(float(own[np.abs(own[:, 1]) > 0.4 * np.ptp(own[:, 1]), 0].min() - back))
    assert bulge[0] < bulge[1] < bulge[2] and bulge[2] > 10


def test_what_has_no_room_is_refused_with_what_to_change():
    surface = plan.build(plan.Params())
    with pytest.raises(PresetError, match=r"plates.across: 5 rows .* room for 8 scales across, not 20. Use 8 across"):
        rows.build(surface, rows.Params(rows=5, across=20))
    with pytest.raises(
        PresetError, match=r"plates.rows: 30 rows of up to 1\d scales make [\w-]+ \d\.\d mm wide .* fewer rows"
    ):
        rows.build(plan.build(plan.Params(length=300, width=260, height=90)), rows.Params(rows=30, across=16))
