"""Tape, bearing and wrap strips against spherical trigonometry, plane geometry and Gauss-Bonnet."""

from __future__ import annotations

from itertools import pairwise

import igl
import numpy as np
import pytest
from drawn import DEMOS, lines, shell
from pyproj import Geod
from scipy.spatial.transform import Rotation
from spiked import Plate, ball

from shellgen.dome.surfaces import plan
from shellgen.errors import GeometryError
from shellgen.finish import scores
from shellgen.finish.scores.wraps import LONGEST, _told_apart
from shellgen.geom.geodesics import developed, shortest
from shellgen.geom.trails import trails

RADIUS = 250.0


def random_uv(count: int, most: float, seed: int = 1) -> np.ndarray:
    rng = np.random.default_rng(seed)
    turn, reach = rng.uniform(0, 2 * np.pi, count), most * np.sqrt(rng.uniform(0, 1, count))
    return np.stack([reach * np.cos(turn), reach * np.sin(turn)], axis=1)


# ---- shortest ways -------------------------------------------------------------------------------------------------


def test_ways_on_a_ball_are_great_circles() -> None:
    dome, start, ends = ball(RADIUS), np.array([0.3, -0.2]), random_uv(60, 0.9)
    away = shortest(dome, start, ends)
    unit, first = dome.points(ends) / RADIUS, dome.points(start[None])[0] / RADIUS
    angle = np.arctan2(np.linalg.norm(np.cross(unit, first), axis=1), unit @ first)
    assert np.abs(away.length - RADIUS * angle).max() < 1e-3
    heading = unit - (unit @ first)[:, None] * first
    heading /= np.linalg.norm(heading, axis=1, keepdims=True)
    assert np.abs(away.heading - heading).max() < 1e-2


def test_lengths_and_headings_agree_with_pyproj() -> None:
    """pyproj's Geod on a sphere: latitude is the angle above the rim's plane, longitude runs with v."""
    dome, ends = ball(RADIUS), random_uv(40, 0.85, seed=4)
    start = np.array([0.25, 0.35])
    latitude, longitude = (np.degrees(a) for a in _lat_lon(dome.points(np.vstack([start, ends]))))
    geod = Geod(a=RADIUS, b=RADIUS)
    _, _, wanted = geod.inv(np.full(40, longitude[0]), np.full(40, latitude[0]), longitude[1:], latitude[1:])
    assert np.abs(shortest(dome, start, ends).length - wanted).max() < 1e-3


