"""What a closed curve covers of a line."""

import numpy as np
import pytest

from shellgen.geom.covering import covered


def test_a_curve_that_crosses_itself_covers_what_lies_in_its_loops():
    """Two triangles that meet in the origin, 2 high and 4 wide at their ends: 2 of a line half-way up lie in one."""
    curve = np.array([(-2.0, -2, 0), (2, 2, 0), (-2, 2, 0), (2, -2, 0)])
    line = np.array([(-5.0, 1, 0), (0, 1, 0), (5, 1, 0)])
    assert covered([line], curve, np.array([0.0, 0, 1])) == pytest.approx([2.0])
