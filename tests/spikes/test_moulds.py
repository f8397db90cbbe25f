"""Moulds, prints, cores and clay."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold
from spiked import Plate, ball, shapes, spike
from test_spike_fit import written

from shellgen.model import SpikeShape
from shellgen.spikes import boolean, casting, core, mould, printing, solids
from shellgen.spikes.making import Mould, Params, Printer

SHAPES = shapes()
SHAPES |= {"horn": replace(SHAPES["horn"], width=32.0), "stud": replace(SHAPES["stud"], height=14.0)}
SURFACE = ball(250.0)


def masters(shape, lean=0.2):
    return solids.masters(SURFACE, (spike(SURFACE, shape, uv=(0.2, 0.3), lean=lean),))


@pytest.fixture(scope="module", params=SHAPES)
def cast(request):
    made = masters(SHAPES[request.param])
    return made, mould.press_mould(request.param, made, Mould())


def test_halves_foot_and_spike_rebuild_the_block(cast):
    made, press = cast
    parts = sum(solids.volume(part) for part in (*press.halves, *press.feet, made[0].solid))
    assert parts == pytest.approx(press.block, rel=0.005)
    assert parts < press.block


def test_every_part_is_one_closed_solid(cast):
    for part in (*cast[1].halves, *cast[1].feet):
        mesh = written(part)
        assert mesh.is_watertight and mesh.is_winding_consistent and mesh.volume > 0 and mesh.body_count == 1
        assert boolean.manifold(part).genus() in (0, 1)


def test_the_written_mould_closes_on_its_keys_and_round_the_spike(cast):
    made, press = cast
    left, right, foot = (boolean.manifold(part) for part in (*press.halves, *press.feet))
    turn = mould.upright(made[0].tilt)
    set_up = replace(made[0].solid, vertices=made[0].solid.vertices @ turn.T)
    whole = boolean.manifold(set_up)
    assert (left ^ right).volume() < 1e-6
    for part in (left, right):
        assert (part ^ whole).volume() < 2.0  # mm3: facets only
    assert 1.0 < (foot ^ whole).volume() < 10.0  # the turning line, pressed into the clay
    assert (left ^ foot).volume() + (right ^ foot).volume() < 1e-6


def test_the_spike_leaves_each_half(cast):
    assert cast[1].draws and cast[1].locked < 1.0


def test_an_undercut_locks():
    """Many deep ridges: their flanks turn back on the way out. A bead round a plain cone locks as well."""
    deep = mould.press_mould("x", masters(replace(SHAPES["ridged"], ridges=12, ridge_depth=0.3)), Mould())
    assert not deep.draws and deep.locked > 100
    twisted = mould.press_mould("x", masters(replace(SHAPES["ridged"], ridge_depth=0.3, twist=2.0)), Mould())
    assert not twisted.draws
    said = mould.findings({"x": deep})
    assert said[0].level == "caution" and "lock" in said[0].text
    block = Manifold.cube((40, 20, 40)).translate((-20, 0, -20))
    ball_in = Manifold.sphere(10, 64)
    half_way, deeper = ball_in, ball_in.translate((0, 6, 0))
    assert mould.locked_volume(block - half_way, half_way.trim_by_plane((0, 1, 0), 0), 1) < 1e-6
    assert mould.locked_volume(block - deeper, deeper.trim_by_plane((0, 1, 0), 0), 1) > 50


def test_shrinkage_scales_master_and_mould():
    made = masters(SHAPES["cone"])
    plain, larger = casting.build(made, Params()), casting.build(made, Params(shrinkage=0.05))
    assert [p.role for p in plain.prints] == ["master", "half-a", "half-b", "foot"]
    ratio = larger.prints[0].volume / plain.prints[0].volume
    assert ratio == pytest.approx(1 / 0.95**3, rel=1e-9)
    assert larger.clay.wet / larger.clay.dry == pytest.approx(1 / 0.95**3, rel=1e-12)
    assert larger.clay.dry == pytest.approx(solids.volume(made[0].solid), rel=1e-12)
    assert any("test cube" in f.text for f in plain.findings) and not any(
        "test cube" in f.text for f in larger.findings
    )


def test_prints_lie_on_the_bed_and_say_how_steep_they_are():
    printer = Printer()
    whole = printing.masters(masters(SHAPES["cone"], lean=0.0), printer)
    assert len(whole) == 1 and whole[0].solid.vertices[:, 2].min() == pytest.approx(0, abs=1e-9)
    assert whole[0].overhang == 0.0  # a cone has no face that looks down, but its base
    assert whole[0].plastic_g < whole[0].volume * printer.density / 1000
    halves = printing.masters(masters(SHAPES["horn"]), printer)
    assert [p.lies for p in halves] == ["lying on its cut"] * 2
    for part in halves:
        mesh = written(part.solid)
        assert mesh.is_watertight and mesh.body_count == 1
        assert np.degrees(part.overhang) < 50
    together = sum(p.volume for p in halves)
    holes = 2 * np.pi * 1.6**2 * (6 + 3)  # the upper one is shallow: there is less room
    assert together == pytest.approx(solids.volume(masters(SHAPES["horn"])[0].solid) - holes, rel=2e-3)


def test_a_slender_half_has_a_shallow_hole_or_says_that_it_has_none():
    ridged = SpikeShape("ridged", 22, 22, 40, 5, ridges=8, ridge_depth=0.14)
    flat = Printer(bed_z=60.0, overhang=np.radians(20))
    for width, pins in ((22.0, 1), (10.0, 0)):
        shape = replace(ridged, diameter=width, width=width, tip_radius=3.0)
        halves = printing.masters(masters(shape, lean=0.5), flat)
        assert [part.pins for part in halves] == [pins, pins]
        assert bool(printing.unpinned(halves)) == (pins == 0)


def test_overhang_is_that_of_a_known_block():
    """A block leaning by 30 degrees has one face that overhangs by 30."""
    box = trimesh.creation.box((10, 10, 40))
    box.apply_transform(
        trimesh.transformations.shear_matrix(np.arctan(np.tan(np.radians(30))), (1, 0, 0), (0, 0, 0), (0, 0, 1))
    )
    box.apply_translation(-box.bounds[0])
    solid = solids.Solid("box", np.array(box.vertices), np.array(box.faces))
    assert np.degrees(printing.overhang(solid)) == pytest.approx(30, abs=1e-6)


def test_one_too_large_for_the_bed_is_split_and_pinned():
    tall = SpikeShape("cone", 60, 60, 250, 6)
    made = masters(tall, lean=0.0)
    halves = printing.masters(made, Printer(bed_x=260.0, bed_y=260.0, bed_z=200.0))
    assert len(halves) == 2 and all(p.fits for p in halves)
    quarters = printing.masters(made, Printer(bed_x=150.0, bed_y=150.0, bed_z=150.0))
    assert len(quarters) == 4 and all(p.fits for p in quarters)
    for part in quarters:
        mesh = written(part.solid)
        assert mesh.is_watertight and mesh.body_count == 1
    assert sum(p.volume for p in quarters) == pytest.approx(solids.volume(made[0].solid), rel=0.01)


def test_a_core_is_the_frustum_of_the_handbook():
    """R 30, r 10, h 40 at the sheet's middle: 160.996894 degrees, radii 67.082039 and 22.360680, V 54454.2727."""
    plate = Plate()
    under = solids.masters(plate, (spike(plate, SpikeShape("cone", 60, 60, 80, 5)),), glue_line=0.0)[0].under
    made = core._rolled(under, 30.0, 10.0, 40.0, 1e-9, 1.0)
    assert np.degrees(made.angle) == pytest.approx(160.996894, abs=1e-6)
    reach = np.linalg.norm(made.outline, axis=1)
    assert [reach.max(), reach.min()] == pytest.approx([67.082039, 22.360680], abs=1e-6)
    assert made.volume == pytest.approx(54454.2727, abs=1e-3)


