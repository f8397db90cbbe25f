"""Where spikes stand, how large, and how much room they keep."""

import re
from dataclasses import replace

import numpy as np
import pytest
from spiked import ball, dome

from shellgen.dome import mesh
from shellgen.dome.surfaces import plan
from shellgen.errors import GeometryError, PresetError
from shellgen.geom import curves
from shellgen.plates import bands
from shellgen.spikes import body, place, skins, spots
from shellgen.spikes.groups import Group, Point

RING = 5.0


@pytest.fixture(scope="module")
def shell():
    return dome()


def placed(shell, *groups, **options):
    surface, layout, mesh = shell
    return place.build(surface, mesh, layout, groups, ring_thickness=RING, **options)


def edge(surface, spike):
    return skins.outlines(surface, [spike], [RING])[0]


def test_one_on_each_plate_at_its_centre_of_area(shell):
    surface, layout, mesh = shell
    spikes, _ = placed(shell, Group(base_diameter=20.0, height=20.0))
    assert [s.plate for s in spikes] == list(range(len(layout.plates)))
    for spike in spikes:
        plate = layout.plates[spike.plate]
        faces = mesh.faces[np.isin(mesh.face_cell, plate.cells)]
        corner = mesh.points[faces]
        weight = np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1)
        middle = (corner.mean(axis=1) * weight[:, None]).sum(axis=0) / weight.sum()
        away = middle - spike.frame[:3, 3]
        normal = surface.normals(spike.uv[None])[0]
        assert np.linalg.norm(np.cross(away, normal)) < 1e-6  # straight under it
        assert away @ normal <= 0
        if plate.side == "C":
            assert spike.uv[1] == 0


def test_on_a_bowed_plate_it_stands_in_the_middle_of_the_plate():
    """Where the centre of area of a band that sweeps back lies in the next band."""
    surface = plan.build(plan.Params(length=420, width=360, height=130))
    layout = bands.build(surface, bands.Params(bands=6, bow=0.6))
    grid = mesh.build(surface, layout, mesh.Params(edge=24))
    off = []
    for plate, (u, v) in zip(layout.plates, spots.centres(surface, grid, layout), strict=True):
        if plate.kind == "band":
            ridge = next(line for line in layout.lines if line.kind == "midline" and line.left in plate.cells)
            off.append(abs(u - ridge.uv[:, 0].mean()) / np.ptp(ridge.uv[:, 0]))
            assert v == 0
    assert max(off) < 0.25 and sum(share < 1e-9 for share in off) >= 4


def test_axis_square_to_the_shell_or_leaned_as_asked(shell):
    surface = shell[0]
    for towards, sign in (("rear", -1), ("front", 1)):
        spikes, _ = placed(shell, Group(base_diameter=20.0, height=30.0, lean=0.3, towards=towards))
        for spike in spikes:
            normal, along = surface.normals(spike.uv[None])[0], surface.tangents(spike.uv[None])[0, :, 0]
            axis, turning = spike.frame[:3, 2], spike.frame[:3, 0]
            assert np.arccos(np.clip(axis @ normal, -1, 1)) == pytest.approx(0.3, abs=1e-9)
            assert sign * (axis @ along) > 0 and sign * (turning @ along) > 0
            assert np.linalg.det(spike.frame[:3, :3]) == pytest.approx(1)
    upright, _ = placed(shell, Group(base_diameter=20.0, height=30.0))
    assert all(s.frame[:3, 2] == pytest.approx(surface.normals(s.uv[None])[0], abs=1e-12) for s in upright)


def test_to_the_rim_they_lean_outward(shell):
    spikes, _ = placed(
        shell, Group(base_diameter=20.0, height=30.0, lean=0.3, towards="rim", plates=("ring2", "ring3"))
    )
    for spike in spikes:
        assert spike.frame[:2, 2] @ spike.frame[:2, 3] > 0
        assert spike.frame[2, 0] < 0  # the turning line runs down the shell


def test_sizes_fall_from_crown_to_rim_in_few_steps(shell):
    group = Group(base_diameter=24.0, height=30.0, tip_radius=3.0, size_at_rim=0.5, sizes=3, clearance=-20.0)
    spikes, _ = placed(shell, group)
    out = np.array([np.hypot(*s.uv) for s in spikes])
    size = np.array([s.base_diameter for s in spikes])
    assert len(set(size)) == 3 and size.max() == 24.0
    assert (np.diff(size[np.argsort(out)]) <= 0).all()
    wished = 24 * (1 - 0.5 * out)
    assert np.abs(size - wished).max() <= np.ptp(wished) / 4 + 0.5  # half a step and half a mm of rounding
    front_heavy, _ = placed(
        shell, Group(base_diameter=24.0, tip_radius=3.0, size_at_rim=1.0, size_at_rear=0.5, sizes=20)
    )
    at = np.array([s.uv[0] for s in front_heavy])
    assert np.corrcoef(at, [s.base_diameter for s in front_heavy])[0, 1] > 0.95


