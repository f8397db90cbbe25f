"""Laws of every way to place spikes: mirror images, distances along the shell, equal steps, corners, no room left."""

from __future__ import annotations

from collections import Counter
from dataclasses import fields, replace
from functools import cache

import igl
import numpy as np
import pytest
from scipy.spatial import cKDTree
from spiked import ball

from shellgen.core import registry
from shellgen.dome import mesh, tapes
from shellgen.dome.surfaces import plan
from shellgen.errors import PresetError
from shellgen.fields.params import Chosen
from shellgen.geom.curves import arc_length
from shellgen.geom.geodesics import shortest
from shellgen.geom.patches import area
from shellgen.geom.poisson_discs import scatter
from shellgen.plates import bands, cells, hexes, rays, turtle
from shellgen.spikes import place, spots
from shellgen.spikes.groups import PLACINGS, Group, Point
from shellgen.spikes.placings import corners, line, scattered

RING = 5.0
FREE = {"clearance": -20.0, "size_at_rim": 1.0}
LAYOUTS = {"turtle": turtle, "hexes": hexes, "rays": rays, "bands": bands, "cells": cells}
SMALL = Group(profile="stud", base_diameter=14.0, height=7.0, tip_radius=7.0, ring=False)


@cache
def shell(layout: str = "turtle"):
    surface = plan.build(plan.Params(length=520, width=420, height=170, taper=-0.1, keel=9))
    module = LAYOUTS[layout]
    net = module.build(surface, module.Params())
    return surface, net, mesh.build(surface, net, mesh.Params(edge=22))


def at(name: str, **own) -> Chosen:
    members = {"line": line, "scattered": scattered}
    return Chosen(name, members[name].Params(**own) if name in members else None)


def asked(group: Group, *, layout: str = "turtle", before: tuple[Group, ...] = ()):
    surface, net, grid = shell(layout)
    every = spots.spots(surface, grid, net, (*before, group), ring_thickness=RING)
    return [spot for spot in every if spot.group == len(before)]


def uv_of(group: Group, **where):
    return np.array([spot.uv for spot in asked(group, **where)])


def geodesics(surface, first, second):
    return shortest(surface, np.asarray(first, float), np.asarray(second, float), steps=12, close=1e-7).length


# ---- every member --------------------------------------------------------------------------------------------------

EVERY = {name: at(name) for name in registry.names(PLACINGS)}
EVERY["scattered"] = at("scattered", apart=40.0)  # fewer than with such small spikes by default


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("name", EVERY)
def test_places_mirror_exactly_have_names_of_their_own_and_lie_on_their_plates(name, layout):
    group = replace(SMALL, place=EVERY[name])
    _, net, _ = shell(layout)
    found = asked(group, layout=layout)
    assert found and len({spot.name for spot in found}) == len(found)
    exact = 1e-12 if name == "plates" else 0.0  # the centre of area of each half is a sum of its own
    by_name = {spot.name: spot for spot in found}
    for spot in found:
        of = net.plates[spot.plate]
        twins = [t for t in found if np.abs(t.uv - spot.uv * (1, -1)).max() <= exact]
        assert len(twins) == 1, "every place has its mirror image"
        if spot.uv[1]:
            assert twins[0].plate == of.mirror
        if of.side != "C" and spot.uv[1]:
            assert by_name[spot.name.replace(of.name, net.plates[of.mirror].name)] is twins[0]
        assert np.hypot(*spot.uv) < 1


@pytest.mark.parametrize("name", EVERY)
def test_a_group_keeps_to_its_plates_and_those_of_the_other_side(name):
    _, net, _ = shell()
    group = replace(
        SMALL, place=EVERY[name], plates=("pleural", "marginal-L-3"), but_not=("pleural-L-1", "pleural-R-1")
    )
    kinds = {net.plates[spot.plate].name for spot in asked(group)}
    allowed = {f"pleural-{side}-{k}" for side in "LR" for k in (2, 3, 4)} | {"marginal-L-3", "marginal-R-3"}
    assert kinds <= allowed
    assert kinds or name == "line", "the midline runs on none of them"


