"""Openness against closed forms: the error is bounded and shrinks; and meshes cut and coarsened."""

from pathlib import Path

import numpy as np
import pytest
import trimesh
import yaml

from shellgen.geom import isolines, occlusion, scan_conversion, subdivision, vertex_clustering
from shellgen.geom.triangles import areas

ROWS = {r["id"]: r for r in yaml.safe_load((Path(__file__).parents[1] / "published/paint.yaml").read_text("utf-8"))}
UP = np.array([[0.0, 0.0, 1.0]])


def sheet(*corners):
    a, b, c, d = np.array(corners, float)
    return np.array([[a, b, c], [a, c, d]])


def bottom(*walls, x=0.0, y=0.0, axes=128, pixel=1.0):
    return float(occlusion.openness(np.array([[x, y, 0.0]]), UP, np.concatenate(walls), axes=axes, pixel=pixel)[0])


def slanted(angle, side, size=40.0, long=150.0):
    """One side of a V groove along y."""
    x, z = side * size * np.sin(angle), size * np.cos(angle)
    return sheet((0, -long, 0), (0, long, 0), (x, long, z), (x, -long, z))


@pytest.mark.parametrize("half", [30, 45, 60])
def test_bottom_of_a_groove(half):
    walls = [slanted(np.radians(half), side) for side in (1, -1)]
    assert ROWS[f"groove-{half}"]["value"] == pytest.approx(np.sin(np.radians(half)), abs=1e-6)
    assert bottom(*walls, pixel=0.8) == pytest.approx(ROWS[f"groove-{half}"]["value"], abs=0.035)


def test_floor_beside_a_wall():
    """A wall h high at a distance x hides (1 - x / sqrt(x2 + h2)) / 2, half of the sky at its very foot."""
    h = 60.0
    wall = sheet((0, -500, 0), (0, 500, 0), (0, 500, h), (0, -500, h))
    for x, pixel in ((3.0, 1.0), (20.0, 2.0), (60.0, 2.0)):
        assert bottom(wall, x=x, pixel=pixel) == pytest.approx(1 - (1 - x / np.hypot(x, h)) / 2, abs=0.03)
    assert bottom(wall, x=1.5, pixel=1.0) == pytest.approx(ROWS["corner-two"]["value"], abs=0.02)


def test_corner_of_three_planes():
    one = sheet((0, -200, 0), (0, 200, 0), (0, 200, 200), (0, -200, 200))
    other = sheet((-200, 0, 0), (200, 0, 0), (200, 0, 200), (-200, 0, 200))
    found = bottom(one, other, x=2.0, y=2.0, pixel=1.5)
    assert found == pytest.approx(ROWS["corner-three"]["value"], abs=0.02)


@pytest.mark.parametrize(("name", "depth"), [("slot-1-2", 0.5), ("slot-1-1", 1.0), ("slot-2-1", 2.0)])
def test_floor_of_a_slot(name, depth):
    row, w = ROWS[name], 20.0
    assert occlusion.slot(1.0, depth) == pytest.approx(row["value"], abs=row["tolerance"])
    walls = [sheet((x, -200, 0), (x, 200, 0), (x, 200, w * depth), (x, -200, w * depth)) for x in (-w / 2, w / 2)]
    assert bottom(*walls, pixel=0.8) == pytest.approx(row["value"], abs=0.04)


def ball(radius, finer=3):
    return trimesh.creation.icosphere(subdivisions=finer, radius=radius)


@pytest.mark.parametrize("name", ["bowl-90", "bowl-60"])
def test_everywhere_inside_a_bowl(name):
    whole, angle = ball(50.0, 4), np.radians(int(name[-2:]))
    low = whole.triangles_center[:, 2] < -50 * np.cos(angle)
    inside = whole.vertices[whole.vertices[:, 2] < -50 * np.cos(angle) - 3][::40]
    off = [
        occlusion.openness(0.999 * inside, -inside / 50, whole.triangles[low], axes=axes, pixel=pixel)
        - ROWS[name]["value"]
        for axes, pixel in ((32, 3.0), (96, 1.0))
    ]
    assert abs(off[1].mean()) < abs(off[0].mean()) and abs(off[1].mean()) < 0.02
    assert np.abs(off[1]).max() < 0.06