def _lat_lon(points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return np.arcsin(points[:, 2] / RADIUS), np.arctan2(points[:, 1], points[:, 0])


def test_error_falls_with_the_fourth_power_of_the_step() -> None:
    dome, start, ends = ball(RADIUS), np.array([0.5, 0.1]), random_uv(30, 0.8, seed=2)
    unit, first = dome.points(ends) / RADIUS, dome.points(start[None])[0] / RADIUS
    true = RADIUS * np.arctan2(np.linalg.norm(np.cross(unit, first), axis=1), unit @ first)
    error = [np.abs(shortest(dome, start, ends, steps=n).length - true).max() for n in (6, 12, 24)]
    assert error[0] / error[1] > 11 and error[1] / error[2] > 11


def test_ways_over_a_dome_are_no_longer_than_others() -> None:
    of = shell("reed-knight")
    ends = random_uv(20, 0.95, seed=3)
    away = shortest(of.ground.surface, np.zeros(2), ends)
    bump = np.sin(np.pi * np.linspace(0, 1, away.uv.shape[1]))[None, :, None]
    for aside in (0.02, -0.02):
        other = away.uv + aside * bump * np.stack([-ends[:, 1], ends[:, 0]], axis=1)[:, None]
        points = of.ground.surface.points(other.reshape(-1, 2)).reshape(*other.shape[:2], 3)
        assert (np.linalg.norm(np.diff(points, axis=1), axis=2).sum(axis=1) > away.length).all()


class Around(Plate):
    """The plane round a disc: straight ways between two points of its rim cross the disc, and are not on it."""

    def points(self, uv: np.ndarray, *, offset: float = 0.0) -> np.ndarray:
        return super().points(uv / (uv**2).sum(axis=1, keepdims=True))

    def tangents(self, uv: np.ndarray, *, offset: float = 0.0) -> np.ndarray:
        square = (uv**2).sum(axis=1)[:, None, None]
        turned = np.eye(2) / square - 2 * np.einsum("ni,nj->nij", uv, uv) / square**2
        return super().tangents(uv) @ turned


def test_a_way_that_would_leave_the_dome_runs_along_its_rim() -> None:
    angle = np.radians([5.0, 10.0, 20.0])
    away = shortest(Around(RADIUS), np.array([1.0, 0.0]), np.column_stack([np.cos(angle), np.sin(angle)]))
    assert np.abs(away.length - RADIUS * angle).max() < 1e-3
    assert np.abs(np.linalg.norm(away.uv, axis=2) - 1).max() < 1e-9


def test_ways_on_a_dome_three_times_as_high_as_it_is_wide_are_those_of_its_mesh() -> None:
    """Against exact geodesics of a polyhedron: igl.exact_geodesic (Mitchell, Mount and Papadimitriou 1987)."""
    steep = plan.build(
        plan.Params(294.565, 460.0, 499.994, squareness=0.158961, fullness=0.132115, crown=0.06809, keel=7.41192)
    )
    ends, rings, around = np.array([[-0.18547382, 0.8745472], [-0.17908306, 0.98383396]]), 60, 240
    turn = np.linspace(0, 2 * np.pi, around, endpoint=False)
    unit = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    uv = np.vstack([np.zeros((1, 2)), *(r * unit for r in np.linspace(0, 1, rings + 1)[1:])])
    at = np.linalg.norm(uv[:, None] - ends, axis=2).argmin(axis=0)
    uv[at] = ends
    k, after = np.arange(around), (np.arange(around) + 1) % around
    faces = [np.stack([0 * k, 1 + k, 1 + after], axis=1)]
    for low in 1 + around * np.arange(rings - 1):
        faces += [np.stack([low + k, low + around + k, low + around + after], axis=1)]
        faces += [np.stack([low + k, low + around + after, low + after], axis=1)]
    none = np.array([], np.int64)
    true = igl.exact_geodesic(steep.points(uv), np.vstack(faces), np.array([0]), none, at, none)
    assert shortest(steep, np.zeros(2), ends).length == pytest.approx(true, rel=1e-4)


def test_ways_that_do_not_settle_are_refused() -> None:
    with pytest.raises(GeometryError, match="no shortest path"):
        shortest(ball(RADIUS), np.array([0.9, 0.0]), np.array([[-0.9, 0.1]]), close=0.0)


# ---- lines laid flat -----------------------------------------------------------------------------------------------


def test_a_great_circle_lies_straight_and_a_parallel_as_on_its_cone() -> None:
    turn = np.linspace(0, 2 * np.pi, 721)
    polar = np.radians(40)
    meridian = RADIUS * np.stack([np.sin(turn / 8), 0 * turn, np.cos(turn / 8)], axis=1)
    assert np.abs(developed(meridian, meridian / RADIUS)[:, 1]).max() < 1e-9
    circle = RADIUS * np.stack(
        [np.sin(polar) * np.cos(turn), np.sin(polar) * np.sin(turn), np.full(721, np.cos(polar))], axis=1
    )
    flat = developed(circle, circle / RADIUS)
    heading = np.unwrap(np.arctan2(*np.diff(flat, axis=0).T[::-1]))
    # Gauss-Bonnet: 2 pi less the cap's curvature 2 pi (1 - cos a), short of the last step's turn.
    assert heading[-1] - heading[0] == pytest.approx(2 * np.pi * np.cos(polar) * 719 / 720, rel=1e-5)
    middle = np.linalg.solve(  # centre of the circle through three points
        2 * (flat[[200, 400]] - flat[0]), (flat[[200, 400]] ** 2).sum(axis=1) - (flat[0] ** 2).sum()
    )
    assert np.linalg.norm(flat - middle, axis=1) == pytest.approx(RADIUS * np.tan(polar), rel=1e-4)


@pytest.mark.parametrize("name", DEMOS)
def test_strips_on_a_flat_plate_are_the_lines_themselves(name: str) -> None:
    of, plane = shell(name), Plate(300.0)
    found = scores.build(plane, of.ground.layout, (), scores.Params(), thickness=10.0, ring_thickness=5.0)
    at = {corner.name: plane.points(corner.uv[None])[0, :2] for corner in found.corners}
    uv = {corner.name: corner.node for corner in found.corners}
    for wrap in found.wraps:
        stops = [stop for stop in wrap.stops]
        if len({stop.corner for stop in stops}) < 3:
            continue
        here, there = np.array([stop.at for stop in stops]), np.array([at[stop.corner] for stop in stops])
        a, b = here - here.mean(axis=0), there - there.mean(axis=0)
        turn, _ = Rotation.align_vectors(np.pad(b, ((0, 0), (0, 1))), np.pad(a, ((0, 0), (0, 1))))
        assert np.abs(np.pad(a, ((0, 0), (0, 1))) @ turn.as_matrix().T - np.pad(b, ((0, 0), (0, 1)))).max() < 1e-6
        for stop in stops:
            for branch in stop.branches:
                way = turn.apply([np.cos(branch), np.sin(branch), 0.0])[:2]
                node = uv[stop.corner]
                leaving = [
                    line.uv[1] - line.uv[0] if line.start == node else line.uv[-2] - line.uv[-1]
                    for line in of.ground.layout.lines
                    if line.kind == "plate" and node in (line.start, line.end)
                ]
                assert max(way @ d / np.hypot(*d) for d in leaving) > 1 - 1e-6


@pytest.mark.parametrize("name", DEMOS)
def test_strips_cover_every_line_once_and_fit_on_paper(name: str) -> None:
    of, found = shell(name), lines(name)
    drawn = [of.ground.surface.points(line.uv) for line in of.ground.layout.lines if line.kind == "plate"]
    total = sum(np.linalg.norm(np.diff(p, axis=0), axis=1).sum() for p in drawn)
    size = [np.linalg.norm(np.diff(w.centre, axis=0), axis=1).sum() for w in found.wraps]
    assert sum(size) == pytest.approx(total, rel=2e-3)  # strips are stepped finer than the lines' own polylines
    assert max(size) <= 1.15 * LONGEST
    assert len(found.wraps) < 0.7 * len(drawn)
    assert {s.corner for w in found.wraps for s in w.stops} == {c.name for c in found.corners}
    own = [[w for w in found.wraps if set(w.name) & set("LR") == {hand}] for hand in "LR"]
    assert len(own[0]) == len(own[1]) > 5
    swap = str.maketrans("LR", "RL")
    for left, right in zip(*own, strict=True):
        assert left.name.translate(swap) == right.name
        there = np.linalg.norm(left.centre - left.centre[0], axis=1)
        assert np.linalg.norm(right.centre - right.centre[0], axis=1) == pytest.approx(there, abs=1e-4)


@pytest.mark.parametrize("name", DEMOS)
def test_corners_are_numbered_outwards_and_mirrored(name: str) -> None:
    of, found = shell(name), lines(name)
    tape = {c.name: c for c in found.corners}
    assert len(tape) == len(found.corners)
    left = [c for c in found.corners if not c.name.endswith("R")]
    assert all(a.tape <= b.tape + 1e-3 for a, b in pairwise(left))
    for corner in left:
        if corner.name.endswith("L"):
            mate = tape[f"{corner.name[:-1]}R"]
            assert mate.tape == pytest.approx(corner.tape, abs=1e-6)
            assert mate.bearing == pytest.approx(-corner.bearing, abs=1e-6)
        else:
            assert abs(corner.uv[1]) < 1e-9
    assert all(len(c.plates) >= 2 for c in found.corners)
    # By tape and bearing a corner is found again: a straight way in the domain starts in nearly that direction.
    assert all(np.sign(c.bearing) == np.sign(c.uv[1]) for c in found.corners if abs(c.uv[1]) > 1e-6)
    assert {seat.spike for seat in found.seats} == {spike.name for spike in of.top.spikes}


def test_bearings_on_a_ball_are_the_domains_own() -> None:
    uv = random_uv(30, 0.9, seed=7)
    tape, bearing, _ = scores.from_crown(ball(RADIUS), uv)
    assert bearing == pytest.approx(np.arctan2(uv[:, 1], uv[:, 0]), abs=1e-9)
    assert tape == pytest.approx(RADIUS * np.pi / 2 * np.hypot(*uv.T), abs=1e-3)  # azimuthal equidistant


def test_the_ring_stands_its_thickness_off_the_base() -> None:
    of = shell("marsh-warden")
    ringed = [pair for pair in zip(lines("marsh-warden").seats, of.top.spikes, strict=True) if pair[1].ring]
    assert len(ringed) == 7  # the crest; studs have none
    for seat, spike in ringed:
        gap = np.linalg.norm(of.ground.surface.points(seat.ring) - spike.base_curve, axis=1)
        assert gap == pytest.approx(5.0, abs=0.02)


# ---- trails --------------------------------------------------------------------------------------------------------


def test_trails_go_straight_on_and_take_each_edge_once() -> None:
    """A cross of two straight lines, and a closed square."""
    ends = np.array([(0, 4), (4, 1), (2, 4), (4, 3), (5, 6), (6, 7), (7, 8), (8, 5)])
    at = np.array([(-1, 0), (1, 0), (0, -1), (0, 1), (0, 0), (3, 0), (4, 0), (4, 1), (3, 1)], float)
    way = at[ends[:, 1]] - at[ends[:, 0]]
    leaving = np.stack([way, -way], axis=1) / np.linalg.norm(way, axis=1)[:, None, None]
    found = trails(ends, leaving, most_turn=np.radians(30))
    assert sorted(e for trail in found for e, _ in trail) == list(range(8))
    assert {tuple(sorted(e for e, _ in trail)) for trail in found} == {(0, 1), (2, 3), (4,), (5,), (6,), (7,)}
    round_ = trails(ends, leaving, most_turn=np.radians(95))
    assert {frozenset(e for e, _ in t) for t in round_} == {
        frozenset((0, 1)),
        frozenset((2, 3)),
        frozenset((4, 5, 6, 7)),
    }
    for trail in round_:
        for (e, d), (f, g) in pairwise(trail):
            assert ends[e, 1 if d > 0 else 0] == ends[f, 0 if g > 0 else 1]


# ---- depth of the grooves ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("depth", "thickness", "why", "remedy"),
    (
        (3.0, 2.0, "cut it through", "1.3 mm deep or less"),
        (3.0, 3.0, "cut it through", "2 mm deep or less"),
        (2.5, 3.0, "less than a third", "2 mm deep or less"),
    ),
)
def test_a_groove_that_leaves_less_than_a_third_of_the_foam_is_found(depth, thickness, why, remedy) -> None:
    (found,) = scores.too_deep(scores.Params(depth=depth), thickness)
    assert found.level == "caution" and why in found.text and remedy in found.text


