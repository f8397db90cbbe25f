"""Spikes against the shell: measured on files written and read back, with other tools than those that made them."""

import io
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from scipy.optimize import brentq
from spiked import Plate, ball, dome, spike

from shellgen.dome.surfaces import plan
from shellgen.errors import FitError
from shellgen.export import stl
from shellgen.geom import loops
from shellgen.model import SpikeShape
from shellgen.spikes import boolean, fit, place, solids
from shellgen.spikes.body import make
from shellgen.spikes.groups import Group

GLUE = 0.1
CONE = SpikeShape("cone", 40, 40, 60, 5)


def written(solid):
    """The solid as another program reads its STL."""
    return trimesh.load(io.BytesIO(stl.write(solid)), file_type="stl")


@pytest.fixture(scope="module")
def shell():
    """A whole dome set with cones, horns that lean, studs and ridged cones."""
    surface, layout, mesh = dome()
    groups = (
        Group(profile="cone", base_diameter=40.0, height=50.0, tip_radius=6.0),
        Group(profile="horn", plates=("ring1",), lean=np.radians(20), towards="rim", base_diameter=36.0, height=50.0),
        Group(profile="ridged", plates=("ring2",), twist=0.5, base_width=30.0),
        Group(profile="stud", plates=("ring3",), base_diameter=24.0, height=9.0),
    )
    spikes, findings = place.build(surface, mesh, layout, groups)
    made = tuple(master.solid for master in solids.masters(surface, spikes, glue_line=GLUE))
    return surface, layout, mesh, spikes, findings, made


def patch(surface, spike):
    """The shell's outer face round a spike as fine triangles."""
    side = np.linspace(-0.12, 0.12, 41)
    u, v = np.meshgrid(spike.uv[0] + side, spike.uv[1] + side, indexing="ij")
    uv = np.column_stack([u.ravel(), v.ravel()])
    k = np.arange(40)[:, None] * 41 + np.arange(40)
    a, b, c, d = (x.ravel() for x in (k, k + 41, k + 42, k + 1))
    inside = np.hypot(*uv.T) <= 1
    uv = uv / np.maximum(1, np.hypot(*uv.T))[:, None]
    faces = np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    return trimesh.Trimesh(surface.points(uv), faces[inside[faces].all(axis=1)], process=False)


def underside(mesh):
    """Faces of a written spike that are its base: those reached from the lowest downward face without a sharp edge."""
    smooth = mesh.face_adjacency[mesh.face_adjacency_angles < np.radians(35)]
    labels = trimesh.graph.connected_component_labels(smooth, node_count=len(mesh.faces))
    middle = np.linalg.norm(mesh.triangles_center[:, :2], axis=1) + 1e3 * (mesh.face_normals[:, 2] > -0.5)
    return labels == labels[np.argmin(middle)]


def test_every_written_spike_is_one_closed_solid(shell):
    for solid in shell[5]:
        mesh = written(solid)
        assert mesh.is_watertight and mesh.is_winding_consistent and mesh.volume > 0 and mesh.body_count == 1
        assert mesh.volume == pytest.approx(solids.volume(solid), rel=1e-5)
        made = boolean.manifold(solid)
        assert made.genus() == 0 and made.volume() == pytest.approx(solids.volume(solid), rel=1e-9)


def test_gap_under_every_written_spike(shell):
    """At most 0.3 mm between the base of the STL, set where the spike stands, and the shell."""
    surface, _, _, spikes, _, made = shell
    by_name = {solid.name: written(solid) for solid in made}
    assert len(made) < len(spikes)
    worst = 0.0
    for one in spikes:
        mesh = by_name[one.master]
        faces = mesh.faces[underside(mesh)]
        assert mesh.area_faces[underside(mesh)].sum() > 0.9 * np.pi / 4 * one.shape.diameter * one.shape.width
        places = np.vstack([mesh.vertices[np.unique(faces)], mesh.vertices[faces].mean(axis=1)])[::5]
        distance = trimesh.proximity.closest_point(patch(surface, one), fit.to_shell(one.frame, places))[1]
        worst = max(worst, distance.max())
    assert 0 < worst <= 0.3


