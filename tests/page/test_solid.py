"""The blobs that the page's viewer reads: pieces on their way, the chart of the shade, light spikes, colours."""

import browsers
import drawn
import numpy as np
import pytest
import shapely
import trimesh
from browsers import unpacked
from scipy import ndimage
from scipy.spatial.transform import Rotation

from shellgen.draw import light_spikes
from shellgen.page import solid


@pytest.fixture(scope="module")
def shell():
    return browsers.toad()


def foam(of):
    return solid.pieces(of.ground, of.foam, of.proof, of.top.spikes, of.paint, drawn.scene_of(of))


def test_pieces_go_from_flat_templates_to_the_virtual_build(shell):
    data = unpacked(foam(shell))
    built = shell.proof.formed.points
    step = np.abs(built).max() / 32767  # places are stored in 16 bits
    assert data["points"] == pytest.approx(built, abs=step)
    for piece, flat, told in zip(shell.foam.cut.pieces, shell.foam.pattern.flats, data["pieces"], strict=True):
        way = told["way"]
        yaw, tilt = np.array(way["yaw"]), Rotation.from_rotvec(way["tilt"]).as_matrix()
        lying = np.column_stack([way["lying"], np.zeros(len(way["lying"]))])
        sides = np.linalg.norm(lying - lying[0], axis=1)
        assert sides == pytest.approx(np.linalg.norm(flat.flat - flat.flat[0], axis=1), abs=0.1)
        there = data["points"][told["shell"].astype(int)]
        back = (there - way["there"]) @ (tilt @ yaw)  # the viewer undoes the turns
        assert (lying @ yaw.T)[:, 2] == pytest.approx(0, abs=1e-3)
        # Forming changes the foam by a few per cent, so a piece at rest and its template are near the same size
        assert np.linalg.norm(back[:, :2], axis=1).max() == pytest.approx(np.linalg.norm(lying, axis=1).max(), rel=0.1)
        assert told["name"] == piece.name


def test_the_chart_of_the_shade_says_what_the_finer_mesh_says(shell):
    """Read between its pixels at every corner and in the middle of every triangle, where neither tone is mistaken; but
    under the spikes, where nobody paints."""
    told = unpacked(foam(shell))
    shading, uv = shell.paint.shading, shell.ground.mesh.uv
    assert told["disc"] == pytest.approx(uv, abs=1 / 32767)
    for ends in shading.ends:
        uv = np.vstack([uv, uv[ends].mean(axis=1)])
    at, shade = (np.vstack([v, v[shading.faces].mean(axis=1)]) for v in (uv, shading.shade[:, None]))
    feet = shapely.union_all([shapely.polygons(spike.seat_uv) for spike in shell.top.spikes])
    under, bare = (shapely.contains_xy(feet.buffer(wide / solid.CHART), at) for wide in (0, -2 * (solid.UNDER + 1)))
    place = (at[:, ::-1].T + 1) * solid.CHART / 2 - 0.5
    read = ndimage.map_coordinates(told["shade"]["chart"].astype(float), place, order=1, mode="nearest")
    wanted = 255 * np.clip(shade[:, 0] / (solid.DEEPEST * shading.levels[1]), 0, 1)
    assert bare.any() and (read[bare] == 0).all()
    off = np.abs(read - wanted)[~under]
    assert off.mean() < 2 and np.quantile(off, 0.99) < 20
    for level, was in zip(told["shade"]["levels"], shading.levels, strict=True):
        differ = ((read >= 255 * level) != (shade[:, 0] >= was))[~under]
        assert 0 < (shade[:, 0] >= was).mean() < 1 and differ.mean() < 0.02


def test_light_spikes_are_those_that_are_printed(shell):
    # trimesh is asked for volumes; the foot of the light ones is sunk 3 mm, that of the others cut to the shell
    whole = {m.name: trimesh.Trimesh(m.vertices, m.faces, process=False) for m in shell.top.masters}
    for solid_ in light_spikes.light(shell.top.spikes):
        seen = trimesh.Trimesh(solid_.vertices, solid_.faces, process=False)
        assert seen.is_watertight and len(seen.faces) < len(whole[solid_.name].faces) / 3
        above = seen.slice_plane((0, 0, 4.0), (0, 0, 1), cap=True)
        same = whole[solid_.name].slice_plane((0, 0, 4.0), (0, 0, 1), cap=True)
        assert above.volume == pytest.approx(same.volume, rel=0.02)
        assert seen.bounds[1, 2] == pytest.approx(whole[solid_.name].bounds[1, 2], abs=1e-6)


def test_neighbours_differ_in_colour_and_mirror_images_agree(shell):
    tint = solid.tints(shell.foam.cut)
    for seam in shell.foam.cut.seams:
        (one, _), (other, _) = seam.sides
        assert one == other or tint[one] != tint[other], seam.name
    assert len(set(tint)) > 3
    assert all(0 <= t < solid.TINTS for t in tint)


def test_the_edging_lies_on_the_rim_of_the_virtual_build(shell):
    scene = drawn.scene_of(shell)
    told = unpacked(solid.standing(shell.ground.mesh, shell.foam.pattern, shell.proof.formed, shell.paint.zones, scene))
    parts = [part for part in told["parts"] if part["zone"] == "rim"]
    assert [part["name"] for part in parts] == [piece.name for piece in shell.trim.edging.pieces]
    rim = shell.proof.formed.points[shell.ground.mesh.rim]
    meshes = [trimesh.Trimesh(part["vertices"], part["faces"].reshape(-1, 3), process=False) for part in parts]
    apart = np.min([mesh.nearest.on_surface(rim)[1] for mesh in meshes], axis=0)
    assert apart.max() < 0.5
    painted = next(zone for zone in shell.paint.zones if zone.name == "rim")
    assert all(tuple(part["looks"]["finished"]) == painted.rgb for part in parts)
