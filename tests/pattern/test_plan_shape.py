"""What limits a flat piece's shape: the sheet it is cut from, and its necks."""

import numpy as np
import pytest

from shellgen.pattern.plans._shape import neck_load, size_load


def test_size_of_rectangles_turned_any_way():
    corners = np.array([[0.0, 0.0], [300.0, 0.0], [300.0, 100.0], [0.0, 100.0]])
    for angle in (0.0, 0.3, 1.1, 2.5):
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        assert size_load(corners @ turn, (600.0, 100.0)) == pytest.approx(1.0)
        assert size_load(corners @ turn, (150.0, 400.0)) == pytest.approx(0.75)
        assert size_load(corners @ turn, (200.0, 200.0)) == pytest.approx(1.5)


def test_neck_between_two_squares():
    """Two squares of 100 mm joined by a bridge 20 mm long and 24 mm wide."""
    outline = [(0, 0), (100, 0), (100, 38), (120, 38), (120, 0), (220, 0), (220, 100), (120, 100), (120, 62), (100, 62),
               (100, 100), (0, 100)]  # fmt: skip
    flat = np.array(outline, float)
    assert neck_load(flat, 20.0) == 0.0
    assert neck_load(flat, 30.0) == pytest.approx(30 / 24, rel=0.03)
    assert neck_load(flat, 0.0) == 0.0
