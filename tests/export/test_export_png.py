"""Pictures against geometry worked out by hand: outlines, which body is in front, shadows, scale, hidden lines."""

import io

import numpy as np
import pytest
import trimesh
from export_samples import shell
from PIL import Image
from scipy.ndimage import find_objects, label
from scipy.spatial import Delaunay
from test_looking import nearest

from shellgen.canvas import Scene, ScenePart
from shellgen.export import _light, _view, _zbuffer, png

PLAIN = {"scale_bar": False, "size": (400, 300)}


def pixels(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGBA"), float)


def ball(radius: float, at: tuple[float, float, float], colour: tuple[int, int, int], name: str = "ball") -> ScenePart:
    mesh = trimesh.creation.icosphere(subdivisions=4, radius=radius)
    return ScenePart(name, mesh.vertices + at, mesh.faces, colour, vertex_normals=mesh.vertices / radius)


def plate(size: float, z: float, colour: tuple[int, int, int] = (200, 200, 200)) -> ScenePart:
    corners = size / 2 * np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]]) + (0, 0, z)
    return ScenePart("plate", corners, np.array([[0, 1, 2], [0, 2, 3]]), colour)


def test_of_two_crossing_triangles_each_is_seen_where_it_is_nearer() -> None:
    flat = np.array([[[0, 0], [0, 200], [200, 0]], [[0, 0], [0, 200], [200, 0]]], float)
    near = np.array([[0.0, 0.0, 200.0], [80.0, 80.0, 80.0]])  # the first has depth x, the second 80
    seen = nearest(flat, near, (200, 200))
    rows, columns = np.indices(seen.shape)
    inside = rows + columns + 1 < 199.5
    assert (seen[inside & (columns < 79)] == 1).all() and (seen[inside & (columns > 80)] == 0).all()
    assert (seen[rows + columns + 1 > 200.5] == -1).all()


def test_every_sample_of_a_mesh_is_covered_once_whatever_its_edges() -> None:
    rng = np.random.default_rng(5)
    corners = np.vstack([[(0, 0), (64, 0), (64, 48), (0, 48)], rng.uniform((1, 1), (63, 47), (300, 2))])
    triangles = Delaunay(corners).simplices
    for part in (triangles[::2], triangles[1::2]):
        assert (nearest(corners[part], np.zeros((len(part), 3)), (48, 64)) >= 0).any()
    halves = [nearest(corners[p], np.zeros((len(p), 3)), (48, 64)) >= 0 for p in (triangles[::2], triangles[1::2])]
    assert (halves[0] ^ halves[1]).all()


def test_chunks_give_the_same_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = png.write(shell(20, 40), size=(200, 150))
    monkeypatch.setattr(_zbuffer, "_MOST", 500)
    assert png.write(shell(20, 40), size=(200, 150)) == whole


def test_a_ball_covers_the_area_of_its_disc() -> None:
    alpha = (
        pixels(
            png.write(Scene("b", (ball(50, (0, 0, 0), (200, 80, 60)),)), views=("crown",), background=None, **PLAIN)
        )[..., 3]
        / 255
    )
    columns = np.flatnonzero(alpha.max(axis=0) > 0.5)
    radius = (columns[-1] - columns[0] + 1) / 2
    assert alpha.sum() == pytest.approx(np.pi * radius**2, rel=0.01)
    at = np.indices(alpha.shape)[1]
    assert (alpha * at).sum() / alpha.sum() == pytest.approx(199.5, abs=0.5)


def test_the_nearer_ball_hides_the_other_from_either_side() -> None:
    red, blue = ball(50, (0, 0, 40), (220, 30, 30)), ball(50, (20, 0, -40), (30, 30, 220))
    for view, front in (("crown", 0), ("inside", 2)):
        image = pixels(png.write(Scene("b", (red, blue)), views=(view,), **PLAIN))
        middle = image[150, 200]
        assert middle[front] > 2 * middle[2 - front]


def test_the_light_falls_from_above_and_casts_the_shadow_where_it_must() -> None:
    height, scene = 50.0, Scene("s", (plate(300, 0), plate(60, 50)))
    image = pixels(png.write(scene, views=("crown",), **PLAIN))[..., :3].mean(axis=2)
    rows, columns = np.nonzero(image < 250)
    scale, middle = (np.ptp(columns) + 1) / 300, np.array([rows.min() + rows.max(), columns.min() + columns.max()]) / 2

    def here(right: float, up: float) -> float:
        row, column = np.round(middle + scale * np.array([-up, right])).astype(int)
        return image[row, column]

    key = np.array(_light._KEY_FROM)  # right, up, towards the viewer
    x, y = -height * key[:2] / key[2]  # similar triangles
    lit = here(-120, 120)
    assert max(abs(x), abs(y)) > 30  # so that the shadow's middle is not under the lid
    assert all(here(x + a, y + b) < 0.85 * lit for a in (-20, 0, 25) for b in (-25, 0, 20) if max(x + a, -y - b) > 32)
    for a, b in ((36, 0), (0, -36), (36, -36)):
        assert here(x + a, y + b) == pytest.approx(lit, rel=0.02)


