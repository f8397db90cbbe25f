"""Drawings made badly on purpose, as hands and drawing programs do: the plates drawn, or one error at the fault."""

from __future__ import annotations

import random
import sys
import tempfile
from pathlib import Path

import charts
import numpy as np
import shapely
from hypothesis import Phase, example, given, settings
from hypothesis import strategies as st

from shellgen.plates import _svgfile

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))
import drawings
import svg_hand


@settings(
    max_examples=4, deadline=None, derandomize=True, phases=(Phase.explicit, Phase.generate)
)  # a seed has no smaller
@given(seed=st.integers(0, 2**32 - 1), faulty=st.sampled_from((0.0, 1.0)))
@example(seed=49, faulty=0.25)  # small loops: in a corner, at the rim, between two points of the rim
@example(seed=20482864, faulty=0.0)
@example(seed=1034, faulty=0.25)
def test_bad_drawings_give_the_plates_drawn_or_an_error_at_the_fault(seed: int, faulty: float) -> None:
    """500 of them: benchmarks/drawings.py."""
    with tempfile.TemporaryDirectory() as folder:
        kind, words = drawings.outcome(seed, Path(folder), faulty=faulty)
    assert kind in ("good", "refused in place"), words


@given(seed=st.integers(0, 2**32 - 1))
@settings(max_examples=4, deadline=None, derandomize=True)
def test_what_is_drawn_is_read_where_it_was_drawn(seed: int) -> None:
    """Every line, whatever shapes, transforms, units and groups it is written in; nothing that is hidden."""
    rng = random.Random(seed)
    lines = [np.cumsum(np.vstack([[60.0, 60.0], [[rng.uniform(5, 40), rng.uniform(-9, 40)] for _ in range(k % 5 + 1)]]),
                       axis=0) for k in range(40)]  # fmt: skip
    sketch = _svgfile.read(svg_hand.page(rng, charts.blank(), lines).encode())
    size = np.ptp(sketch.guides["chart-crown"][:, 0]) / 6.0
    read = [stroke.points / size for stroke in sketch.strokes]
    assert len(read) == len(lines)
    for line in lines:
        of = shapely.LineString(line)
        assert min(shapely.hausdorff_distance(of, shapely.LineString(other), densify=0.02) for other in read) < 0.15
