"""The honeycomb against Euler's relation, the areas asked for, and the clock."""

from __future__ import annotations

from pathlib import Path

import measures
import numpy as np
import pytest
import yaml

from shellgen.dome.surfaces import plan
from shellgen.errors import GeometryError
from shellgen.plates import hexes

CASES = [
    *((dome, midline, 75) for dome in measures.DOMES for midline in ("cells", "edges")),
    ("adult", "cells", 50),
    ("adult", "edges", 50),
    ("adult", "edges", 55.704538132563506),  # two pairs of cells would follow each other along the midline
]
PUBLISHED = {
    row["id"]: row["value"]
    for row in yaml.safe_load((Path(__file__).parents[1] / "published/layouts.yaml").read_text())
}


@pytest.fixture(scope="module", params=CASES, ids=lambda case: "-".join(map(str, case)))
def built(request):
    dome, midline, size = request.param
    surface = plan.build(measures.DOMES[dome])
    return surface, hexes.build(surface, hexes.Params(size=size, midline=midline)), size


def degrees(layout):
    """Lines that are drawn, by node."""
    return np.bincount([n for x in layout.lines if x.kind != "midline" for n in (x.start, x.end)])


def test_three_lines_meet_at_every_corner_inside(built):
    """On the midline a line may also just run across: two."""
    _, layout, _ = built
    degree = degrees(layout)
    rim = np.linalg.norm(layout.nodes, axis=1) > 1 - 1e-12
    middle = layout.nodes[:, 1] == 0
    assert (degree[~rim & ~middle] == 3).all()
    assert np.isin(degree[~rim & middle], (2, 3)).all()
    assert np.isin(degree[rim], (2, 3)).all()


def test_boundary_rule(built):
    """Sum of 6 - n over all cells is 6 + b3 - b2 where all corners inside are of three lines (from V - E + F = 1,
    3 V = 2 E + ... counted by corners). The rim is one side of a cell, so its corners of two lines do not count.
    """
    _, layout, _ = built
    degree = degrees(layout)
    rim = np.linalg.norm(layout.nodes, axis=1) > 1 - 1e-12
    b3 = int((degree[rim] == 3).sum())
    assert sum(6 - plate.sides for plate in layout.plates) == PUBLISHED["seventh flower"] + b3


def test_cells_are_of_equal_area(built):
    surface, layout, size = built
    areas = measures.plate_areas(surface, layout)
    inner = np.array([plate.kind == "hex" for plate in layout.plates])
    assert areas[inner].std() < 0.05 * areas[inner].mean()
    assert 0.85 * areas.mean() < areas[~inner].min() and areas[~inner].max() < 1.15 * areas.mean()
    # as many whole cells as the dome's area holds: cells come one or two at a time
    assert abs(areas.sum() / (size**2 * np.sqrt(3) / 2) - len(areas)) < 2


def test_no_side_is_short(built):
    """A regular hexagon's side is 0.577 of its width; none here is less than half of that."""
    surface, layout, size = built
    assert measures.side_lengths(surface, layout).min() > 0.5 * 0.577 * size


def test_cells_are_compact(built):
    """4 pi A / P^2 is 1 for a circle, 0.907 for a regular hexagon, 0.865 for a regular pentagon."""
    surface, layout, _ = built
    areas = measures.plate_areas(surface, layout)
    lengths = [measures.line_length(surface, line) for line in layout.lines]
    for plate, area in zip(layout.plates, areas, strict=True):
        around = [i for c in plate.cells for i, _ in layout.cells[c] if layout.lines[i].kind != "midline"]
        quotient = 4 * np.pi * area / sum(lengths[i] for i in around) ** 2
        assert quotient > (0.8 if plate.kind == "hex" else 0.6)


def test_most_inner_cells_are_hexagons(built):
    _, layout, _ = built
    sides = [plate.sides for plate in layout.plates if plate.kind == "hex"]
    assert set(sides) <= {5, 6, 7, 8} and sides.count(8) <= 1
    assert sides.count(6) >= 0.75 * len(sides)


def test_midline_is_as_asked():
    surface = plan.build(plan.Params())
    for midline, kinds in (("cells", {"midline"}), ("edges", {"midline", "plate"})):
        layout = hexes.build(surface, hexes.Params(midline=midline))
        assert {line.kind for line in layout.lines if line.kind != "rim" and not line.uv[:, 1].any()} == kinds


def test_hundreds_of_cells():
    layout = hexes.build(plan.build(plan.Params()), hexes.Params(size=34))
    assert len(layout.plates) > 300


def test_too_many_cells_are_refused_with_what_would_do():
    surface = plan.build(plan.Params(length=1000, width=500, height=300))
    with pytest.raises(GeometryError, match=r"plates.size: 16 mm makes \d+ cells, more than 400\. Use \d+ mm or more"):
        hexes.build(surface, hexes.Params(size=16))


def test_too_large_cells_are_refused():
    with pytest.raises(GeometryError, match="smaller"):
        hexes.build(plan.build(measures.DOMES["child"]), hexes.Params(size=300))