def test_base_curve_by_cutting_the_written_spike_with_the_written_dome(shell):
    """The spike's side, written down past the shell, less the dome's facets: the sharp edge that is left."""
    surface, _, _, spikes, _, _ = shell
    for one in spikes[::5]:
        low = -12.0
        side = written(solids.stump("side", solids.make(one.shape), one.tilt, low))
        side.apply_transform(one.frame)
        sheet = patch(surface, one)
        under = trimesh.Trimesh(
            sheet.vertices - 30 * surface.normals(one.uv[None])[0], sheet.faces[:, ::-1], process=False
        )
        rim = [edge for edge in sheet.edges[trimesh.grouping.group_rows(sheet.edges_sorted, require_count=1)]]
        count = len(sheet.vertices)
        wall = [f for a, b in rim for f in ((b, a, a + count), (b, a + count, b + count))]
        slab = trimesh.Trimesh(
            np.vstack([sheet.vertices, under.vertices]),
            np.vstack([sheet.faces, under.faces + count, wall]),
            process=False,
        )
        slab.remove_unreferenced_vertices()
        above = trimesh.boolean.difference([side, slab], engine="manifold")
        above = max(above.split(), key=lambda part: part.volume)
        above.apply_transform(np.linalg.inv(one.frame))
        face = underside(above)
        edges = above.face_adjacency_edges[face[above.face_adjacency[:, 0]] != face[above.face_adjacency[:, 1]]]
        length = np.linalg.norm(np.diff(above.vertices[edges], axis=1), axis=2).sum()
        assert length == pytest.approx(loops.length(one.base_curve), abs=0.5)


def test_base_curve_lies_on_shell_and_on_side(shell):
    surface, _, _, spikes, _, _ = shell
    for one in spikes:
        assert surface.points(one.seat_uv) == pytest.approx(one.base_curve, abs=1e-6)
        own = (one.base_curve - one.frame[:3, 3]) @ one.frame[:3, :3]
        assert np.abs(np.linalg.norm(one.flank, axis=1) - 1).max() < 1e-12
        if one.profile == "stud":
            body = solids.make(one.shape)
            s = own[:, 2]
            assert np.hypot(*own[:, :2].T) == pytest.approx(body.radius(s), abs=1e-6)


def test_on_a_ball_the_underside_is_the_ball():
    """V of the fitted cone: the frustum down to the circle of intersection less the ball's cap within it."""
    big, centre = 200.0, 55.0
    surface = ball(big)
    solid = solids.masters(surface, (spike(surface, CONE),), glue_line=0.0)[0].solid
    half = np.arccos(5 / np.hypot(20, centre)) - np.arctan2(centre, 20)
    r = brentq(lambda x: 20 - (np.sqrt(big**2 - x**2) - big) * np.tan(half) - x, 19, 25)
    sink = big - np.sqrt(big**2 - r**2)
    low, end = 5 * np.cos(half), centre + 5 * np.sin(half)
    cap = 5 * (1 - np.sin(half))
    exact = (
        np.pi * (end + sink) * (r**2 + r * low + low**2) / 3
        + np.pi * cap**2 * (15 - cap) / 3
        - np.pi * sink**2 * (3 * big - sink) / 3
    )
    assert solids.volume(solid) == pytest.approx(exact, rel=1.2e-3)  # facets: (2 pi / 96)^2 / 6 and the rounded tip's


def test_spikes_that_share_a_master_agree(shell):
    surface, _, _, spikes, _, _ = shell
    disc = np.array([[0.0, 0], [12, 0], [0, 12], [-12, 0], [0, -12], [7, 7], [-7, 7], [-7, -7], [7, -7]])
    shared = 0
    for name in {s.master for s in spikes}:
        mine = [s for s in spikes if s.master == name]
        assert len({s.shape for s in mine}) == 1
        heights = fit.floors(surface, mine, disc * mine[0].shape.diameter / 24, offset=0.0)
        assert np.ptp(heights, axis=0).max() <= 0.3
        shared += len(mine) > 1
    assert shared >= 3


def test_bases_that_differ_get_their_own_masters():
    surface = ball(60.0)
    on_ball = spike(surface, CONE, name="a")
    assert {x.master for x in fit.share_masters(surface, (on_ball, replace(on_ball, name="c")), tolerance=0.3)} == {
        "cone-40x60-a"
    }
    deep = fit.floors(surface, [on_ball], np.array([[20.0, 0.0]]), offset=0.0)[0, 0]
    assert deep == pytest.approx(np.sqrt(60**2 - 20**2) - 60, abs=1e-6)
    steep = spike(surface, CONE, uv=(0.0, 0.3), lean=0.2, name="d")
    names = [s.master for s in fit.share_masters(surface, (on_ball, steep), tolerance=0.3)]
    assert names == ["cone-40x60-a", "cone-40x60-b"]


