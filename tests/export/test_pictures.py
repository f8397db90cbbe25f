"""Pictures: what is drawn is where and as large as it says; normals and solids against trimesh."""

import io

import numpy as np
import pytest
import trimesh
from PIL import Image

from shellgen.canvas import Scene, ScenePart
from shellgen.draw.crease import creased
from shellgen.export import _light, _mesh, glb, png

PLAIN = {"scale_bar": False, "size": (400, 300), "views": ("crown",)}


def pixels(data):
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"), float)


def floor(size=200.0):
    corners = size / 2 * np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]])
    return ScenePart("floor", corners, np.array([[0, 1, 2], [0, 2, 3]]), (230, 230, 230))


def test_a_box_has_sharp_edges_and_a_ball_none():
    box = trimesh.creation.box((2, 3, 4))
    points, faces, normals = creased(np.array(box.vertices), np.array(box.faces))
    assert len(points) == 24  # each of 8 corners once for each of its 3 sides
    assert np.abs(normals[faces] - box.face_normals[:, None]).max() < 1e-12
    ball = trimesh.creation.icosphere(3)
    points, faces, normals = creased(np.array(ball.vertices), np.array(ball.faces))
    assert len(points) == len(ball.vertices)
    assert (normals * points).sum(axis=1).min() > 0.999  # radial
    assert np.abs(points[faces] - ball.triangles).max() == 0


def test_solids_and_sheets_are_distinguished():
    ball, box = trimesh.creation.icosphere(1), trimesh.creation.box()
    whole = ScenePart("ball", ball.vertices, ball.faces)
    split = [ScenePart("half", box.vertices, box.faces[:5]), ScenePart("rest", box.vertices, box.faces[5:])]
    cut = ScenePart("cut", *creased(np.array(box.vertices), np.array(box.faces))[:2])  # the same solid, edges split
    assert _mesh.solids([whole, floor(), cut]) == [True, False, True]
    assert _mesh.solids(split) == [True, True]  # two sheets that close into one solid
    assert _mesh.solids([*split, floor()]) == [False, False, False]
    assert ball.is_watertight and box.is_watertight


def test_leaving_out_what_faces_away_changes_no_pixel(monkeypatch):
    knot = trimesh.creation.torus(60, 20)
    scene = Scene("ring", (ScenePart("ring", knot.vertices, knot.faces, (200, 120, 60)), floor()))
    views = {"scale_bar": False, "size": (400, 300), "views": ("three-quarter",)}
    drawn = png.write(scene, **views)
    shown = _light.soup(scene)
    assert 0 < len(shown.shown(shown.corners[..., :2] * (1, -1))) < 0.7 * len(shown.corners)
    monkeypatch.setattr(_light.Soup, "shown", lambda self, flat: np.arange(len(flat)))
    assert np.abs(pixels(drawn) - pixels(png.write(scene, **views))).mean() < 0.05


def test_labels_stand_where_they_belong_and_hide_with_what_they_name():
    scene = Scene("s", (floor(),))
    bare = pixels(png.write(scene, **PLAIN))
    columns = np.flatnonzero(bare[150, :, 0] < 250)
    scale = (columns[-1] - columns[0] + 1) / 200
    at, up = np.array([40.0, -50.0, 0.0]), np.array([0.0, 0.0, 1.0])
    seen = np.abs(pixels(png.write(scene, labels=[png.SceneLabel("HH", at, up)], **PLAIN)) - bare).max(axis=2) > 60
    rows, columns = np.nonzero(seen)
    middle = columns.min() + np.ptp(columns) / 2
    # seen from the crown the head (x) is up and the left (y) is left; words stand on their place
    assert middle == pytest.approx(200 + 50 * scale, abs=2) and rows.max() == pytest.approx(
        np.flatnonzero(bare[:, 200, 0] < 250).mean() - 40 * scale, abs=3
    )
    assert np.array_equal(pixels(png.write(scene, labels=[png.SceneLabel("HH", at, -up)], **PLAIN)), bare)


def test_the_legend_shows_its_colours_in_order():
    colours = ((200, 30, 30), (30, 160, 30), (30, 30, 200))
    image = pixels(png.write(Scene("s", (floor(),)), legend=[(c, "x") for c in colours], caption="c", **PLAIN))
    at = [np.argwhere((image == c).all(axis=2)).mean(axis=0) for c in colours]
    assert at[0][1] < at[1][1] < at[2][1] and max(row for row, _ in at) < 70


def test_without_shade_colours_are_those_of_the_faces():
    image = pixels(png.write(Scene("s", (floor(),)), shade=0.0, **PLAIN))
    assert image[150, 200] == pytest.approx([230, 230, 230], abs=1)


def test_quantised_glb_is_read_at_true_size():
    # trimesh is asked: metres, y up
    box = trimesh.creation.box((300, 200, 100))
    data = glb.write(Scene("s", (ScenePart("box", box.vertices, box.faces),)), quantised=True)
    read = trimesh.load(io.BytesIO(data), file_type="glb")
    assert sorted(read.extents) == pytest.approx([0.1, 0.2, 0.3], abs=2e-5)


def test_sizes_of_spikes_are_drawn_to_scale(monkeypatch):
    from shellgen.draw import pictures
    from shellgen.model import Spike, SpikeShape

    monkeypatch.setattr(pictures, "zone_colours", lambda zones: {})
    frame, ring = np.eye(4), np.zeros((0, 3))
    shapes = [SpikeShape("cone", 40, 40, 50, 5.0), SpikeShape("cone", 20, 20, 30, 4.0)]
    spikes = tuple(
        Spike(f"s{k}", 0, np.zeros(2), frame, 0.0, ring, ring[:, :2], f"m{s.height}", s)
        for k, s in enumerate([shapes[1], shapes[0], shapes[1]])
    )
    scene, words = pictures.spike_chart("x", spikes, ())
    sizes = [np.ptp(part.vertices, axis=0) for part in scene.parts]
    assert [s[2] for s in sizes] == pytest.approx([50, 30], abs=1e-6)  # the tallest first, each once
    assert [s[0] for s in sizes] == pytest.approx([40, 20], rel=0.02)
    assert [w.text for w in words] == ["Ø 40, 50 high\n1 × cone", "Ø 20, 30 high\n2 × cone"]
