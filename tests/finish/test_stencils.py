"""Masks against a map projection, cones against handbook developments, slits against the length they take up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pyproj
import pytest
import shapely
from drawn import DEMOS, shell
from spiked import Plate, ball, spike

from shellgen.draw.masks import mask_sheets
from shellgen.finish import stencils
from shellgen.finish.stencils import _hoods, _mask, _sheets
from shellgen.model import Ring, SpikeShape
from shellgen.spikes import place, solids
from shellgen.spikes.groups import Group
from shellgen.trim import rings

RADIUS = 250.0


def masks(name: str) -> tuple[stencils.Mask, ...]:
    of = shell(name)
    return stencils.build(of.ground.surface, of.ground.layout, of.top.spikes, of.top.masters, of.trim.rings.rings)


def test_a_sheet_about_a_middle_is_the_azimuthal_equidistant_map() -> None:
    """pyproj's aeqd on a sphere (Snyder 1987, section 25), x to the east."""
    dome, middle = ball(RADIUS), np.array([0.3, 0.25])
    rng = np.random.default_rng(2)
    uv = middle + rng.uniform(-0.25, 0.25, (40, 2))
    points = dome.points(np.vstack([middle, uv]))
    latitude, longitude = np.degrees(np.arcsin(points[:, 2] / RADIUS)), np.degrees(np.arctan2(*points[:, 1::-1].T))
    plane = pyproj.Proj(f"+proj=aeqd +R={RADIUS} +lat_0={latitude[0]} +lon_0={longitude[0]}")
    wanted = np.column_stack(plane(longitude[1:], latitude[1:]))
    turn = np.radians(longitude[0])
    east = np.array([-np.sin(turn), np.cos(turn), 0.0])
    # The map has its own east along x; here the first direction given is along x.
    flat = _sheets.about(dome, middle, uv, east)
    assert np.abs(flat - wanted).max() < 0.01


def test_a_hood_on_a_flat_plate_is_the_developed_cone() -> None:
    plate = Plate(300.0)
    stands = spike(plate, SpikeShape("cone", 40.0, 40.0, 50.0, 5.0))
    solid = solids.masters(plate, (stands,))[0].solid
    ring = Ring(stands.name, 0.0, 5.0, 8.0)
    hood = _hoods.hood(plate, solid, [stands], ring)
    reach = np.hypot(*hood.outline[1:].T)
    assert reach == pytest.approx(reach[0], abs=1e-6)  # the foot is level
    edge = np.arctan2(hood.outline[1:, 1], hood.outline[1:, 0])
    sector = np.unwrap(edge)[-1] - np.unwrap(edge)[0]
    half = np.arcsin(sector / (2 * np.pi))
    base, height = reach[0] * np.sin(half), reach[0] * np.cos(half)
    # Everything under it, by its own radius and height: spike, and the ring's outer top edge.
    points = np.vstack([solid.vertices, [[25.0, 0.0, 0.0], [25.0, 0.0, 8.0]]])
    room = base * (1 - points[:, 2] / height) - np.hypot(points[:, 0], points[:, 1])
    assert room.min() == pytest.approx(_hoods.PLAY, abs=0.02)


@pytest.mark.parametrize("name", DEMOS)
def test_hoods_clear_what_they_cover_and_stand_on_the_shell(name: str) -> None:
    of = shell(name)
    for mask in masks(name):
        if mask.kind != "hood":
            continue
        stands = next(s for s in of.top.spikes if s.name == mask.serves[0])
        size = np.hypot(*mask.outline[1:].T).max()
        assert size > np.hypot(stands.height, stands.base_diameter / 2)
        assert shapely.Polygon(mask.outline).is_valid


def test_a_hole_in_a_flat_plates_mask_is_the_rings_foot() -> None:
    of, plane = shell("marsh-warden"), Plate(300.0)
    stands = spike(plane, SpikeShape("cone", 30.0, 30.0, 40.0, 5.0), uv=tuple(of.top.spikes[2].uv))
    index = of.top.spikes[2].plate
    stands = replace(stands, plate=index)
    found = _sheets.plates(plane, of.ground.layout, (stands,), {stands.name: Ring(stands.name, 0, 5.0, 8.0)})
    holed = found[index]
    assert np.hypot(*(holed.holes[0] - holed.holes[0].mean(axis=0)).T) == pytest.approx(20.0, abs=0.01)
    assert not holed.slits and holed.overlap < 0.01  # a flat plate needs none
    corners = plane.points(_sheets.border(of.ground.layout, index))[:, :2]
    assert shapely.Polygon(holed.outline).area == pytest.approx(shapely.Polygon(corners).area, rel=1e-6)


@pytest.mark.parametrize("name", DEMOS)
def test_slits_take_up_what_the_flat_edge_is_too_long(name: str) -> None:
    of = shell(name)
    found = [m for m in masks(name) if m.kind == "plate"]
    assert [m.name for m in found] == [p.name for p in of.ground.layout.plates]
    for index, mask in enumerate(found):
        uv = _sheets.border(of.ground.layout, index)
        points = of.ground.surface.points(uv)
        true = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).sum()
        flat = shapely.Polygon(mask.outline).exterior.length
        assert (len(mask.slits) or 1) * mask.overlap == pytest.approx(max(flat - true, 0.0), abs=0.05)
        assert mask.overlap <= _mask.GIVE + 1e-9
        shape = shapely.Polygon(mask.outline)
        assert shape.is_valid
        for slit in mask.slits:
            assert shape.exterior.distance(shapely.Point(slit[0])) < 1e-6
            assert all(shapely.LineString(slit).distance(shapely.Polygon(hole)) > 1.0 for hole in mask.holes)