@pytest.mark.parametrize(
    "way",
    [*EVERY.values(), at("line", along="rim"), at("line", along="marginal / cell", count=9),
     at("line", along="cell / cell", every=20.0), at("line", along="cell / cell", count=2)],
    ids=str,
)  # fmt: skip
def test_the_number_that_is_expected_is_near_and_not_too_small(way):
    group = replace(SMALL, place=way, base_diameter=36.0)
    surface, net, _ = shell("cells")
    expected = spots.placing(group).expected(group, len(net.plates), area(surface))
    assert len(asked(group, layout="cells")) <= 1.05 * expected
    assert expected <= 6 * len(asked(group, layout="cells"))


def fields_of(name: str):
    own = EVERY[name].own
    return [] if own is None else [(name, field.name) for field in fields(own)]


OTHER = {
    ("line", "along"): "rim", ("line", "count"): 7, ("line", "every"): 41.0, ("line", "away"): 50.0,
    ("scattered", "apart"): 61.0, ("scattered", "seed"): 2,
}  # fmt: skip


@pytest.mark.parametrize("member, field", [pair for name in EVERY for pair in fields_of(name)])
def test_every_figure_of_a_placing_moves_spikes(member, field):
    usual = EVERY[member]
    other = replace(usual, own=replace(usual.own, **{field: OTHER[member, field]}))
    one, two = (uv_of(replace(SMALL, place=of)) for of in (usual, other))
    assert one.shape != two.shape or np.abs(one - two).max() > 1e-3


@pytest.mark.parametrize("name", EVERY)
def test_spikes_stand_as_asked_and_are_mirror_images(name):
    surface, net, grid = shell()
    group = replace(SMALL, place=EVERY[name], profile="ridged", base_diameter=16.0, height=14.0, tip_radius=5.0,
                    twist=0.5, towards="rim", lean=0.1)  # fmt: skip
    made, findings = place.build(surface, grid, net, (group,), ring_thickness=RING)
    assert made and not [f for f in findings if f.level == "fault"]
    flip = np.array([1.0, -1.0, 1.0])
    for spike in made:
        twin = min(made, key=lambda other: np.abs(other.uv - spike.uv * (1, -1)).max())
        assert twin.base_curve.mean(axis=0) == pytest.approx(flip * spike.base_curve.mean(axis=0), abs=1e-6)
        assert twin.shape == replace(spike.shape, twist=-spike.shape.twist)
        if abs(spike.uv[1]) < 1e-12:
            assert spike.shape.twist == 0, "it is its own mirror image"
            nearest, _ = cKDTree(spike.base_curve).query(spike.base_curve * flip)
            assert nearest.max() < 0.3, "its base as well, between the points of its curve"


def test_a_way_to_place_that_finds_nothing_is_a_caution():
    surface, net, grid = shell()
    group = replace(SMALL, place=at("line"), plates=("pleural",))
    made, findings = place.build(surface, grid, net, (group,))
    assert not made and ["spikes[1] has no place at all" in f.text for f in findings] == [True]


def test_by_hand_and_another_way_at_once_are_refused():
    with pytest.raises(PresetError, match="Both place and by_hand"):
        Group(place=at("corners"), by_hand=(Point("nuchal"),))


# ---- along lines ---------------------------------------------------------------------------------------------------


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


# ---- corners -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("layout", LAYOUTS)
def test_corners_are_counted_by_euler(layout):
    """Plates between their lines are a net of a disc: V - E + F = 1, and every corner has three lines or more."""
    _, net, _ = shell(layout)
    ends = Counter(n for one in net.lines if one.kind in ("plate", "rim") for n in (one.start, one.end))
    rim = {n for one in net.lines if one.kind == "rim" for n in (one.start, one.end)}
    inner = [n for n, degree in ends.items() if degree >= 3 and n not in rim]
    on_rim = [n for n in rim if ends[n] >= 3]
    edges = (sum(ends[n] for n in inner) + sum(ends[n] for n in on_rim)) // 2
    assert len(inner) + len(on_rim) - edges + len(net.plates) == 1
    assert len(asked(replace(SMALL, place=at("corners")), layout=layout)) == len(inner)


def test_a_corner_is_a_node_of_three_plates():
    _, net, _ = shell("hexes")
    for spot in asked(replace(SMALL, place=at("corners"), plates=("hex",)), layout="hexes"):
        node = int(np.abs(net.nodes - spot.uv).max(axis=1).argmin())
        assert np.array_equal(net.nodes[node], spot.uv)
        plates = {net.cell_plate[c] for one in net.lines if node in (one.start, one.end) for c in (one.left, one.right)}
        assert len(plates) >= 3 and any(net.plates[p].kind == "hex" for p in plates)


