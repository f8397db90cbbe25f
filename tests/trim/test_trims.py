"""Rings: closed forms on plates and spheres, handbook figures, developed strips."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import yaml
from scipy.optimize import brentq
from spiked import Plate, ball, shapes, spike

from shellgen.geom import loops, strips
from shellgen.model import SpikeShape
from shellgen.trim import rings

FIGURES = {row["id"]: row for row in yaml.safe_load((Path(__file__).parents[1] / "published/spikes.yaml").read_text())}
CONE = SpikeShape("cone", 40, 40, 60, 5)


def figure(name):
    return pytest.approx(FIGURES[name]["value"], abs=FIGURES[name]["tolerance"])


def one(surface, shape=CONE, *, spiked=None, **params):
    made = rings.build(surface, (spiked or spike(surface, shape),), rings.Params(**params))
    return made.rings[0], made.strips[0], made


@pytest.mark.parametrize("neutral, name", [(0.5, "ring-40-6-half"), (0.44, "ring-40-6-044"), (0.33, "ring-40-6-033")])
def test_round_ring_on_a_flat_plate(neutral, name):
    ring, strip, _ = one(Plate(), thickness=6.0, neutral=neutral)
    assert ring.neutral_length == figure(name)
    assert ring.neutral_length == pytest.approx(np.pi * (40 + 2 * neutral * 6), abs=1e-9)
    assert loops.length(spike(Plate(), CONE).base_curve) == figure("ring-40-inner")
    if neutral == 0.5:
        assert strip.strain == figure("ring-40-6-strain")


@pytest.mark.parametrize("shape", shapes().values(), ids=shapes())
def test_every_profile_has_a_round_foot_and_so_the_same_ring_on_a_plate(shape):
    ring, _, _ = one(Plate(), shape, thickness=6.0)
    assert ring.neutral_length == pytest.approx(np.pi * 46, abs=1e-9)


def test_on_a_sphere_it_is_the_circle_of_intersection():
    """The cone's flank r = 20 - z tan a meets z = sqrt(R^2 - r^2) - R; the neutral fibre lies K t further out along
    the great circles' tangents, which sink by the angle of the circle."""
    big, centre = 250.0, 55.0
    half = np.arccos(5 / np.hypot(20, centre)) - np.arctan2(centre, 20)
    r = brentq(lambda x: 20 - (np.sqrt(big**2 - x**2) - big) * np.tan(half) - x, 19, 25)
    ring, _, _ = one(ball(big), thickness=6.0)
    assert loops.length(spike(ball(big), CONE).base_curve) == pytest.approx(2 * np.pi * r, abs=1e-7)
    assert ring.neutral_length == pytest.approx(2 * np.pi * (r + 3 * np.sqrt(1 - (r / big) ** 2)), abs=1e-6)


@pytest.mark.parametrize("long, wide, name, scale", [(40, 20, "ellipse-2-1", 10), (60, 50, "ellipse-300-250", 0.1)])
def test_an_oval_ring_is_the_elliptic_integral(long, wide, name, scale):
    """The parallel curve at distance d of a closed convex curve is longer by 2 pi d (Steiner)."""
    stands = spike(Plate(), SpikeShape("cone", long, wide, 60, 5))
    ring, _, _ = one(Plate(), spiked=stands, thickness=6.0)
    row = FIGURES[name]
    assert loops.length(stands.base_curve) == pytest.approx(
        row["value"] * scale, abs=max(row["tolerance"] * scale, 1e-8)
    )
    assert ring.neutral_length == pytest.approx(row["value"] * scale + 2 * np.pi * 3, abs=1e-6)


def test_a_leaning_cylinder_on_a_plate_has_an_elliptic_ring():
    """An ogive leaves its base upright: below it, and just there, it is a cylinder, and a plane cuts that in an
    ellipse of half axes R / cos(lean) and R; above the plane the side has hardly begun to draw in."""
    plate, lean = Plate(), np.radians(10)
    low = spike(plate, SpikeShape("ogive", 40, 40, 400, 5), lean=lean)
    from scipy.special import ellipe

    long = 20 / np.cos(lean)
    exact = 4 * long * ellipe(1 - (20 / long) ** 2)
    assert loops.length(low.base_curve) == pytest.approx(exact, rel=2e-4)


def test_lengths_turn_with_the_shell_and_mirror_with_it():
    surface = ball()
    left = one(surface, spiked=spike(surface, CONE, uv=(0.3, 0.4), lean=0.3, towards="rim"))[0]
    right = one(surface, spiked=spike(surface, CONE, uv=(0.3, -0.4), lean=0.3, towards="rim"))[0]
    turned = one(surface, spiked=spike(surface, CONE, uv=(-0.5, 0.0), lean=0.3, towards="rim"))[0]
    assert right.neutral_length == pytest.approx(left.neutral_length, abs=1e-9)
    assert turned.neutral_length == pytest.approx(left.neutral_length, abs=1e-6)


def test_the_straight_strip_is_as_long_as_said():
    ring, strip, _ = one(Plate(), joint="butt", width=12.0, chamfer=2.0)
    assert np.ptp(strip.outline, axis=0) == pytest.approx([ring.neutral_length, 12.0], abs=1e-9)
    assert strip.chamfer[:, 1] == pytest.approx([10.0, 10.0])
    assert np.diff(strip.marks[:, 0, 0]) == pytest.approx(ring.neutral_length / 4, abs=1e-9)
    scarfed = one(Plate(), joint="scarf", scarf=2.0, thickness=5.0)[1]
    assert np.ptp(scarfed.outline[:, 0]) == pytest.approx(ring.neutral_length + 10.0, abs=1e-9)
    assert scarfed.marks[-1, 0, 0] - scarfed.marks[0, 0, 0] == pytest.approx(ring.neutral_length, abs=1e-9)