def test_a_line_is_drawn_on_the_face_and_hidden_behind_it() -> None:
    floor = plate(200, 0, (230, 230, 230))
    for z, seen in ((0.0, True), (-30.0, False)):
        line = np.array([[-60.0, 0.0, z], [60.0, 0.0, z]])
        image = pixels(png.write(Scene("s", (floor,), (line,)), views=("crown",), **PLAIN))[..., :3].mean(axis=2)
        assert (image[100:200, 190:210].min() < 90) == seen


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    data = png.write(Scene("s", (plate(300, 0, (120, 160, 90)),)), views=("crown",), size=(800, 600))
    image = pixels(data)
    green = np.flatnonzero(image[300, :, 1] > image[300, :, 2] + 20)
    scale = (green[-1] - green[0] + 1) / 300
    dark = image[..., :3].mean(axis=2)[-60:] < 128
    row = dark.sum(axis=1).argmax()
    bar = np.flatnonzero(dark[row])
    longest = max(n for n in (1, 2, 5, 10, 20, 50, 100, 200, 500) if n * scale <= 0.28 * 800)
    assert (bar[-1] - bar[0]) / scale == pytest.approx(longest, rel=0.02)


def test_perspective_makes_near_things_larger_by_the_ratio_of_distances() -> None:
    view = png.View("eye", (0, 0, 1), (1, 0, 0), perspective=True)
    camera = _view.Camera(_view.aim(np.array(view.towards), np.array(view.up)), np.zeros(3), 1000.0)
    near, far = (camera.project(np.array([[0.0, -50.0, z]]))[0][0, 0] for z in (200.0, -300.0))
    assert near / far == pytest.approx(1300 / 800)
    image = pixels(
        png.write(
            Scene("b", (ball(30, (0, -60, 0), (200, 0, 0)), ball(30, (0, 60, 150), (0, 0, 200)))),
            views=(view,),
            **PLAIN,
        )
    )
    red, blue = ((image[..., k] > image[..., 2 - k] + 40).sum() for k in (0, 2))
    assert blue > 1.3 * red


def test_ground_points_are_seen_where_they_were_asked_for() -> None:
    for distance in (np.inf, 900.0):
        axes = _view.aim(np.array([0.5, 1.0, 0.8]), np.array([0.0, 0.0, 1.0]))
        camera = _view.Camera(axes, np.array([3.0, 4.0, 5.0]), distance, 2.5, (200.0, 150.0))
        columns, rows = np.array([10.5, 200.0, 390.5]), np.array([20.5, 150.0, 290.5])
        points = camera.onto(columns, rows, -7.0)
        assert points[:, 2] == pytest.approx(-7.0)
        assert np.allclose(camera.project(points)[0], np.column_stack([columns, rows]))


def test_views_share_one_scale_and_do_not_touch() -> None:
    views = ("three-quarter", "crown", "left side", "head end")
    image = pixels(png.write(shell(20, 40), views=views, size=(800, 600), caption="Marsh Warden", scale_bar=False))
    assert image.shape == (600, 800, 4)
    shown = image[..., :3].min(axis=2) < 200
    boxes = find_objects(label(shown)[0])
    sizes = [tuple(s.stop - s.start for s in box) for box in boxes]
    bodies = sorted((s for s in sizes if min(s) > 60), key=max)
    assert len(bodies) == 4
    widths = sorted(b[1] for b in bodies)
    assert widths[0] == pytest.approx(widths[1], abs=6)  # the dome is as wide from the head end as on its crown
    assert any(abs(b[0] - widths[-1]) < 60 for b in bodies)


def test_a_clear_background_stays_clear() -> None:
    image = pixels(png.write(shell(20, 40), background=None, size=(200, 150)))
    assert image[0, 0, 3] == 0 and image[75, 100, 3] == 255
    assert Image.open(io.BytesIO(png.write(shell(20, 40), size=(200, 150)))).mode == "RGB"


def test_pictures_repeat_and_empty_scenes_are_refused() -> None:
    assert png.write(shell(20, 40), size=(200, 150)) == png.write(shell(20, 40), size=(200, 150))
    with pytest.raises(ValueError, match="empty"):
        png.write(Scene("nothing", ()))
