"""Edging: rim length against closed forms, joints where they may be, relief cuts, mitres."""

import numpy as np
import pytest
from scipy.special import ellipe, ellipeinc
from spiked import ball

from shellgen.dome.surfaces import plan
from shellgen.errors import FitError
from shellgen.geom import loops
from shellgen.model import FoamSheet
from shellgen.trim import edging

PLAIN = {"taper": 0.0, "squareness": 0.0, "fullness": 0.0, "keel": 0.0, "flare": 0.0}


def oval(length, width, height=180.0):
    return plan.build(plan.Params(length, width, height, **PLAIN))


def test_rim_of_a_hemisphere():
    """At the rim the shell stands upright: the middle of 10 mm foam lies 5 mm further in and the edging hangs below."""
    made = edging.build(ball(250.0), edging.Params(), FoamSheet(10.0))
    assert made.length == pytest.approx(2 * np.pi * 245, abs=1e-7)
    assert made.curve[:, 2] == pytest.approx(-5.0, abs=1e-9)  # half its thickness under the rim
    assert made.strain == pytest.approx(10 / 245, rel=1e-9)  # half of 20 mm across, on a circle of 245


def test_rim_of_an_oval_is_the_elliptic_integral():
    """A parallel curve is shorter by 2 pi d (Steiner)."""
    made = edging.build(oval(600.0, 500.0), edging.Params(), FoamSheet(10.0))
    exact = 4 * 300 * ellipe(1 - (250 / 300) ** 2)  # 1731.447798952 / 1
    assert exact == pytest.approx(1731.447798952, abs=1e-8)
    assert made.length == pytest.approx(exact - 2 * np.pi * 5, abs=1e-6)


@pytest.mark.parametrize("count", [64, 65])
def test_the_way_along_an_oval_is_the_elliptic_integral_from_nought_on(count):
    turn = 0.7 + 2 * np.pi * np.arange(count + 1) / count  # begun aslant, or every start is as good as another
    ring = np.column_stack([250 * np.cos(turn), 300 * np.sin(turn), 0 * turn])[:-1]
    exact = 300 * ellipeinc(turn, 1 - (250 / 300) ** 2)
    assert loops.arc_length(ring) == pytest.approx(exact - exact[0], abs=1e-8)


@pytest.mark.parametrize("stock", [400.0, 500.0, 1000.0, 1700.0])
def test_pieces_close_the_rim_and_fit_the_stock(stock):
    params = edging.Params(stock=stock)
    made = edging.build(plan.build(plan.Params()), params, FoamSheet(10.0))
    assert sum(p.length for p in made.pieces) == pytest.approx(made.length)
    assert max(p.length for p in made.pieces) <= stock
    assert len({p.name for p in made.pieces}) == len(made.pieces)
    for joint in made.joints:
        bearing = abs(np.arctan2(joint[1], joint[0]))
        assert not params.shoulder_from < bearing < params.shoulder_to
        away = np.linalg.norm(made.curve - joint, axis=1)
        along = loops.arc_length(made.curve)[np.argmin(away)]
        assert min(along, abs(along - made.length / 2), made.length - along) >= params.midline - 3
    if len(made.joints) > 1:  # every joint has its mirror image
        flipped = made.joints * [1, -1, 1]
        assert np.linalg.norm(flipped[:, None] - made.joints[None], axis=2).min(axis=1).max() < 1e-6
    at_least = int(np.ceil(made.length / stock))
    assert at_least <= len(made.pieces) <= at_least + 3  # joints come in pairs and keep off the shoulders


def test_few_even_pieces_where_joints_may_be_anywhere():
    params = edging.Params(stock=500.0, midline=0.0, shoulder_from=0.0, shoulder_to=0.0)
    made = edging.build(ball(250.0), params, FoamSheet(10.0))
    assert len(made.pieces) == 4
    assert np.ptp([p.length for p in made.pieces]) < 3 * edging.GRID


def test_no_place_for_joints():
    with pytest.raises(FitError, match="no place for its joints"):
        edging.build(
            ball(250.0), edging.Params(stock=300.0, shoulder_from=0.0, shoulder_to=np.radians(120)), FoamSheet(10.0)
        )


def test_relief_cuts_where_the_rim_is_tight():
    """A long oval is tightest at its ends, radius b^2 / a; the cuts together take what is beyond the limit there."""
    gentle = edging.build(oval(600.0, 500.0), edging.Params(), FoamSheet(10.0))
    assert gentle.reliefs == () and gentle.findings == ()
    params = edging.Params(width=40.0, strain_limit=0.12, stock=2000.0)
    tight = edging.build(oval(500.0, 300.0), params, FoamSheet(10.0))
    assert tight.strain == pytest.approx(20 / (145**2 / 245), rel=0.01)
    assert len(tight.reliefs) == 2 and tight.findings[0].level == "caution"
    ends = sorted(r.start % tight.length for r in tight.reliefs)
    assert ends[0] == pytest.approx(tight.length / 2 - (tight.reliefs[0].end - tight.reliefs[0].start) / 2, rel=0.02)
    for relief in tight.reliefs:
        arc = relief.end - relief.start
        assert relief.count >= 1
        assert relief.count * params.relief <= (tight.strain - params.strain_limit) * arc + params.relief
        assert relief.depth <= params.width / 2


class Boxy:
    """A shell with an upright edge round a plan |x/a|^p + |y/a|^p = 1, as a Surface."""

    def __init__(self, power, half=200.0):
        self.power, self.half = power, half

    def points(self, uv, *, offset=0.0):
        reach = np.hypot(*uv.T)
        stretch = reach / (np.abs(uv[:, 0]) ** self.power + np.abs(uv[:, 1]) ** self.power) ** (1 / self.power)
        return np.column_stack([self.half * uv * stretch[:, None], 100 * (1 - reach**2)]) + offset * self.normals(uv)

    def normals(self, uv):
        slope = np.sign(uv) * np.abs(uv) ** (self.power - 1)
        return np.column_stack([slope / np.linalg.norm(slope, axis=1, keepdims=True), np.zeros(len(uv))])


def test_corners_are_mitred_at_half_their_turn():
    made = edging.build(Boxy(16.0), edging.Params(stock=2000.0, corner=np.radians(35)), FoamSheet(0.0))
    assert len(made.corners) == 4
    for corner in made.corners:
        assert np.radians(35) < corner.turn < np.radians(95)
        assert corner.mitre == corner.turn / 2
    eighths = np.array([c.at for c in made.corners]) / made.length * 8
    assert eighths == pytest.approx([1, 3, 5, 7], abs=0.05)
    joints = [p.start % made.length for p in made.pieces]
    for corner in made.corners:
        assert min(abs(corner.at - j) for j in joints) < 1e-6
    assert edging.build(Boxy(2.0), edging.Params(), FoamSheet(0.0)).corners == ()


def test_what_is_painted_are_both_slanted_faces() -> None:
    """Stock 20 wide and 10 high is half a square of side 14.14 mm: two faces of that (Pythagoras)."""
    assert edging.face(edging.Params()) == pytest.approx(20 * 2**0.5)