def test_a_strip_against_a_cones_side_is_the_sector_of_the_handbook():
    """R = 30, r = 10, h = 40: sector of 160.996894 degrees between radii 67.082039 and 22.360680, area 5619.851785;
    a sharp cone 60 high stands for it and the strip reaches up to the smaller circle."""
    slant = np.hypot(20, 40)
    ring, strip, _ = one(
        Plate(), SpikeShape("cone", 60, 60, 60, 1e-4), lies="flank", neutral=0.0, width=slant, joint="butt", chamfer=0.0
    )
    lower, upper = np.split(strip.outline, 2)
    angle = np.radians(FIGURES["frustum-sector"]["value"])
    assert ring.neutral_length == pytest.approx(2 * np.pi * 30, abs=2e-3)
    assert np.linalg.norm(lower[-1] - lower[0]) == pytest.approx(2 * 67.082039 * np.sin(angle / 2), abs=0.01)
    assert np.linalg.norm(upper[-1] - upper[0]) == pytest.approx(2 * 22.360680 * np.sin(angle / 2), abs=0.01)
    x, y = strip.outline.T
    area = 0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum()
    assert area == pytest.approx(FIGURES["frustum-side"]["value"], rel=1e-4)


def test_unrolling_is_second_order_and_keeps_lengths():
    def error(count):
        turn = np.linspace(0, 2 * np.pi, count + 1)
        circle = np.column_stack([np.cos(turn), np.sin(turn), 0 * turn])
        flat, top = strips.unroll(30 * circle, 10 * circle + [0, 0, 40])
        assert np.linalg.norm(np.diff(flat, axis=0), axis=1) == pytest.approx(60 * np.sin(np.pi / count), rel=1e-9)
        assert np.linalg.norm(top - flat, axis=1) == pytest.approx(np.hypot(20, 40), rel=1e-9)
        chord = 2 * 67.0820393 * np.sin(np.radians(160.996894) / 2)
        return abs(np.linalg.norm(flat[-1] - flat[0]) - chord)

    assert error(200) < 0.3 * error(100)


def test_leaning_strips_lie_on_the_side_and_are_curved():
    surface = ball()
    leaning = spike(surface, CONE, uv=(0.3, 0.4), lean=0.3)
    _, strip, _ = one(surface, spiked=leaning, lies="flank")
    lower = np.split(strip.outline, 2)[0]
    away = lower - lower[0]
    chord = away[-1] / np.linalg.norm(away[-1])
    assert np.abs(away @ [-chord[1], chord[0]]).max() > 3  # the bow of the lower edge


def test_the_overlap_of_a_scarf_goes_straight_on_from_the_last_two_points():
    bent = np.array([[0.0, 0], [1, 0], [2, 1], [2, 3]])
    assert np.array_equal(rings._lengthened(bent, 2.0), [[-2, 0], *bent, [2, 5]])


def test_hard_bends_are_pointed_out():
    assert not one(Plate(), thickness=6.0)[2].findings
    tight = one(Plate(), SpikeShape("cone", 12, 12, 30, 5), thickness=6.0)
    assert tight[1].strain == pytest.approx(6 / 18)
    assert tight[2].findings[0].level == "caution" and "33.3 %" in tight[2].findings[0].text
    thinner = float(re.search(r"strip of ([\d.]+) mm", tight[2].findings[0].text)[1])
    assert not one(Plate(), SpikeShape("cone", 12, 12, 30, 5), thickness=thinner)[2].findings
    assert one(Plate(), SpikeShape("cone", 12, 12, 30, 5), thickness=thinner + 0.5)[2].findings
    tightest = one(Plate(), SpikeShape("cone", 5, 5, 30, 2), thickness=6.0)[2].findings[0].text
    assert "model these rings from clay (ring: no)" in tightest


def test_spikes_without_a_ring_get_none():
    surface = Plate()
    assert rings.build(surface, (replace(spike(surface, CONE), ring=False),), rings.Params()).rings == ()


def test_loops_agree_with_closed_forms():
    turn = np.linspace(0, 2 * np.pi, 64, endpoint=False)
    ellipse = np.column_stack([2 * np.cos(turn), np.sin(turn), 0 * turn])
    up = np.tile([0.0, 0, 1], (64, 1))
    assert loops.length(ellipse) == pytest.approx(9.688448221, abs=1e-9)
    assert loops.arc_length(ellipse)[[16, 64]] == pytest.approx([9.688448221 / 4, 9.688448221], abs=1e-9)
    aside, across = loops.curvatures(ellipse, up)
    assert [aside.max(), aside.min()] == pytest.approx([2.0, 0.25], abs=1e-6)  # a / b^2 and b / a^2
    assert across == pytest.approx(0, abs=1e-12)
    fine = loops.refine(ellipse, 640)
    assert fine[::10] == pytest.approx(ellipse, abs=1e-12)
    assert fine[5] == pytest.approx([2 * np.cos(np.pi / 64), np.sin(np.pi / 64), 0], abs=1e-12)