@pytest.mark.parametrize("name", DEMOS)
def test_bands_go_once_round_and_are_mirrored(name: str) -> None:
    of = shell(name)
    found = [m for m in masks(name) if m.kind == "band"]
    turn = np.linspace(0, 2 * np.pi, 4001)
    rim = of.ground.surface.points(np.stack([np.cos(turn), np.sin(turn)], axis=1))
    length = np.linalg.norm(np.diff(rim, axis=0), axis=1).sum()
    outer = sum(
        np.linalg.norm(np.diff(m.outline[: len(m.outline) // 2], axis=0), axis=1).sum()
        for m in found
        if m.name.startswith("L")
    )
    assert 2 * outer == pytest.approx(length, rel=1e-3)
    halves = [[shapely.Polygon(m.outline) for m in found if m.name[0] == hand] for hand in "LR"]
    for left, right in zip(*halves, strict=True):
        assert left.is_valid and right.area == pytest.approx(left.area, rel=1e-12)


@pytest.mark.parametrize("name", DEMOS)
def test_collars_leave_the_ring_free_and_reach_over_the_plate(name: str) -> None:
    of = shell(name)
    by_master = {s.master for s in of.top.spikes}
    found = [m for m in masks(name) if m.kind == "collar"]
    assert {m.name for m in found} == by_master
    for mask in found:
        ring, whole = shapely.Polygon(mask.holes[0]), shapely.Polygon(mask.outline)
        assert whole.buffer(1e-6).covers(ring)
        stands = next(s for s in of.top.spikes if s.name == mask.serves[0])
        extra = 2 * next((r.thickness for r in of.trim.rings.rings if r.spike == stands.name), 0.0)
        across = np.ptp(mask.holes[0], axis=0).mean()
        assert across == pytest.approx(stands.base_diameter + extra, rel=0.12)


@pytest.mark.parametrize("name", DEMOS)
def test_every_mask_is_named_inside_itself(name: str) -> None:
    from inked import ink, words

    found = masks(name)
    printed = [mask for mask in found if not mask.flips]
    assert len(printed) < len(found)
    for mask, sheet in zip(printed, mask_sheets(found), strict=True):
        assert words(sheet), sheet.name
        low = -(sheet.items[0].points.min(axis=0) - 3.0)
        shape = shapely.Polygon(sheet.items[0].points + low, [])
        for text in words(sheet):
            assert shape.covers(ink(text)), f"{text.text!r} leaves {sheet.name}"
        for hole in (p for p in sheet.items if getattr(p, "data", {}).get("hole")):
            assert not any(ink(t).intersects(shapely.Polygon(hole.points)) for t in words(sheet)), sheet.name
        said = " ".join(t.text for t in words(sheet))
        assert mask.name.split("-")[-1] in said
        assert ("L/R" in sheet.name or "R/L" in sheet.name) == any(m.flips == mask.name for m in found)


def test_masks_of_wavy_feet_and_of_spikes_that_meet_have_no_crossing_lines() -> None:
    of = shell("marsh-warden")
    ridged = Group(profile="ridged", lean=np.radians(40), plates=("vertebral",))
    crowded = Group(in_row=3, may_shrink=False, plates=("vertebral",))
    for group in (ridged, crowded):
        spikes, _ = place.build(of.ground.surface, of.ground.mesh, of.ground.layout, (group,))
        made = tuple(m.solid for m in solids.masters(of.ground.surface, spikes, glue_line=0.1))
        around = rings.build(of.ground.surface, spikes, rings.Params()).rings
        found = stencils.build(of.ground.surface, of.ground.layout, spikes, made, around)
        for mask in found:
            if mask.kind != "hood":
                shape = shapely.Polygon(mask.outline, mask.holes)
                assert shape.is_valid and shape.area > 0, mask.name
        assert len(mask_sheets(found)) == sum(not mask.flips for mask in found)


@pytest.mark.parametrize("name", DEMOS)
def test_masks_that_are_nearly_the_same_are_one_and_serve_the_same_spikes(name: str) -> None:
    every = masks(name)
    shared = stencils.shared(every)
    for kind in ("hood", "collar"):
        before, after = ([mask for mask in of if mask.kind == kind] for of in (every, shared))
        assert sorted(s for mask in after for s in mask.serves) == sorted(s for mask in before for s in mask.serves)
        for mask in after:
            for other in (of for of in before if set(of.serves) <= set(mask.serves)):
                assert shapely.LinearRing(other.outline).buffer(1.01).covers(shapely.LinearRing(mask.outline))
                for mine, theirs in zip(mask.holes, other.holes, strict=True):
                    assert shapely.LinearRing(theirs).buffer(0.51).covers(shapely.LinearRing(mine))
    assert [mask for mask in shared if mask.kind in ("plate", "band")] == [
        mask for mask in every if mask.kind in ("plate", "band")
    ]
    assert len(shared) < len(every)