def test_rooms_are_kept_measured_by_brute_force(shell):
    """Every ring's outer edge against every point of every plate line, and against every other spike."""
    surface, layout, mesh = shell
    group = Group(base_diameter=60.0, height=60.0, clearance=2.0, gap=3.0, in_row=2, plates=("ring1", "ring2"))
    spikes, findings = placed(shell, group)
    lines = np.vstack(
        [
            curves.resample(mesh.points[chain], 200)
            for chain, line in zip(mesh.line_vertices, layout.lines, strict=True)
            if line.kind != "midline"
        ]
    )
    edges = [edge(surface, s) for s in spikes]
    for one in edges:
        near = lines[np.linalg.norm(lines - one.mean(axis=0), axis=1) < 80]
        assert np.linalg.norm(one[:, None] - near[None], axis=2).min() >= 2.0 - 0.15  # the mesh's chords cut corners
    for i in range(len(spikes)):
        for j in range(i):
            if np.linalg.norm(spikes[i].frame[:3, 3] - spikes[j].frame[:3, 3]) < 150:
                assert np.linalg.norm(edges[i][:, None] - edges[j][None], axis=2).min() >= 3.0 - 0.05
    assert any("base reduced from" in f.text and f.level == "caution" for f in findings)
    assert all(s.base_diameter % 2 == 0 for s in spikes if s.base_diameter < 36)


def test_nothing_shrinks_unless_allowed(shell):
    group = Group(base_diameter=60.0, height=60.0, size_at_rim=1.0, may_shrink=False, plates=("ring2",))
    spikes, findings = placed(shell, group)
    assert {s.base_diameter for s in spikes} == {60.0}
    assert [f.level for f in findings] == ["fault"] and "mm is asked" in findings[0].text
    largest = float(re.search(r"a base of at most ([\d.]+) mm", findings[0].text)[1])
    smaller = replace(group, base_diameter=largest, height=largest, may_shrink=False)
    assert not [f for f in placed(shell, smaller)[1] if f.level == "fault"], "the remedy that is named cures it"
    roomy, none = placed(shell, Group(base_diameter=16.0, height=16.0, tip_radius=5.0))
    assert not none and len(roomy) == 36


def test_an_outline_over_a_line_has_room_below_zero(shell):
    surface = shell[0]
    spikes, _ = placed(shell, Group(base_diameter=40.0, plates=("ring0",), may_shrink=False))
    from scipy.spatial import cKDTree

    spike, out = spikes[0], edge(surface, spikes[0])
    inside = spike.frame[:3, 3] + 8.0 * spike.frame[:3, 0]
    assert skins.room_to(cKDTree(inside[None]), spike, out) == pytest.approx(8 - 25, abs=0.2)
    outside = spike.frame[:3, 3] + 40.0 * spike.frame[:3, 1]
    assert skins.room_to(cKDTree(outside[None]), spike, out) == pytest.approx(15, abs=0.5)


def test_a_later_group_takes_the_plate_and_some_stay_bare(shell):
    first = Group(base_diameter=20.0, height=20.0)
    later = Group(profile="stud", plates=("ring1",), but_not=("ring1-C-0",), base_diameter=20.0, height=8.0)
    layout = shell[1]
    names = [p.name for p in layout.plates if p.kind == "ring1"]
    later = Group(profile="stud", plates=("ring1",), but_not=(names[0],), base_diameter=20.0, height=8.0)
    spikes, _ = placed(shell, first, later)
    by_plate = {layout.plates[s.plate].name: s.profile for s in spikes}
    assert [by_plate[n] for n in names] == ["cone"] + ["stud"] * (len(names) - 1)


def test_by_hand_in_mm_with_its_mirror_image(shell):
    surface, layout, mesh = shell
    plate = next(p for p in layout.plates if p.side == "L" and p.kind == "ring2")
    points = (Point(plate.name, forward=10.0, outward=12.0),)
    spikes, _ = placed(shell, Group(base_diameter=14.0, height=14.0, by_hand=points, clearance=-20.0))
    assert {layout.plates[s.plate].side for s in spikes} == {"L", "R"}
    one, two = sorted(spikes, key=lambda s: -s.uv[1])
    assert one.frame[:3, 3] == pytest.approx([1, -1, 1] * two.frame[:3, 3], abs=1e-5)
    centre = surface.points(spots.centres(surface, mesh, layout)[layout.plates.index(plate)][None])[0]
    away = one.frame[:3, 3] - centre
    assert np.linalg.norm(away) == pytest.approx(np.hypot(10, 12), rel=0.01)
    ahead = surface.tangents(spots.centres(surface, mesh, layout)[layout.plates.index(plate)][None])[0, :, 0]
    assert away @ ahead / np.linalg.norm(ahead) == pytest.approx(10, abs=0.1)