def test_ball_over_a_plane_and_the_error_shrinks():
    """A ball of angular radius d, its middle at t from the normal, hides cos t sin2 d."""
    tilt, turn = np.meshgrid(np.radians([0.0, 20, 35, 50, 60]), np.arange(8.0))
    tilt, turn = tilt.ravel(), turn.ravel()
    normals = np.stack([np.sin(tilt) * np.cos(turn), np.sin(tilt) * np.sin(turn), np.cos(tilt)], axis=1)
    above, errors = ball(10.0, 3).triangles + np.array([0, 0, 30.0]), []
    for axes, pixel in ((24, 2.0), (96, 1.0), (384, 0.5)):
        hidden = 1 - occlusion.openness(np.zeros_like(normals), normals, above, axes=axes, pixel=pixel)
        errors.append(float(np.sqrt(np.mean((hidden - np.cos(tilt) / 9) ** 2))))
    assert errors[0] > errors[1] > errors[2] and errors[2] < 0.008


def test_laws():
    points, normals = np.random.default_rng(1).normal(size=(2, 40, 3))
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    none = np.zeros((0, 3, 3))
    assert (occlusion.openness(points, normals, none) == 1).all()
    near, both = (ball(5.0).triangles + np.array(place) for place in ((0, 0, 12.0), (0, 9.0, -11.0)))
    one = occlusion.openness(points, normals, near)
    two = occlusion.openness(points, normals, np.concatenate([near, both]))
    assert (one <= 1).all() and (two <= one + 1e-12).all() and (two < one).any(), "more occluders never show more sky"
    assert (occlusion.openness(points, normals, near, reach=2.0) == 1).all(), "too far to hide anything"
    assert np.array_equal(one, occlusion.openness(points, normals, near)), "the same every time"
    outside = ball(60.0, 3)
    far = occlusion.openness(outside.vertices[::20], outside.vertices[::20] / 60, outside.triangles, axes=48, pixel=1.5)
    assert far.min() > 0.97, "on the outside of a convex body nothing is hidden"


def test_axes_are_spread_evenly():
    axes = occlusion.fibonacci_axes(400)
    assert np.linalg.norm(axes, axis=1) == pytest.approx(1)
    assert axes.T @ axes / 400 == pytest.approx(np.eye(3) / 3, abs=0.01)


def test_samples_cover_a_triangle_once():
    flat = np.array([[[0.0, 0.0], [20.0, 0.0], [0.0, 12.0]], [[20.0, 0.0], [20.0, 12.0], [0.0, 12.0]]])
    x, y = flat.reshape(-1, 2).T
    facets = scan_conversion.Facets(x, y, np.arange(6).reshape(2, 3))
    pixel, owner = scan_conversion.samples(facets, (12, 20))
    row, column = np.divmod(pixel, 20)
    depth = scan_conversion.read(facets.plane(x + 2 * y), owner, column + 0.5, row + 0.5)
    assert len({*zip(column.tolist(), row.tolist(), strict=True)}) == len(column) == 240
    assert depth == pytest.approx(column + 0.5 + 2 * (row + 0.5))


def test_halved_and_cut_meshes_keep_the_area():
    solid = ball(10.0, 2)
    points, faces = np.array(solid.vertices), np.array(solid.faces)
    fine, ends = subdivision.subdivided(faces, len(points))
    more = np.vstack([points, points[ends].mean(axis=1)])
    assert areas(more, fine).sum() == pytest.approx(areas(points, faces).sum(), rel=1e-12)
    assert len(fine) == 4 * len(faces) and len(more) == len(points) + len(points) + len(faces) - 2  # Euler
    vertices, cut, band = isolines.cut_into_bands(points, faces, points[:, 2], (-3.0, 4.0))
    assert areas(vertices, cut).sum() == pytest.approx(areas(points, faces).sum(), rel=1e-9)
    z = vertices[cut][:, :, 2]
    assert (z[band == 0] <= -3 + 1e-9).all() and (z[band == 2] >= 4 - 1e-9).all()
    assert ((z[band == 1] >= -3 - 1e-9) & (z[band == 1] <= 4 + 1e-9)).all() and set(band) == {0, 1, 2}


def test_clusters_keep_the_shape():
    solid = ball(30.0, 5)
    points, faces = vertex_clustering.clustered(np.array(solid.vertices), np.array(solid.faces), 6.0)
    assert len(faces) < len(solid.faces) / 5
    assert trimesh.Trimesh(points, faces, process=False).volume == pytest.approx(solid.volume, rel=0.03)
