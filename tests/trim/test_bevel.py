"""The edging in 3-D: closed pieces, their volume against Pappus' theorem, their place on the rim, mirror images."""

from dataclasses import replace

import drawn
import numpy as np
import pytest
import shapely
import trimesh
from spiked import ball
from test_edging import Boxy, oval

from shellgen.dome.surfaces import plan
from shellgen.draw.pictures import exploded
from shellgen.draw.shell_scene import FOAM, shell_scene
from shellgen.geom import loops
from shellgen.model import FoamSheet
from shellgen.trim import bevel, edging

FOAM_10 = FoamSheet(10.0)
BENT = plan.build(plan.Params(squareness=0.3, taper=-0.14, flare=18.0))
CASES = {
    "ball": (ball(250.0), edging.Params()),
    "oval": (oval(600.0, 400.0), edging.Params(width=24.0, thickness=8.0, stock=500.0)),
    "bent": (BENT, edging.Params()),
    "whole": (BENT, edging.Params(stock=2000.0)),
    "corners": (Boxy(16.0), edging.Params(stock=2000.0)),
}


def of(case, foam=FOAM_10):
    surface, params = CASES[case]
    made = edging.build(surface, params, foam)
    return surface, params, made, bevel.build(surface, made, params, foam)


@pytest.mark.parametrize("case", CASES)
def test_every_piece_is_closed_and_together_they_have_the_volume_of_pappus(case):
    """The section's area times the way of its centroid, which is 2 pi / 3 times its height longer than a flat rim. A
    chord is at most OFF off the curve, so the volume is wrong by less than OFF times the surface."""
    surface, params, made, solids = of(case)
    assert [solid.name for solid in solids] == [piece.name for piece in made.pieces]
    meshes = [trimesh.Trimesh(solid.vertices, solid.faces, process=False) for solid in solids]
    assert all(mesh.is_watertight and mesh.is_winding_consistent for mesh in meshes)
    edge, normals = edging.rim(surface, FOAM_10)
    aside, speed = loops.curvatures(edge, normals)[0], loops.speed(edge)
    way = (1 + aside * params.thickness / 3) @ speed * 2 * np.pi / len(edge)
    volume = sum(mesh.volume for mesh in meshes)
    assert abs(volume - params.width * params.thickness / 2 * way) < bevel.OFF * sum(mesh.area for mesh in meshes)
    assert volume == pytest.approx(params.width * params.thickness / 2 * way, rel=2e-3)


def test_a_round_rim_has_the_volume_that_pappus_wrote_down():
    *_, solids = of("ball")
    volume = sum(trimesh.Trimesh(solid.vertices, solid.faces, process=False).volume for solid in solids)
    # Half of 20 x 10 round a circle of 245; the rim stands upright, so the centroid hangs below it at the same radius
    assert volume == pytest.approx(100 * 2 * np.pi * 245, rel=1e-3)


@pytest.mark.parametrize("case", CASES)
def test_the_broad_face_lies_on_the_edge_of_the_foam_all_round(case):
    """Every point of the rim, on both faces of the foam and between, touches the solids; nothing is pushed in."""
    surface, _, _, solids = of(case)
    turn = np.linspace(0, 2 * np.pi, 3000)
    uv = np.column_stack([np.cos(turn), np.sin(turn)])
    apart = []
    for depth in (0.0, -5.0, -10.0):
        at = surface.points(uv, offset=depth)
        near = [trimesh.Trimesh(s.vertices, s.faces, process=False).nearest.on_surface(at)[1] for s in solids]
        apart.append(np.min(near, axis=0))
    assert np.max(apart) < 1.5 * bevel.OFF


def test_the_section_stands_out_as_the_preset_says():
    surface, params, _, solids = of("bent")
    edge, normals = edging.rim(surface, FOAM_10)
    outward = loops.frames(edge, normals)[1]
    for solid in solids:
        corners = solid.vertices.reshape(-1, 3, 3)
        near = np.linalg.norm(corners[:, None, 1] - edge - params.thickness * outward, axis=2).argmin(axis=1)
        for corner, (across, out) in enumerate(((10, 0), (0, 10), (-10, 0))):
            away = corners[:, corner] - edge[near]
            assert (away * normals[near]).sum(axis=1) == pytest.approx(across, abs=0.06)
            assert (away * outward[near]).sum(axis=1) == pytest.approx(out, abs=0.06)


