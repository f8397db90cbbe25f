"""Every spike profile against closed forms, handbook values and exact solids."""

import numpy as np
import pytest
from spiked import Plate, shapes, spike

from shellgen.errors import GeometryError
from shellgen.model import SpikeShape
from shellgen.spikes import body, solids

SHAPES = shapes()


@pytest.mark.parametrize("name", SHAPES)
def test_the_side_is_closed_at_the_tip_and_as_wide_and_high_as_asked(name):
    made = body.make(SHAPES[name])
    foot = made.points(np.array(0.0), np.array([0.0, np.pi]))
    assert foot[0, 0] - foot[1, 0] == pytest.approx(40, abs=1e-9)
    assert made.radius(np.array([made.length]))[0] == pytest.approx(0, abs=1e-5)
    side = made.points(np.linspace(0, made.length, 2001)[:, None], np.linspace(0, 2 * np.pi, 181))
    assert side[..., 2].max() == pytest.approx(SHAPES[name].height, abs=1e-3)
    assert (np.diff(made.rows) > 0).all() and made.rows[0] == 0 and made.rows[-1] == pytest.approx(made.length)


@pytest.mark.parametrize("name", SHAPES)
def test_the_side_runs_on_smoothly_below_the_base_and_into_the_tip(name):
    made = body.make(SHAPES[name])
    s = np.linspace(-5, 0.999 * made.length, 4000)
    slope = np.diff(made.radius(s)) / np.diff(s)
    assert np.abs(np.diff(slope[: -len(s) // 20])).max() < 0.03  # no kink: the slope changes by little at each step


def frustum_and_cap(radius, height, tip):
    """Volume of a cone with a rounded tip: V = pi h (R^2 + R r + r^2) / 3 and a spherical cap."""
    centre = height - tip
    half = np.arccos(tip / np.hypot(radius, centre)) - np.arctan2(centre, radius)
    low, end = tip * np.cos(half), centre + tip * np.sin(half)
    cap = tip * (1 - np.sin(half))
    return np.pi * end * (radius**2 + radius * low + low**2) / 3 + np.pi * cap**2 * (3 * tip - cap) / 3


def test_cone_is_frustum_and_cap():
    assert body.make(SHAPES["cone"]).volume() == pytest.approx(frustum_and_cap(20, 60, 5), rel=1e-12)


def test_cone_with_a_vanishing_tip_is_the_cone_of_the_handbook():
    """r = 30, h = 40: V = pi r^2 h / 3 = 37699.1118, lateral area pi r s = 4712.388980 (any table of solids)."""
    sharp = body.make(SpikeShape("cone", 60, 60, 40, 1e-6))
    assert sharp.volume() == pytest.approx(37699.1118, abs=1e-3)
    side = sharp.points(np.array([[0.0], [40.0]]), np.linspace(0, 2 * np.pi, 2001))
    slant = np.linalg.norm(side[1] - side[0], axis=1)
    around = np.linalg.norm(np.diff(side[0], axis=0), axis=1)
    assert (0.5 * slant[1:] * around).sum() == pytest.approx(4712.388980, rel=2e-6)


def test_a_horn_has_the_volume_of_the_cone_of_its_spine():
    """A bend neither adds nor takes away (Pappus, generalised): same taper, same length along the spine."""
    horn = body.make(SHAPES["horn"])
    side = horn.radius
    assert horn.volume() == pytest.approx(frustum_and_cap(20, horn.length, side.ball), rel=1e-9)


def test_ogive_against_the_closed_form():
    """pi times the integral of (sqrt(A^2 - z^2) - (A - R))^2 from 0 to the tangent point, and the cap."""
    tip, radius, centre = 5.0, 20.0, 55.0
    bow = (radius**2 + centre**2 - tip**2) / (2 * (radius - tip))
    end, gap = centre * bow / (bow - tip), bow - radius
    arc = (end * np.sqrt(bow**2 - end**2) + bow**2 * np.arcsin(end / bow)) / 2
    cap = 60 - end
    exact = np.pi * ((bow**2 + gap**2) * end - end**3 / 3 - 2 * gap * arc) + np.pi * cap**2 * (3 * tip - cap) / 3
    assert body.make(SHAPES["ogive"]).volume() == pytest.approx(exact, rel=1e-10)


@pytest.mark.parametrize(("diameter", "tip"), [(57.6, 18.7), (27.4, 8.6), (17.7, 7.1)])
def test_the_lowest_ogive_is_half_a_ball(diameter, tip):
    """Half as high as wide, arch and tip are one sphere, 2/3 pi R^3; rounding must not carry the arch past it."""
    low = SpikeShape("ogive", diameter, diameter, diameter / 2, tip)
    assert body.make(low).volume() == pytest.approx(2 / 3 * np.pi * (diameter / 2) ** 3, rel=1e-6)


def test_stud_is_a_spherical_cap():
    """a = 300, h = 200: R = 325, V = 32463124.09 (V = pi h^2 (3R - h) / 3, any table of solids)."""
    cap = body.make(SpikeShape("stud", 600, 600, 200))
    assert cap.volume() == pytest.approx(32463124.09, rel=1e-9)
    assert cap.tip == pytest.approx(325)
    drum = body.make(SpikeShape("stud", 40, 40, 30))
    assert drum.volume() == pytest.approx(np.pi * 400 * 10 + 2 / 3 * np.pi * 8000, rel=1e-10)


def test_ridges_take_away_what_the_sections_say():
    """Area of a section by the polygon through it."""
    made = body.make(SHAPES["ridged"])
    angle = np.linspace(0, 2 * np.pi, 16001)[:-1]
    for s in (10.0, 25.0, 40.0):
        x, y, _ = made.points(np.array(s), angle).T
        polygon = 0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum()
        assert made.section_area(np.array([s]))[0] == pytest.approx(polygon, rel=1e-6)
    assert made.volume() < 0.97 * body.make(SHAPES["cone"]).volume()


@pytest.mark.parametrize("name", SHAPES)
def test_meshes_come_to_the_bodys_volume(name):
    """On a flat plate: the facets' own error is that of a 96-sided polygon, (2 pi / 96)^2 / 6 = 0.07 %, and of the
    chords along the spine."""
    plate = Plate()
    one = spike(plate, SHAPES[name])
    solid = solids.masters(plate, (one,), glue_line=0.0)[0].solid
    assert solids.volume(solid) == pytest.approx(body.make(SHAPES[name]).volume(), rel=4e-3)
    assert solids.volume(solid) < body.make(SHAPES[name]).volume()


def test_oval_scales_the_volume():
    round_one, oval = body.make(SHAPES["horn"]), body.make(SpikeShape("horn", 40, 28, 60, 5, bend=np.radians(55)))
    assert oval.volume() == pytest.approx(0.7 * round_one.volume(), rel=1e-12)


def test_twist_keeps_the_volume_and_turns_the_tip():
    plain = SpikeShape("ridged", 40, 30, 60, 5, ridges=6, ridge_depth=0.2)
    turned = SpikeShape("ridged", 40, 30, 60, 5, twist=1.0, ridges=6, ridge_depth=0.2)
    assert body.make(turned).volume() == pytest.approx(body.make(plain).volume(), rel=1e-12)
    half = body.make(turned).points(np.array(30.0), np.array(0.0))
    assert np.arctan2(half[1], half[0]) == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("bad", "why"),
    [
        (SpikeShape("cone", 20, 20, 60, 12), "tip of radius 12 mm .* at most 10 mm"),
        (SpikeShape("cone", 40, 40, 5, 5), "tip of radius 5 mm .* 5 mm high"),
        (SpikeShape("ogive", 40, 40, 15, 5), "ogive is at least half as high"),
        (SpikeShape("horn", 40, 40, 8, 5, bend=1.5), "horn"),
        (SpikeShape("stud", 40, 40, 0), "stud needs a height"),
    ],
)
def test_figures_that_make_no_spike_are_refused(bad, why):
    with pytest.raises(GeometryError, match=why):
        body.make(bad)


@pytest.mark.parametrize("bend", [0.0, 0.6, 1.0, 1.7])
@pytest.mark.parametrize(("tip", "width", "twist"), [(5.0, 40.0, 0.0), (14.0, 28.0, 0.0), (8.0, 30.0, 1.0)])
def test_no_point_of_a_horn_stands_above_its_height(bend, tip, width, twist):
    horn = body.make(SpikeShape("horn", 40, width, 60, tip, bend=bend, twist=twist))
    side = horn.points(np.linspace(0, horn.length, 4001)[:, None], np.linspace(0, 2 * np.pi, 361))
    assert side[..., 2].max() == pytest.approx(60.0, abs=0.01)