@pytest.mark.parametrize(("depth", "thickness"), ((2.0, 3.0), (3.0, 6.0), (3.0, 10.0)))
def test_a_groove_that_leaves_a_third_of_the_foam_is_not(depth, thickness) -> None:
    assert scores.too_deep(scores.Params(depth=depth), thickness) == ()


@pytest.mark.parametrize(
    ("thickness", "depth"), ((2.0, 0.5), (3.0, 1.0), (5.0, 1.5), (6.0, 2.0), (9.0, 3.0), (20.0, 3.0))
)
def test_the_usual_groove_takes_a_third_of_the_foam_and_3_mm_at_most(thickness, depth) -> None:
    assert scores.groove(scores.Params(), thickness) == (3.0, depth)
    assert scores.groove(scores.Params(depth=2.5), thickness) == (3.0, 2.5)
    assert scores.too_deep(scores.Params(), thickness) == ()


def test_strips_between_the_same_corners_are_told_apart() -> None:
    line = np.array([(0.0, 0.0), (10.0, 0.0)])
    one, two, three = (scores.Stop(corner, np.zeros(2), np.zeros(0)) for corner in ("1", "2", "3"))
    found = [scores.Wrap("1 to 3", line, (one, two, three)), scores.Wrap("1 to 3", line, (one, three))]
    found += [scores.Wrap("1 to 2", line, (one,))]
    assert [wrap.name for wrap in _told_apart(found)] == ["1 to 3 by 2", "1 to 3 no. 2", "1 to 2"]
