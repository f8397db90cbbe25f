"""Laws of every way to place spikes, of corners, and of points by tape."""

from __future__ import annotations

from collections import Counter
from dataclasses import fields, replace

import numpy as np
import pytest
from placed import LAYOUTS, RING, SMALL, asked, at, geodesics, shell, uv_of
from scipy.spatial import cKDTree

from shellgen import preset
from shellgen.core import registry
from shellgen.dome import tapes
from shellgen.errors import PresetError
from shellgen.geom.curves import arc_length
from shellgen.geom.patches import area
from shellgen.spikes import place, spots
from shellgen.spikes.groups import PLACINGS, Group, Point
from shellgen.spikes.placings import corners

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


def test_an_error_names_the_line_of_its_own_point(tmp_path):
    path = tmp_path / "toad.yaml"
    path.write_text("name: toad\nspikes:\n- by_hand:\n  - {forward: 10}\n  - {forward: 50 cm}\n", encoding="utf-8")
    far = PresetError("spikes[1].by_hand[2].forward", "It is past the rim.", "Give less.")
    assert str(preset.locate(far, path)).startswith(f"{path}:5: spikes[1].by_hand[2].forward: ")


def test_corner_count_of_a_net_without_corners():
    _, net, _ = shell("bands")
    assert not len(corners.corners(replace(net, lines=tuple(one for one in net.lines if one.kind != "plate"))))
