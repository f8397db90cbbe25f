"""The way of a patch from the table to where it stands on the dome."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from shellgen.geom.strips import unroll
from shellgen.geom.unfolding import unfolding_motion


def test_a_patch_lies_about_its_place_on_the_table_and_ends_as_built() -> None:
    """Wherever the flat piece was drawn, and however far its outline is from the origin."""
    flat = np.random.default_rng(2).uniform(-1, 1, (30, 2)) * (80, 40)
    turn = Rotation.from_euler("xyz", [20, 35, 110], degrees=True).as_matrix()
    built = np.column_stack([flat, -0.002 * (flat**2).sum(axis=1)]) @ turn.T + (90, 60, 150)
    made = unfolding_motion(
        flat + np.array([500.0, -300.0]), built, crown=np.array([0.0, 0, 180]), spread=1.4, table=-10.0
    )
    start, end = made.at(np.array([0.0, 1.0]))
    assert start.mean(axis=0) == pytest.approx(made.here) and made.here[2] == -10
    assert start[:, 2] == pytest.approx(-10)
    assert np.linalg.norm(start - start[0], axis=1) == pytest.approx(np.linalg.norm(flat - flat[0], axis=1))
    assert end == pytest.approx(built, abs=1e-9)


def test_a_crooked_strip_unrolls_with_every_length_kept() -> None:
    """No two rungs alike, so that none can stand for another."""
    chance = np.random.default_rng(5)
    lower = np.column_stack([10 * np.arange(8), *chance.uniform(-3, 3, (2, 8))])
    upper = lower + np.column_stack([chance.uniform(-3, 3, 8), chance.uniform(15, 25, 8), chance.uniform(-4, 4, 8)])
    flat = unroll(lower, upper)
    for one, other in ((0, 0), (1, 1), (0, 1), (1, 0)):
        for step in (0, 1):
            shown = np.linalg.norm(flat[one][: 8 - step] - flat[other][step:], axis=1)
            true = np.linalg.norm((lower, upper)[one][: 8 - step] - (lower, upper)[other][step:], axis=1)
            if (one, other, step) != (0, 1, 1):  # the other diagonal bends
                assert shown == pytest.approx(true, abs=1e-9)
