"""Every wait and every round of work that the guide asks for is in the plan."""

import pond_guide
import pytest
from test_guide import texts

from shellgen import guide
from shellgen.guide.leaf import Rows
from shellgen.workshop import schedule


@pytest.fixture(scope="module")
def small():
    return pond_guide.kit()


def test_every_wait_and_round_that_a_step_asks_for_has_its_slot_in_the_plan(small):
    """A day to set, an hour for each strap, a night for the patch on trial, varnish below and above the shading, and
    every coat in the table."""
    plan = {task.task: task for task in small.figures.schedule}
    of = {step.key: " ".join(texts(step)) for step in guide.all_steps(small)}
    straps = sum(strap.count for strap in small.figures.wear.straps)
    assert "set for a day" in of["straps"] and plan[schedule.SEW].dry_h == 24
    assert "for an hour" in of["straps"] and plan[schedule.HANG].dry_h == straps
    assert ("overnight" in of["straps"]) == (schedule.TRIAL in plan)
    assert "one coat of clear acrylic varnish" in of["shade"] and plan[schedule.SEAL].dry_h >= 12
    assert plan["shade the grooves"].after == (schedule.SEAL,)
    assert sum(name.startswith(schedule.VARNISH) for name in plan) == small.preset.materials.varnish_coats
    rows = next(block for step in guide.all_steps(small) if step.key == "paint" for block in step.blocks
                if isinstance(block, Rows)).rows  # fmt: skip
    for row in rows:
        zone = {"Paint the edging": "edging"}.get(row[0], row[0].split()[-1])
        assert sum(name.startswith(f"paint the {zone},") for name in plan) == int(row[2]) and "day" in row[-1]


def test_a_pad_is_slid_on_before_the_strap_is_sewn(small):
    done = " ".join(texts(next(step for step in guide.all_steps(small) if step.key == "straps")))
    assert done.index("Slide a shoulder pad") < done.index("Sew first") < done.index("Then glue")
