"""Spikes along lines: at equal steps, as far in as asked, one line with its mirror image."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from placed import SMALL, asked, at, geodesics, shell, uv_of
from scipy.spatial import cKDTree

from shellgen.errors import PresetError
from shellgen.geom.curves import arc_length
from shellgen.spikes.placings import line


def steps_along(surface, uv):
    """mm between neighbours by geodesics."""
    return geodesics(surface, uv[:-1], uv[1:])


def test_steps_on_the_midline_are_as_asked_by_a_sum_of_its_own():
    surface, _, _ = shell()
    uv = uv_of(replace(SMALL, place=at("line", every=43.0)))
    uv = uv[np.argsort(uv[:, 0])]
    assert not uv[:, 1].any()
    fine = np.column_stack([np.linspace(-1, 1, 40001), np.zeros(40001)])
    along = arc_length(surface.points(fine))
    where = np.interp(uv[:, 0], fine[:, 0], along)
    assert np.diff(where) == pytest.approx(43.0, abs=0.02)
    ends = where[0], along[-1] - where[-1]
    assert ends[0] == pytest.approx(ends[1], abs=0.02) and 21.5 - 0.02 <= ends[0] < 43


def test_a_count_on_the_midline_leaves_half_a_step_at_each_end():
    surface, _, _ = shell()
    uv = np.sort(uv_of(replace(SMALL, place=at("line", count=8)))[:, 0])
    fine = np.column_stack([np.linspace(-1, 1, 40001), np.zeros(40001)])
    along = arc_length(surface.points(fine))
    assert np.interp(uv, fine[:, 0], along) == pytest.approx(along[-1] * (np.arange(8) + 0.5) / 8, abs=0.02)


@pytest.mark.parametrize("count", [9, 10, 1, 2])
@pytest.mark.parametrize("away", [25.0, 70.0])
def test_along_the_rim_all_are_as_far_in_and_as_far_apart(count, away):
    surface, _, _ = shell()
    uv = uv_of(replace(SMALL, place=at("line", along="rim", count=count, away=away)))
    assert len(uv) == count
    assert (uv[:, 1] == 0).sum() == count % 2, "with an odd number one stands at the tail, and none at the neck"
    turn = np.linspace(-np.pi, np.pi, 2881)
    rim = np.column_stack([np.cos(turn), np.sin(turn)])
    for spot in uv:
        near = np.argsort(np.linalg.norm(surface.points(rim) - surface.points(spot[None]), axis=1))[:12]
        ways = geodesics(surface, np.tile(spot, (12, 1)), rim[near])
        assert ways.min() == pytest.approx(away, abs=0.06)


def test_steps_along_the_rim_are_equal():
    """Of two counts, one of them odd times the other, each spike of the fewer stands where one of the more does."""
    surface, _, _ = shell()
    few, many = (uv_of(replace(SMALL, place=at("line", along="rim", count=n, away=40.0))) for n in (9, 9 * 33))
    gap, _ = cKDTree(surface.points(many)).query(surface.points(few))
    assert gap.max() < 0.02
    turn = np.argsort(np.arctan2(many[:, 1], many[:, 0]))
    points = surface.points(many[turn])
    step = np.linalg.norm(np.diff(np.vstack([points, points[:1]]), axis=0), axis=1)
    assert np.ptp(step) < 0.01 * step.mean()


def test_beside_the_midline_they_stand_in_two_rows_at_that_distance():
    surface, _, _ = shell()
    uv = uv_of(replace(SMALL, place=at("line", away=60.0, every=50.0)))
    left = uv[uv[:, 1] > 0]
    assert len(uv) == 2 * len(left)
    middle = np.column_stack([np.linspace(-1, 1, 2001), np.zeros(2001)])
    for spot in left:
        near = np.argsort(np.linalg.norm(surface.points(middle) - surface.points(spot[None]), axis=1))[:12]
        assert geodesics(surface, np.tile(spot, (12, 1)), middle[near]).min() == pytest.approx(60.0, abs=0.05)
    assert steps_along(surface, left[np.argsort(left[:, 0])]) == pytest.approx(50.0, rel=0.01)


def test_on_the_line_between_two_kinds_every_place_touches_both():
    surface, net, _ = shell()
    uv = uv_of(replace(SMALL, place=at("line", along="vertebral / pleural", every=30.0)))
    both = {"vertebral", "pleural"}
    lines = (one for one in net.lines if one.kind == "plate")
    own = [one for one in lines if {net.plates[net.cell_plate[c]].kind for c in (one.left, one.right)} == both]
    dense = np.concatenate([np.column_stack([np.interp(np.linspace(0, len(o.uv) - 1, 2000), np.arange(len(o.uv)), c)
                                             for c in o.uv.T]) for o in own])  # fmt: skip
    assert cKDTree(surface.points(dense)).query(surface.points(uv))[0].max() < 0.06
    length = sum(arc_length(surface.points(one.uv))[-1] for one in own)
    assert len(uv) == 2 * int(length / 2 / 30.0)


def test_a_line_across_the_midline_is_one_line_with_its_mirror_image():
    surface, _, _ = shell("bands")
    odd, even = (
        uv_of(replace(SMALL, place=at("line", along="band-3 / band-4", count=n)), layout="bands") for n in (7, 6)
    )
    assert len(odd) == 7 and (odd[:, 1] == 0).sum() == 1
    assert len(even) == 6 and (even[:, 1] == 0).sum() == 0
    row = odd[np.argsort(odd[:, 1])]
    assert np.ptp(steps_along(surface, row)) < 0.01 * steps_along(surface, row).mean()


@pytest.mark.parametrize(
    "length, crosses, count, every, wanted",
    [
        (100.0, (False, False), 4, 0.0, [12.5, 37.5, 62.5, 87.5]),
        (100.0, (False, False), None, 30.0, [20.0, 50.0, 80.0]),
        (20.0, (False, False), None, 30.0, [10.0]),
        (100.0, (True, False), 3, 0.0, [0.0, 200 / 3]),
        (100.0, (False, True), 3, 0.0, [100 / 3, 100.0]),
        (100.0, (True, True), 4, 0.0, [25.0, 75.0]),
        (100.0, (True, True), 5, 0.0, [20.0, 60.0, 100.0]),
        (100.0, (True, True), None, 39.0, [20.0, 60.0, 100.0]),
    ],
)
def test_stations_worked_by_hand(length, crosses, count, every, wanted):
    assert sorted(line.stations(length, crosses, count, every)) == pytest.approx(wanted)


def test_a_row_with_as_many_spikes_as_plates_has_one_on_each():
    _, net, _ = shell()
    for kind, layout in (("pleural", "turtle"), ("vertebral", "turtle"), ("marginal", "turtle"), ("marginal", "cells")):
        net = shell(layout)[1]
        count = sum(plate.kind == kind for plate in net.plates)
        per_line = count // 2 if kind == "pleural" else count
        found = asked(replace(SMALL, place=at("line", along=kind, count=per_line)), layout=layout)
        assert len(found) == count
        where = Counter(net.plates[spot.plate].name for spot in found)
        assert set(where) <= {plate.name for plate in net.plates if plate.kind == kind}
        assert len(where) >= 0.7 * count, "plates of a row are not all as long"


@pytest.mark.parametrize(
    "own, where, said",
    [
        ({"along": "vertebrl"}, "spikes[1].place.along", "Did you mean vertebral"),
        ({"along": "vertebral / hex"}, "spikes[1].place.along", "names no plate"),
        ({"along": "a / b / c"}, "spikes[1].place.along", "names no line"),
        ({"along": "nuchal / vertebral-5"}, "spikes[1].place.along", "no line between nuchal and vertebral-5"),
        ({"along": "rim", "away": 290.0}, "spikes[1].place.away", "Nothing of the dome is 290 mm from the rim"),
        ({"away": 290.0}, "spikes[1].place.away", "Nothing of the dome is 290 mm from the midline"),
    ],
)
def test_lines_that_are_not_there(own, where, said):
    with pytest.raises(PresetError) as error:
        asked(replace(SMALL, place=at("line", **own)))
    assert error.value.where == where and said in str(error.value)


def test_plates_that_lie_in_no_row():
    with pytest.raises(PresetError, match="lie in no single row"):
        asked(replace(SMALL, place=at("line", along="cell")), layout="cells")
    with pytest.raises(PresetError, match="but one plate"):
        asked(replace(SMALL, place=at("line", along="cheek")), layout="bands")


@pytest.mark.parametrize("own", [{"count": 3, "every": 40.0}, {"along": "pleural", "away": 20.0}])
def test_figures_of_a_line_that_do_not_go_together(own):
    with pytest.raises(PresetError):
        line.Params(**own)
