"""The turtle layout against herpetology and against the proportions asked for, measured along the dome."""

from __future__ import annotations

from collections import Counter
from dataclasses import fields
from pathlib import Path

import measures
import numpy as np
import pytest
import yaml

from shellgen.dome.surfaces import plan
from shellgen.errors import PresetError
from shellgen.plates import turtle

PUBLISHED = {
    row["id"]: row["value"]
    for row in yaml.safe_load((Path(__file__).parents[1] / "published/layouts.yaml").read_text())
}


@pytest.fixture(scope="module", params=measures.DOMES)
def surface(request):
    return plan.build(measures.DOMES[request.param])


@pytest.fixture(scope="module")
def layout(surface):
    return turtle.build(surface, turtle.Params())


def beside(layout, name):
    plate = next(plate for plate in layout.plates if plate.name == name)
    return {layout.plates[k].name for k in plate.neighbours}


def test_scutes_are_those_of_a_living_turtle(layout):
    kinds = Counter(plate.kind for plate in layout.plates)
    assert len(layout.plates) == PUBLISHED["scutes"]
    assert kinds["nuchal"] == PUBLISHED["nuchals"]
    assert kinds["vertebral"] == PUBLISHED["vertebrals"]
    assert kinds["pleural"] == 2 * PUBLISHED["pleural pairs"]
    assert kinds["marginal"] == 2 * PUBLISHED["marginal pairs"]


def test_seams_alternate(layout):
    """Each inner vertebral has two vertebrals and two pleurals on each side; no other plate touches it."""
    for k in (2, 3, 4):
        pleurals = {f"pleural-{side}-{j}" for side in "LR" for j in (k - 1, k)}
        assert beside(layout, f"vertebral-{k}") == {f"vertebral-{k - 1}", f"vertebral-{k + 1}"} | pleurals
        plate = next(plate for plate in layout.plates if plate.name == f"vertebral-{k}")
        assert plate.sides == len(plate.neighbours) == PUBLISHED["neighbours of an inner vertebral"]


def test_first_and_last_vertebral_reach_the_rim_scutes(layout):
    assert beside(layout, "vertebral-1") >= {"nuchal", "marginal-L-1", "marginal-R-1"}
    assert beside(layout, "vertebral-5") >= {"marginal-L-12", "marginal-R-12"}
    assert "marginal-R-12" in beside(layout, "marginal-L-12"), "the supracaudals meet over the tail"
    assert beside(layout, "nuchal") == {"vertebral-1", "marginal-L-1", "marginal-R-1"}


def test_pleural_seams_come_down_on_marginals_5_7_and_9(layout):
    """Marginals arise in every segment, pleurals in every second (Cherepanov): two marginals between pleural seams."""
    for j, marginal in ((1, 5), (2, 7), (3, 9)):
        assert {f"pleural-L-{j}", f"pleural-L-{j + 1}"} <= beside(layout, f"marginal-L-{marginal}")
    assert {"pleural-L-4", "vertebral-5"} <= beside(layout, "marginal-L-11")


@pytest.mark.parametrize("share", [0.1, 0.2, 0.3])
def test_marginals_are_as_wide_as_asked(surface, share):
    """Their straight seams are the shortest ways across the band: as long as asked, but for the waves' give."""
    layout = turtle.build(surface, turtle.Params(marginal_width=share, waviness=0))
    side = np.column_stack([np.zeros(2000), np.linspace(0, 1, 2000)])
    girth = np.linalg.norm(np.diff(surface.points(side), axis=0), axis=1).sum()
    for line in layout.lines:
        ends = layout.nodes[[line.start, line.end]]
        if line.kind == "plate" and (np.linalg.norm(ends, axis=1) > 1 - 1e-12).any():
            assert measures.line_length(surface, line) == pytest.approx(share * girth, rel=0.01)


def test_vertebrals_are_of_equal_length_along_the_ridge(surface, layout):
    ridge = [
        measures.line_length(surface, line)
        for line in layout.lines
        if line.kind == "midline" and layout.plates[layout.cell_plate[line.left]].kind == "vertebral"
    ]
    assert len(ridge) == 5
    assert np.ptp(ridge) < 0.01 * np.mean(ridge)


def test_row_is_as_wide_as_asked_over_the_crown(surface):
    """Side to side of the straight-sided middle vertebral, by the shortest way between its corners."""
    layout = turtle.build(surface, turtle.Params(zigzag=0, waviness=0, vertebral_width=0.2))
    side = np.column_stack([np.zeros(2000), np.linspace(0, 1, 2000)])
    girth = np.linalg.norm(np.diff(surface.points(side), axis=0), axis=1).sum()
    row = [
        measures.line_length(surface, line)
        for line in layout.lines
        if line.kind == "plate"
        and {layout.plates[layout.cell_plate[c]].name for c in (line.left, line.right)}
        == {"vertebral-2", "vertebral-3"}
    ]
    assert len(row) == 2
    assert row == pytest.approx([0.2 * girth] * 2, rel=0.01)


def test_marginals_are_nearly_equal(surface, layout):
    rim = [
        measures.line_length(surface, line)
        for line in layout.lines
        if line.kind == "rim" and "marginal" in layout.plates[layout.cell_plate[max(line.left, line.right)]].kind
    ]
    assert max(rim) < 1.6 * min(rim)


@pytest.mark.parametrize(("vertebrals", "marginals"), [(3, 6), (3, 20), (6, 12), (9, 6), (9, 20)])
@pytest.mark.parametrize("more", [-1, 0, 1])
def test_other_counts(vertebrals, more, marginals):
    params = turtle.Params(vertebrals=vertebrals, pleurals=vertebrals + more, marginals=marginals)
    layout = turtle.build(plan.build(plan.Params()), params)
    assert len(layout.plates) == 1 + vertebrals + 2 * (vertebrals + more) + 2 * marginals
    for k in range(2, vertebrals):
        assert len(beside(layout, f"vertebral-{k}")) == 6


@pytest.mark.parametrize("field", [field for field in fields(turtle.Params) if field.metadata["kind"] == "ratio"])
@pytest.mark.parametrize("end", ["low", "high"])
def test_every_proportion_may_go_to_its_bounds(field, end):
    surface = plan.build(measures.DOMES["child"])
    layout = turtle.build(surface, turtle.Params(**{field.name: field.metadata[end]}))
    assert len(layout.plates) == 38
    assert measures.side_lengths(surface, layout).min() > 6


def test_counts_that_cannot_alternate_are_refused():
    with pytest.raises(PresetError, match=r"plates\.pleurals: 7 pleurals do not go with 5 vertebrals\. Give 4 to 6\."):
        turtle.build(plan.build(plan.Params()), turtle.Params(pleurals=7))