@pytest.mark.parametrize("case", CASES)
def test_pieces_on_either_side_are_mirror_images(case):
    *_, solids = of(case)
    points = np.concatenate([solid.vertices for solid in solids])
    other = points * (1, -1, 1)
    if case == "whole":  # its only joint is on one side, so its sides are others there
        meshes = [trimesh.Trimesh(solid.vertices, solid.faces, process=False) for solid in solids]
        assert meshes[0].nearest.on_surface(other)[1].max() < 2 * bevel.OFF
    else:
        assert np.linalg.norm(points[:, None] - other[None], axis=2).min(axis=1).max() < 1e-4


def test_a_corner_is_cut_at_half_its_turn():
    """Where two pieces meet their ends coincide, in the plane that halves the corner: the diagonal of this square."""
    *_, solids = of("corners")
    assert len(solids) == 4
    for one, next_ in zip(solids, (*solids[1:], solids[0]), strict=True):
        end, start = one.vertices[-3:], next_.vertices[:3]
        assert end == pytest.approx(start, abs=1e-6)
        assert np.abs(np.abs(end[:, 0]) - np.abs(end[:, 1])).max() < 0.1
    ridge = shapely.polygons(np.concatenate([s.vertices[1:-3:3, :2] for s in solids]))
    assert ridge.is_simple


@pytest.mark.parametrize("name", drawn.DEMOS)
def test_the_scene_has_the_edging_on_the_foam_of_every_demo(name):
    shell = drawn.shell(name)
    scene = drawn.scene_of(shell)
    parts = [part for part in scene.parts if part.zone == "rim" and not part.name.startswith(FOAM)]
    assert [part.name for part in parts] == [piece.name for piece in shell.trim.edging.pieces]
    edge = next(part for part in scene.parts if part.name == "shell-edge")
    meshes = [trimesh.Trimesh(part.vertices, part.faces, process=False) for part in parts]
    apart = np.min([mesh.nearest.on_surface(edge.vertices)[1] for mesh in meshes], axis=0)
    assert apart.max() < 1.5 * bevel.OFF
    bare = shell_scene(name, shell.ground, shell.foam.thickness, shell.top.spikes, shell.trim.rings.rings, ())
    assert {part.name for part in scene.parts} - {part.name for part in bare.parts} == {part.name for part in parts}


def test_taken_apart_the_edging_lies_below_the_foam_in_its_pieces():
    shell = drawn.shell("marsh-warden")
    rings, spikes = shell.trim.rings.rings, shell.top.spikes
    scene, names = exploded(shell.name, shell.ground, shell.foam, spikes, rings, drawn.scene_of(shell))
    pieces = {part.name: part.vertices for part in scene.parts if part.zone == "rim"}
    assert list(pieces) == [piece.name for piece in shell.trim.edging.pieces]
    assert {name.text for name in names} == {*pieces, *(piece.name for piece in shell.foam.cut.pieces)}
    front, rear = pieces["edging-front"], pieces["edging-rear"]
    assert front[:, 0].min() > rear[:, 0].max()
    assert max(front[:, 2].max(), rear[:, 2].max()) < shell.ground.mesh.points[:, 2].min()


def test_more_stock_makes_a_larger_section():
    surface, params, _, _ = of("bent")
    wider = replace(params, width=30.0, thickness=15.0)
    solids = bevel.build(surface, edging.build(surface, wider, FOAM_10), wider, FOAM_10)
    sides = np.linalg.norm(np.diff(solids[0].vertices[:3], axis=0, append=solids[0].vertices[:1]), axis=1)
    assert sides == pytest.approx([np.hypot(15, 15), np.hypot(15, 15), 30.0], abs=1e-3)