def neighbours(shell, **options):
    """Two spikes of 24 mm whose middles are 31 mm apart on one plate of the midline, and what was found."""
    plate = next(p for p in shell[1].plates if p.side == "C")
    points = (Point(plate.name, forward=15.5), Point(plate.name, forward=-15.5))
    group = Group(base_diameter=24.0, height=24.0, by_hand=points, clearance=-20.0, size_at_rim=1.0, gap=2.0, **options)
    return placed(shell, group)


def test_neighbours_too_near_shrink_together_until_their_rings_keep_the_gap(shell):
    spikes, findings = neighbours(shell)
    one, two = spikes
    assert one.base_diameter == two.base_diameter == 18.0  # 31 mm less 2 x 5 mm of ring, 2 mm of gap, in steps of 2 mm
    edges = [edge(shell[0], s) for s in spikes]
    assert np.linalg.norm(edges[0][:, None] - edges[1][None], axis=2).min() >= 2.0 - 0.05
    assert [f.level for f in findings] == ["caution"] and "from 24 to 18 mm" in findings[0].text


def test_neighbours_that_may_not_shrink_are_reported_once(shell):
    spikes, findings = neighbours(shell, may_shrink=False)
    assert [s.base_diameter for s in spikes] == [24.0, 24.0]
    assert [f.level for f in findings] == ["fault"] and "2 mm is asked. Ask for a base of at most 18 mm" in findings[
        0
    ].text


def test_rows_lie_evenly_about_the_centre(shell):
    spikes, _ = placed(shell, Group(base_diameter=10.0, height=10.0, tip_radius=2.0, in_row=3, plates=("ring2",)))
    row = [s.frame[:3, 3] for s in spikes if s.plate == spikes[0].plate]
    assert len(row) == 3
    first, second = np.linalg.norm(row[1] - row[0]), np.linalg.norm(row[2] - row[1])
    assert first == pytest.approx(second, rel=0.05) and first > 15
    assert len({s.name for s in spikes}) == len(spikes)


def test_sharp_tips_are_pointed_out_and_kept(shell):
    spikes, findings = placed(shell, Group(base_diameter=20.0, height=20.0, tip_radius=3.0, plates=("ring1",)))
    assert {body.make(s.shape).tip for s in spikes} == {3.0}
    assert len(findings) == 1 and findings[0].level == "caution" and "the radius of 5 mm" in findings[0].text
    assert "the sharpest 3 mm at" in findings[0].text
    assert not placed(shell, Group(base_diameter=20.0, height=20.0, tip_radius=3.0, plates=("ring1",)), tip_floor=3.0)[
        1
    ]


@pytest.mark.parametrize("word, near", [("rng1", "ring1"), ("marginals", "")])
def test_a_plate_that_is_not_there(shell, word, near):
    """Groups and points are counted from 1, as in every other message."""
    with pytest.raises(PresetError, match=r"spikes\[2\].plates") as error:
        placed(shell, Group(), Group(plates=(word,)))
    assert near in str(error.value)
    with pytest.raises(PresetError, match=r"spikes\[1\].by_hand\[1\].plate"):
        placed(shell, Group(by_hand=(Point(word),)))


def test_at_the_crown_leaning_outward_has_a_way_to_lean():
    made = place.frame(ball(), np.zeros(2), lean=0.2, towards="rim")
    assert np.isfinite(made).all() and np.linalg.det(made[:3, :3]) == pytest.approx(1)


def test_one_that_does_not_fit_is_left_out_and_the_others_stand(shell):
    wide = Group(base_diameter=60.0, height=60.0, size_at_rim=1.0, lean=np.radians(45), may_shrink=False)
    spikes, findings = placed(shell, wide)
    asked = len(placed(shell, replace(wide, base_diameter=12.0, height=14.0, lean=0.0))[0])
    gone = [f.text for f in findings if "left out" in f.text]
    assert 0 < len(spikes) < asked and gone
    assert all("it takes a base of at most" in text or "not even a base of 8 mm" in text for text in gone)


def test_only_spikes_whose_graded_size_no_profile_has_are_left_out(shell):
    """Tips as round as the bases as asked: graded down, they are rounder than the bases."""
    group = Group(base_diameter=20.0, height=30.0, tip_radius=9.0, size_at_rim=0.6)
    spikes, findings = placed(shell, group)
    (text,) = (f.text for f in findings if "left out at the size graded there" in f.text)
    assert 0 < len(spikes) < len(shell[1].plates) and "a tip of radius 9 mm" in text
    assert all(spike.shape.diameter >= 18 for spike in spikes)
    with pytest.raises(GeometryError, match="a tip of radius 11 mm does not fit"):
        placed(shell, Group(base_diameter=20.0, height=30.0, tip_radius=11.0))