def test_the_right_half_mirrors_the_left(shell):
    _, layout, _, spikes, _, _ = shell
    by_plate = {}
    for one in spikes:
        by_plate.setdefault(one.plate, []).append(one)
    flip = np.array([1, -1, 1])
    for plate, mine in by_plate.items():
        for left, right in zip(mine, by_plate[layout.plates[plate].mirror], strict=True):
            assert right.frame[:3, 3] == pytest.approx(flip * left.frame[:3, 3], abs=1e-5)
            assert right.frame[:3, 2] == pytest.approx(flip * left.frame[:3, 2], abs=1e-6)
            assert right.frame[:3, 0] == pytest.approx(flip * left.frame[:3, 0], abs=1e-6)
            assert right.shape == replace(left.shape, twist=-left.shape.twist)
            assert loops.length(right.base_curve) == pytest.approx(loops.length(left.base_curve), abs=1e-4)


def test_one_that_hangs_over_the_rim_does_not_stand():
    surface, uv = ball(60.0), np.array([0.99, 0.0])
    over = replace(spike(Plate(), CONE), frame=place.frame(surface, uv, lean=0.0, towards="rim"), uv=uv)
    assert fit.fitted(surface, [over]) == [None]
    with pytest.raises(FitError, match="spike hangs over the rim"):
        fit.floors(surface, [over], np.array([[-20.0, 0.0], [20.0, 0.0]]), offset=0.0)


def test_a_low_cone_on_a_steep_side_does_not_stand_where_it_runs_out_thin():
    """30 degrees of side on a shell that turns away by nearly as much: its edge would be a feather of under 4 degrees,
    and jump by 10 mm. At half the size the shell turns by less under it. Angles from trimesh's nearest faces."""
    surface = plan.build(plan.Params(536.933, 278.242, 113.562, crown=0.0, keel=8.24557, keel_width=46.45, flare=10.73))
    low, uv = SpikeShape("cone", 52.0, 52.0, 15.0, 1.0), (-0.26934168, 0.480226)
    assert spike(surface, low, uv=uv) is None
    one = spike(surface, replace(low, diameter=24.0, width=24.0, height=7.0, twist=2.385), uv=uv)
    mesh = patch(surface, one)
    across = mesh.face_normals[trimesh.proximity.closest_point(mesh, one.base_curve)[2]]
    down = one.base_curve - one.frame[:3, 3] - 7.0 * one.frame[:3, 2]  # from the tip: the side, but for its rounding
    slope = np.arcsin(-(down * across).sum(axis=1) / np.linalg.norm(down, axis=1))
    assert 20 < np.degrees(slope).min() < 25


def test_the_underside_is_found_from_the_base_on_a_low_cone():
    """The glue line moves its edge by the line over the sine of its slope."""
    surface = ball(200.0)
    one = spike(surface, SpikeShape("cone", 52.0, 52.0, 15.0, 1.0))
    under = fit.undersides(surface, make(one.shape), [[one]], glue_line=GLUE)[0]
    moved = np.linalg.norm(fit.to_shell(one.frame[None], under.points[:1])[0] - one.base_curve, axis=1)
    slope = np.arcsin((surface.normals(one.seat_uv) * one.flank).sum(axis=1))
    assert moved == pytest.approx(GLUE / np.sin(slope), rel=0.02)


def test_the_turning_line_is_a_nick_on_the_side_it_points_to():
    surface = ball(250.0)
    one = spike(surface, CONE, uv=(0.3, 0.2), lean=0.2)
    made = solids.masters(surface, (one,))[0]
    mesh = written(made.solid)
    s = made.under.s[0] + 4.0
    at, opposite = (made.body.points(np.array(s), np.array(a)) for a in (0.0, np.pi))
    depth = -trimesh.proximity.signed_distance(mesh, [at, opposite])
    assert 0.3 < depth[0] < 0.7 and abs(depth[1]) < 0.05
    whole = solids.closed(
        "x", solids.side(made.body, made.under.s), np.array([0, 0, 60.0]), made.under.points[1:], made.under.middle
    )
    nick = solids.volume(whole) - solids.volume(made.solid)
    assert 0 < nick < 3e-4 * solids.volume(whole)
