"""What the harness adds to the buying list besides its straps: pads, thread and needles."""

import numpy as np
import pytest
import test_wear
from test_wear import built

from shellgen.wear import _pad

shell = test_wear.shell


def bought(shell, **common):
    return {amount.item: amount.amount for amount in built(shell, **common).amounts}


def test_pads_fill_the_gap_to_the_back(shell):
    """Under a flat roof of 90 mm, 10 mm off the back, a strip of 60 mm is 100 mm deep: two layers of 50 mm."""
    x, y = np.meshgrid([-200.0, 0.0, 200.0], [-100.0, 0.0, 100.0])
    roof = np.column_stack([x.ravel(), y.ravel(), np.full(9, 90.0)])
    rows = np.stack([np.column_stack([np.linspace(-100, 100, 9), np.full(9, y), np.zeros(9)]) for y in (-50, 0, 50)])
    assert _pad.amount(rows, roof, back=-10.0, width=60.0).amount == pytest.approx(3 * 200 * 60 * 2 / 100)
    wide, usual = (bought(shell, pad_width=width)[_pad.ITEM] for width in (120.0, 60.0))
    assert wide == pytest.approx(2 * usual) and usual > 0
    assert _pad.ITEM not in bought(shell, pads=False)


@pytest.mark.parametrize(("harness", "pads"), [("straps", 2), ("vest", 0), ("neckband", 0), ("unworn", 0)])
def test_shoulder_pads_lie_on_shoulder_straps_and_thread_sews_every_tab(shell, harness, pads):
    worn = built(shell, harness)
    amounts = {amount.item: amount.amount for amount in worn.amounts}
    assert amounts.get("shoulder pad", 0) == pads
    round_and_across = sum(4 * sum(p.tab) + 4 * np.hypot(*p.tab) for p in worn.patches) / 1000  # of both hands
    assert amounts.get("strong thread", 0) == pytest.approx(5 * round_and_across)
    assert ("thick needle" in amounts) == bool(worn.patches)
