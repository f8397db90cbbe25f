"""What a strap is made of: pieces that add up, and a buckle that opens."""

from dataclasses import replace

import numpy as np
import pytest
from test_wear import built, inside, said, shell

from shellgen import wear
from shellgen.draw.sewn import strap_drawing

__all__ = ["shell"]

OPENS = ("side-release buckle", "breakaway buckle")


@pytest.mark.parametrize("own", [{}, {"belt": False}, {"breakaway": False}, {"belt_width": 50.0}])
@pytest.mark.parametrize("harness", ("straps", "neckband"))
def test_every_strap_opens_and_its_pieces_make_it_up(shell, harness, own):
    """Both pieces meet at the buckle; each is as long as its way there, its tab, and its loop or what adjusts."""
    if harness == "straps":
        own = {name: value for name, value in own.items() if name != "breakaway"}
    worn = built(shell, harness, own=own)
    bought = {amount.item: amount.amount for amount in worn.amounts if amount.item.startswith("buckle")}
    assert sum(bought.values()) == sum(strap.count for strap in worn.straps), "one buckle for each strap is bought"
    drawing = strap_drawing(worn)
    said = " ".join(item.text for item in drawing.items if hasattr(item, "text"))
    inside(drawing)
    for strap in worn.straps:
        assert [each for name, each in strap.buckles if name in OPENS] == [1]
        fixed, adjusts = strap.pieces
        tab = min(strap.width, 40.0)
        assert (fixed.adjusts, adjusts.adjusts) == (False, True)
        assert fixed.to_buckle + adjusts.to_buckle == pytest.approx(strap.on_body)
        assert fixed.length == pytest.approx(fixed.to_buckle + tab + wear.LOOP)
        assert adjusts.length == pytest.approx(adjusts.to_buckle + tab + 150)
        assert strap.cut == pytest.approx(fixed.length + adjusts.length)
        for piece in strap.pieces:
            assert f"cut {piece.length:.0f} mm" in said and f"patch-{piece.role}" in said


def test_a_breakaway_fastener_keeps_off_the_throat(shell):
    """Where the front view shows it: on the left, half-way along the last straight stretch."""
    worn = built(shell, "neckband")
    left, right = worn.straps[0].pieces
    run = worn.runs[0]
    aside = np.linalg.norm(run.path[-1] - run.path[-2]) / 2
    assert (left.side, right.side) == ("left", "right") and right.to_buckle - left.to_buckle == pytest.approx(2 * aside)
    assert strap_drawing(built(shell, "vest")) is None


@pytest.mark.parametrize(
    ("least", "words"), [(40.0, "40 N, which every anchor must bear"), (0.0, "the largest pull, ")]
)
def test_a_chosen_pull_is_not_called_the_largest(shell, least, words):
    worn = built(shell, least_pull=least)
    assert f"times {words}" in said(worn, "caution") + said(worn, "ok")


def test_amounts_add_up_to_the_straps(shell):
    worn = built(shell, own={"belt_width": 50.0})
    amounts = {amount.item: amount for amount in worn.amounts}
    strap, belt = worn.straps
    runs = [run.length for run in worn.runs]
    assert strap.on_body == pytest.approx(runs[0] + runs[1]) and belt.on_body == pytest.approx(2 * runs[2])
    assert strap.cut == pytest.approx(strap.on_body + 2 * 40 + wear.LOOP + 150)
    assert amounts["strap webbing 40 mm"].amount == pytest.approx(2 * strap.cut / 1000)
    assert amounts["strap webbing 50 mm"].amount == pytest.approx(belt.cut / 1000)
    assert amounts["buckle, side-release, 40 mm"].amount == 2 and amounts["buckle, side-release, 50 mm"].amount == 1
    for amount in worn.amounts:
        assert amount.buy >= amount.amount
    area = sum(2 * p.length * p.width for p in worn.patches)
    assert amounts["strong cloth for patches"].amount == pytest.approx(area / 100)
    glue = amounts["contact adhesive"]
    assert glue.amount == pytest.approx(2 * area / 1e6 * 150)
    listed = wear.together((replace(glue, amount=100.0, how="seams = 100 g"),), worn.amounts)
    assert listed[0].amount == pytest.approx(100 + glue.amount) and "patches" in listed[0].how
    assert len(listed) == len(worn.amounts), "one line for all the glue"