# ---- scattered -----------------------------------------------------------------------------------------------------


def all_round(surface, found):
    return np.concatenate([found, found[found[:, 1] > 0] * (1, -1)])


@pytest.mark.parametrize("seed", [1, 2])
def test_discs_on_a_half_sphere_by_great_circles(seed):
    """Neither nearer than asked, nor room for one more, by angles between radii."""
    radius, apart = 250.0, 62.0
    found = scatter(
        ball(radius), apart, lambda uv: radius * (np.pi / 2) * (1 - np.hypot(*uv.T)), taken=np.zeros((0, 2)),
        rng=np.random.default_rng(seed),
    )  # fmt: skip
    every = ball(radius).points(all_round(None, found)) / radius
    angle = np.arccos(np.clip(every @ every.T, -1, 1)) + 9 * np.eye(len(every))
    assert radius * angle.min() >= apart - 1e-3
    turn, out = np.meshgrid(np.linspace(-np.pi, np.pi, 241), np.linspace(0, 1, 121))
    grid = np.column_stack([(out * np.cos(turn)).ravel(), (out * np.sin(turn)).ravel()])
    dense = ball(radius).points(grid) / radius
    mirrored = np.abs(dense[:, 1]) * radius
    # a new place must also keep its distance from its own mirror image, or lie on the midline
    free = (np.arcsin(np.clip(mirrored / radius, 0, 1)) * radius >= apart / 2) | (grid[:, 1] == 0)
    nearest = radius * np.arccos(np.clip(dense[free] @ every.T, -1, 1)).min(axis=1)
    assert nearest.max() < 1.02 * apart
    covered = len(every) * np.pi * (apart / 2) ** 2 / (2 * np.pi * radius**2)
    assert 0.45 < covered < 0.75, "as points without order usually cover it"


def test_scattered_spikes_keep_their_distance_by_exact_geodesics_of_the_mesh():
    """libigl's exact geodesics (Mitchell, Mount and Papadimitriou) on a fine mesh, to the nearest vertices."""
    surface, net, _ = shell("hexes")
    fine = mesh.build(surface, net, mesh.Params(edge=9))
    group = replace(SMALL, place=at("scattered", apart=48.0), **FREE)
    uv = uv_of(group, layout="hexes")
    assert len(uv) > 60
    off, vertex = cKDTree(fine.points).query(surface.points(uv))
    near = cKDTree(surface.points(uv)).query_pairs(60.0)
    points, faces = np.asarray(fine.points, order="C"), np.asarray(fine.faces, np.int64, order="C")
    none = np.zeros(0, np.int64)
    for i in sorted({i for i, _ in near})[::6]:
        others = [k for pair in near for k in pair if i in pair and k != i]
        far = igl.exact_geodesic(points, faces, np.array([vertex[i]]), none, vertex[others].astype(np.int64), none)
        assert (far + off[i] + off[others] >= 48.0 - 0.2).all()
    pairs = np.array(sorted(near))
    assert geodesics(surface, uv[pairs[:, 0]], uv[pairs[:, 1]]).min() >= 48.0 - 0.01


@pytest.mark.parametrize("layout, options", [("rays", FREE), ("turtle", {})])
def test_no_further_spike_fits_between_the_scattered(layout, options):
    """Anywhere with room for base, ring and clearance, the nearest is nearer than asked, and 2 %."""
    surface, net, grid = shell(layout)
    apart, group = 55.0, replace(SMALL, place=at("scattered", apart=55.0), size_at_rim=1.0)
    group = replace(group, **options)
    uv = uv_of(group, layout=layout)
    turn, out = np.meshgrid(np.linspace(0, np.pi, 91), np.sqrt(np.linspace(0.001, 0.99, 60)))
    tried = np.column_stack([(out * np.cos(turn)).ravel(), (out * np.sin(turn)).ravel()])
    tried[:, 1] = np.where(tried[:, 1] < 1e-9, 0.0, tried[:, 1])
    net_lines = {kind: np.concatenate([grid.points[v] for one, v in zip(net.lines, grid.line_vertices, strict=True)
                                       if one.kind == kind]) for kind in ("plate", "rim")}  # fmt: skip
    clear = {kind: cKDTree(points).query(surface.points(tried))[0] for kind, points in net_lines.items()}
    needed = 1.04 * 7.0 + group.clearance
    free = (clear["plate"] > needed + 0.5) & (clear["rim"] > max(needed, 1.04 * 7.0) + 0.5)
    own = 2 * geodesics(surface, tried, tried * (1, 0))
    free &= (own >= 1.02 * apart) | (tried[:, 1] == 0)
    near = cKDTree(surface.points(uv)).query(surface.points(tried[free]), k=3)[1]
    ways = [geodesics(surface, tried[free], uv[k]) for k in near.T]
    assert free.sum() > 500 and np.min(ways, axis=0).max() < 1.02 * apart


