"""The narrowest place of a net, against chords of a sphere."""

from __future__ import annotations

import measures
import nets
import numpy as np
import pytest

from shellgen.dome.surfaces import plan
from shellgen.plates._narrowest import narrowest

HEMISPHERE = plan.build(measures.HEMISPHERE)
RADIUS = 250.0


def test_a_band_at_the_rim_is_as_wide_as_the_chord_of_its_arc():
    """2 R sin(a / 2); the joints in the band are far apart."""
    for width in (0.05, 0.2):
        found, plate = narrowest(HEMISPHERE, nets.ringed(width, 3), below=80.0)
        assert found == pytest.approx(2 * RADIUS * np.sin(width * np.pi / 4), rel=2e-3) and plate.startswith("cell")


def test_a_thin_sector_is_as_narrow_as_its_short_side():
    """30 to the half: the inner side of each, at a colatitude of 27 degrees, is the chord of 6 degrees there."""
    found, _ = narrowest(HEMISPHERE, nets.ringed(0.7, 30), below=13.0)
    assert found == pytest.approx(2 * RADIUS * np.sin(np.radians(27)) * np.sin(np.radians(3)), rel=1e-2)


def test_lines_that_meet_are_not_narrow():
    assert narrowest(HEMISPHERE, nets.pie(3), below=30.0) == (30.0, "")


def test_lines_that_run_on_into_each_other_across_the_midline_are_one():
    """Else the halves of the rim and of the inner circle would count as sides of their own: here the narrowest place
    is the way between these circles."""
    found, _ = narrowest(HEMISPHERE, nets.ringed(0.5, 1), below=200.0)
    assert found == pytest.approx(2 * RADIUS * np.sin(np.pi / 8), rel=2e-3)
