"""The chosen seam plan against others: what is said, and that it is true of the plan that is named."""

from __future__ import annotations

import re
from functools import partial

import numpy as np
import pytest
from written import preset_of

from shellgen import pipeline
from shellgen.core.flow import Flow
from shellgen.dome.surfaces import plan
from shellgen.errors import FitError
from shellgen.geom.curves import arc_length
from shellgen.pattern import flatten, limits
from shellgen.pattern.plans import _comparison, gores, petals
from shellgen.pattern.plans._comparison import Other, OwnPlan
from shellgen.pattern.plans._problem import CurveProblem
from shellgen.pipeline import plans

LAY_FLAT = partial(flatten.alone, params=flatten.Params())


def refuse(shapes):
    raise AssertionError("a piece was laid flat where the estimate is enough")


def problem(lay_flat=LAY_FLAT, **figures) -> CurveProblem:
    return CurveProblem(plan.build(plan.Params()), -5.0, limits.Limits(**figures), lay_flat)


def length(of: CurveProblem, curves) -> float:
    return sum(
        arc_length(of.surface.points(curve, offset=of.mid_offset))[-1] * (2 if curve[:, 1].any() else 1)
        for curve in curves
    )


@pytest.fixture(scope="module")
def darts() -> float:
    """Length of all darts of the computed plan, mm."""
    of = problem()
    return length(of, petals.curves(of, petals.Params()))


def test_the_quick_estimate_is_near_the_computed_darts(darts):
    assert darts == pytest.approx(_comparison.estimated_length(problem(refuse)), rel=0.25)


def no_others():
    raise AssertionError("other plans were computed where the estimate is enough")
    yield


def test_nothing_is_said_nor_computed_where_seams_are_short():
    assert _comparison.findings(problem(refuse), OwnPlan("least", 1000.0, 0.02, 0.0, None), no_others()) == ()


def test_long_seams_name_the_first_plan_of_half_their_length():
    others = Other("gores", 14, 4600.0), Other("petals", 9, 2500.0)
    (found,) = _comparison.findings(problem(refuse), OwnPlan("plates", 9000.0, 0.02, 0.0, None), others)
    assert "9.00 m" in found.text and "9 seams, 2.50 m in all (seams: plan: petals)" in found.text
    assert _comparison.findings(problem(refuse), OwnPlan("plates", 4900.0, 0.02, 0.0, None), others) == ()


FEW = """
plates: {vertebrals: 3, pleurals: 2, marginals: 6}
mesh: {edge: 40}
spikes: []
shape: {rounds: 0}
nest: {effort: quick}
"""


def test_a_limit_that_is_exceeded_is_one_finding_with_the_plan_that_keeps_it(monkeypatch):
    monkeypatch.setattr(plans, "OTHERS", ("gores",))  # the quickest
    shell = pipeline.shell_of(preset_of(f"{FEW}seams: {{plan: plates, stretch_limit: 2 %}}"), Flow())
    (found,) = (finding for finding in shell.findings if "stretch" in finding.text)
    most = max(float(np.abs(flat.stretch - 1).max()) for flat in shell.foam.pattern.flats)
    shown, limit, needed = map(float, re.findall(r"([\d.]+) %", found.text))
    assert (found.level, found.stage, limit) == ("fault", "stretch", 2.0)
    assert shown == pytest.approx(100 * most, abs=0.05) and 100 * most <= needed < 100 * most + 0.1
    of = problem(stretch_limit=0.02)
    assert f"{length(of, gores.curves(of, gores.Params())) / 1000:.2f} m in all (seams: plan: gores)" in found.text


def test_a_refusal_names_the_plan_that_works():
    around = [f"vertebral-2 / {name}" for name in ("vertebral-1", "vertebral-3", "pleural-L-1", "pleural-L-2")]
    with pytest.raises(FitError, match=r"like a hole.* The plan least works on this dome: \d+ seams, .* m in all"):
        pipeline.shell_of(preset_of(f"{FEW}seams: {{plan: listed, between: {around}}}"), Flow())
    with pytest.raises(FitError, match=r"no sheet of 10 mm foam\. Name at least one\.$"):
        pipeline.shell_of(preset_of("nest: {sheets: [{length: 1000, width: 1000, thickness: 2}]}"), Flow())


def test_the_usual_neck_follows_plates_and_foam():
    assert limits.usual_neck(thickness=10.0, plate_area=90.0**2) == 30.0
    assert limits.usual_neck(thickness=2.0, plate_area=90.0**2) == 10.0
    side = 20.0  # of a hexagon, which is a line between plates: narrower necks leave it whole
    assert limits.usual_neck(thickness=10.0, plate_area=1.5 * np.sqrt(3) * side**2) < side
