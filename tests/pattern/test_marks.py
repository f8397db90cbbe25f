"""Registration marks: rules for where they stand, and equality of the two mates."""

import numpy as np
import pytest

from shellgen.pattern import marks

PARAMS = marks.Params()


@pytest.mark.parametrize("length", [5.0, 20.0, 47.8, 60.0, 93.0, 140.0, 333.0, 900.0])
def test_marks_keep_their_distance_and_never_match_when_turned(length):
    shares = np.array(marks.fractions(length, PARAMS))
    gaps = np.diff(shares) * length
    assert shares[0] == 0 and shares[-1] == 1 and (gaps > 0).all()
    if len(gaps) > 1:
        assert gaps.min() >= PARAMS.least_gap - 1e-9
        turned = np.sort(1 - shares)
        assert np.abs(turned - shares)[1:-1].max() * length > 0.5
    if length >= 3 * PARAMS.least_gap * (1 + marks.LEAST_GROWTH / 2):
        assert len(gaps) >= 3, "at least two marks inside"


def test_spacing_is_followed_on_long_seams():
    gaps = np.diff(marks.fractions(2000.0, PARAMS)) * 2000.0
    assert abs(gaps.mean() / PARAMS.spacing - 1) < 0.02