def test_cores_stay_inside_and_save_clay():
    for shape in (shape for shape in SHAPES.values() if not shape.bend):
        made = masters(replace(shape, diameter=60, width=60, height=80), lean=0.0)
        found = core.core(made[0], thickness=3.0, clay=7.0)
        assert found is not None and found.top >= core.NARROWEST * 3
        solid = boolean.manifold(made[0].solid)
        inner = Manifold.cylinder(found.height, found.bottom, found.top, 96)
        assert (inner - solid).volume() < 0.1 * np.pi * found.bottom**2  # the glue line of 0.1 mm
        wall = trimesh.proximity.signed_distance(
            written(made[0].solid), [[found.top, 0, found.height], [0, found.top, found.height]]
        )
        assert wall.min() > 5.5
        saved = casting.build(made, Params(moulds=False, core=3.0))
        assert saved.clay.wet == pytest.approx(solids.volume(made[0].solid) - found.volume)
    assert core.core(masters(SHAPES["horn"])[0], thickness=3.0, clay=7.0) is None
    assert core.core(masters(SHAPES["stud"])[0], thickness=3.0, clay=7.0) is None


def test_a_leaning_cores_foot_follows_the_shell():
    """Rolled up again, the foot of the developed core lies on the shell."""
    made = masters(replace(SHAPES["cone"], diameter=60, width=60, height=80), lean=0.25)[0]
    found = core.core(made, thickness=3.0, clay=7.0)
    foot, _ = np.split(found.outline, 2)
    half = np.arctan2(found.bottom - found.top, found.height)
    slant = np.linalg.norm(foot, axis=1)
    inward = 1.5 / np.cos(half)
    height = (found.bottom - inward) / np.tan(half) - slant * np.cos(half)
    assert np.ptp(height) == pytest.approx(2 * found.bottom * np.tan(0.25), rel=0.12)
    turn = np.linspace(0, 2 * np.pi, len(foot))
    outer = found.bottom - height * np.tan(half)
    places = np.column_stack([outer * np.cos(turn), outer * np.sin(turn), height])
    distance = trimesh.proximity.closest_point(written(made.solid), places)[1]
    assert distance.max() < 0.1
