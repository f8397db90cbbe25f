"""The chosen seam plan against others: what is said, and that it is true of the plan that is named."""

from __future__ import annotations

import re
from functools import partial

import numpy as np
import pytest

from shellgen.dome.surfaces import plan
from shellgen.geom.curves import arc_length
from shellgen.pattern import flatten, limits
from shellgen.pattern.plans import _comparison, petals
from shellgen.pattern.plans._comparison import Chosen
from shellgen.pattern.plans._task import Ground

LAY_FLAT = partial(flatten.alone, params=flatten.Params())


def refuse(shapes):
    raise AssertionError("a piece was laid flat where the estimate is enough")


def ground(lay_flat=LAY_FLAT, **figures) -> Ground:
    return Ground(plan.build(plan.Params()), -5.0, limits.Limits(**figures), lay_flat)


def length(of: Ground, curves) -> float:
    return sum(
        arc_length(of.surface.points(curve, offset=of.mid_offset))[-1] * (2 if curve[:, 1].any() else 1)
        for curve in curves
    )


@pytest.fixture(scope="module")
def darts() -> float:
    """Length of all darts of the computed plan, mm."""
    of = ground()
    return length(of, petals.curves(of, petals.Params()))


def test_the_quick_estimate_is_near_the_computed_darts(darts):
    assert darts == pytest.approx(_comparison.estimated_length(ground(refuse)), rel=0.25)


def test_nothing_is_said_nor_laid_flat_where_seams_are_short():
    assert _comparison.findings(ground(refuse), Chosen("least", 1000.0, 0.02, 0.0)) == ()


def test_long_seams_name_the_shortest_plan_with_its_length(darts):
    (found,) = _comparison.findings(ground(), Chosen("gores", 9000.0, 0.02, 0.0))
    own, other = (1000 * float(metres) for metres in re.findall(r"([\d.]+) m\b", found.text))
    assert own == 9000.0
    assert other == pytest.approx(darts, abs=5.1)
    assert "plan: petals" in found.text


def test_a_limit_that_is_exceeded_names_the_plan_that_keeps_it():
    (found,) = _comparison.findings(ground(), Chosen("petals", 1000.0, 0.0541, 0.0))
    assert "5.4 %" in found.text and "3.0 %" in found.text and "plan: gores" in found.text
    assert "5.5 %" in found.text  # the limit that these seams would need, rounded up


def test_figures_that_are_compared_differ():
    assert _comparison._apart(3.004, 3.0) == ("3.004", "3.000")
    assert _comparison._apart(5.41, 3.0) == ("5.4", "3.0")


def test_the_usual_neck_follows_plates_and_foam():
    assert limits.usual_neck(thickness=10.0, plate_area=90.0**2) == 30.0
    assert limits.usual_neck(thickness=2.0, plate_area=90.0**2) == 10.0
    side = 20.0  # of a hexagon, which is a line between plates: narrower necks leave it whole
    assert limits.usual_neck(thickness=10.0, plate_area=1.5 * np.sqrt(3) * side**2) < side
