"""Bands across the back, against counts of animals and against the proportions asked for."""

from __future__ import annotations

from collections import Counter
from dataclasses import fields

import measures
import numpy as np
import pytest
import sourced

from shellgen.dome.surfaces import plan
from shellgen.errors import PresetError
from shellgen.model import Layout
from shellgen.plates import bands
from shellgen.plates._narrowest import NARROWEST

ROWS = sourced.rows("layouts")


@pytest.fixture(scope="module", params=measures.DOMES)
def surface(request):
    return plan.build(measures.DOMES[request.param])


def ridge(surface, layout: Layout) -> dict[str, float]:
    """mm that each plate takes of the ridge."""
    return {
        layout.plates[layout.cell_plate[max(line.left, line.right)]].name: measures.line_length(surface, line)
        for line in layout.lines
        if line.kind == "midline"
    }


def rim_place(layout: Layout) -> np.ndarray:
    """Angle in the disc at which each edge of a band reaches the rim on the left, from neck to tail."""
    ends = {
        n for line in layout.lines for n in (line.start, line.end) if line.kind == "plate" and line.uv[:, 1].min() >= 0
    }
    uv = layout.nodes[sorted(ends)]
    uv = uv[np.linalg.norm(uv, axis=1) > 1 - 1e-12]
    return np.sort(np.arctan2(uv[:, 1], uv[:, 0]))[1:-1]  # without the joints of the shields


def test_an_armadillo_has_nine_bands_and_a_woodlouse_seven(surface):
    for animal, usual in (("armadillo bands", True), ("woodlouse segments", False)):
        row = ROWS[animal]
        for count in {row["value"] - row["tolerance"], row["value"], row["value"] + row["tolerance"]}:
            kinds = Counter(plate.kind for plate in bands.build(surface, bands.Params(bands=count)).plates)
            assert kinds == {"band": count, "head": 1, "cheek": 2, "tail": 1, "flank": 2}
            assert kinds["tail"] + kinds["flank"] == ROWS["woodlouse tail"]["value"]
        assert not usual or bands.Params().bands == row["value"]


def test_bands_are_as_wide_as_asked_along_the_ridge(surface):
    for grading, shields in ((1.0, 1.6), (2.0, 1.0), (0.5, 3.0)):
        layout = bands.build(surface, bands.Params(bands=7, grading=grading, shields=shields))
        found = ridge(surface, layout)
        width = [found[f"band-{k}"] for k in range(1, 8)]
        assert width[-1] / width[0] == pytest.approx(grading, rel=0.01)
        assert np.array(width[1:]) / width[:-1] == pytest.approx([grading ** (1 / 6)] * 6, rel=0.01)
        assert found["head"] / width[0] == pytest.approx(shields, rel=0.01)
        assert found["tail"] / width[-1] == pytest.approx(shields, rel=0.01)


def test_straight_bands_of_a_hemisphere_are_circles_of_latitude():
    """In planes square to the axis from neck to tail, and of equal width everywhere (Archimedes: as an orange peel)."""
    surface = plan.build(measures.HEMISPHERE)
    layout = bands.build(surface, bands.Params(bow=0))
    for line in layout.lines:
        plates = {layout.plates[layout.cell_plate[cell]].kind for cell in (line.left, line.right) if cell >= 0}
        if line.kind == "plate" and plates & {"band"}:
            assert np.ptp(surface.points(line.uv)[:, 0]) < 0.01


@pytest.mark.parametrize("bow", [-0.6, 0.6])
def test_bands_bow_as_asked(surface, bow):
    """Above 0 the sides lie nearer to the tail; all ends move the same way and keep their order."""
    straight, bowed = (rim_place(bands.build(surface, bands.Params(bands=7, bow=k))) for k in (0, bow))
    assert ((bowed - straight) * np.sign(bow) > 0).all() and (np.diff(bowed) > 0).all()


@pytest.mark.parametrize("field", [field for field in fields(bands.Params) if field.metadata["kind"] == "ratio"])
@pytest.mark.parametrize("end", ["low", "high"])
def test_every_proportion_may_go_to_its_bounds(field, end):
    layout = bands.build(plan.build(plan.Params()), bands.Params(bands=7, **{field.name: field.metadata[end]}))
    assert len(layout.plates) == 13


def test_bands_that_are_too_narrow_are_refused_with_what_to_change():
    with pytest.raises(PresetError, match=r"plates.bands: 24 bands make [\w-]+ \d\.\d mm wide .* Use fewer bands"):
        bands.build(plan.build(plan.Params(length=200, width=160, height=60)), bands.Params(bands=24))
    assert NARROWEST == 10