def test_scattered_spikes_keep_to_their_clearance_and_are_not_made_smaller():
    surface, net, grid = shell()
    group = replace(SMALL, place=at("scattered", apart=40.0), ring=True)
    made, findings = place.build(surface, grid, net, (group,), ring_thickness=RING)
    assert len(made) == len(asked(group)) and not [f for f in findings if "tip" not in f.text]


def test_scattered_spikes_keep_their_distance_from_groups_before():
    surface, _, _ = shell()
    first = replace(SMALL, place=at("corners"))
    uv = uv_of(replace(SMALL, place=at("scattered", apart=50.0), **FREE), before=(first,))
    there = uv_of(first)
    pairs = cKDTree(surface.points(uv)).sparse_distance_matrix(cKDTree(surface.points(there)), 60.0).keys()
    one, other = np.array([*pairs]).T
    assert geodesics(surface, uv[one], there[other]).min() >= 50.0 - 0.01


def test_a_seed_gives_the_same_places_again():
    group = replace(SMALL, place=at("scattered", apart=60.0, seed=7))
    assert np.array_equal(uv_of(group), uv_of(group))


# ---- by tape -------------------------------------------------------------------------------------------------------


def test_a_point_by_tape_is_where_the_tape_reads_it():
    surface, _, _ = shell()
    points = (Point(forward=80.0, outward=110.0), Point(), Point(forward=-120.0))
    uv = uv_of(replace(SMALL, by_hand=points))
    assert len(uv) == 4 and {tuple(spot) for spot in uv} >= {(0.0, 0.0)}
    one = uv[np.argmax(uv[:, 1])]
    assert geodesics(surface, [[0.0, 0.0]], uv[[int(np.argmin(uv[:, 0]))]])[0] == pytest.approx(120.0, abs=0.05)
    level = surface.points(one[None])[0, 0]
    v = np.linspace(0, one[1], 4001)
    u = np.full_like(v, one[0])
    for _ in range(60):  # straight across: at one distance ahead
        tangent = surface.tangents(np.column_stack([u, v]))[:, 0, 0]
        u = u - (surface.points(np.column_stack([u, v]))[:, 0] - level) / tangent
    assert arc_length(surface.points(np.column_stack([u, v])))[-1] == pytest.approx(110.0, abs=0.05)
    fine = np.column_stack([np.linspace(0, u[0], 4001), np.zeros(4001)])
    assert arc_length(surface.points(fine))[-1] == pytest.approx(80.0, abs=0.05)


def test_a_point_by_tape_lies_on_the_girth_of_the_chart():
    surface, _, _ = shell()
    girth = next(g for g in tapes.girths(surface, 50.0) if g.tape == 50.0)
    uv, reach = tapes.tape_spot(surface, 50.0, 60.0)
    along = arc_length(surface.points(girth.uv))
    assert uv == pytest.approx([np.interp(60.0, along, girth.uv[:, k]) for k in (0, 1)], abs=1e-6)
    assert reach == pytest.approx(girth.length, abs=1e-6)


@pytest.mark.parametrize(
    "point, field, said",
    [
        (Point(forward=700.0), "forward", "The tape reads"),
        (Point(forward=-700.0), "forward", "at the rear edge"),
        (Point(outward=-600.0), "outward", "past the rim"),
    ],
)
def test_points_past_the_rim_are_refused_with_what_the_tape_reads_there(point, field, said):
    with pytest.raises(PresetError) as error:
        asked(replace(SMALL, by_hand=(Point("nuchal"), point)))
    assert error.value.where == f"spikes[1].by_hand[2].{field}" and said in str(error.value)


def test_corner_count_of_a_net_without_corners():
    _, net, _ = shell("bands")
    assert not len(corners.corners(replace(net, lines=tuple(one for one in net.lines if one.kind != "plate"))))
