"""Measures on triangle meshes against closed forms, trimesh and scipy."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
import yaml
from scipy.spatial import Delaunay

from shellgen.geom import triangles
from shellgen.geom.vectors import cross

PUBLISHED = {
    row["id"]: row
    for row in yaml.safe_load(Path(__file__).parents[1].joinpath("published", "surface.yaml").read_text())
}


def disc(count: int = 400) -> tuple[np.ndarray, np.ndarray]:
    """A scattered triangulation of the unit disc, its rim a regular polygon."""
    inner = np.random.default_rng(7).uniform(-1, 1, (count, 2))
    inner = inner[np.hypot(*inner.T) < 0.95]
    turn = 2 * np.pi * np.arange(90) / 90
    uv = np.concatenate([inner, np.column_stack([np.cos(turn), np.sin(turn)])])
    faces = Delaunay(uv).simplices.astype(int)
    flip = triangles.areas(uv, faces) < 0
    faces[flip] = faces[flip][:, ::-1]
    return uv, faces


def cap(uv: np.ndarray, radius: float, angle: float) -> np.ndarray:
    """The disc on a spherical cap of angular radius `angle`, equidistant from the crown."""
    r = np.hypot(*uv.T)
    return radius * np.column_stack([(uv.T / np.maximum(r, 1e-300) * np.sin(angle * r)).T, np.cos(angle * r)])


def test_areas_and_normals_agree_with_trimesh():
    ball = trimesh.creation.icosphere(3, radius=40)
    points, faces = np.asarray(ball.vertices), np.asarray(ball.faces)
    assert triangles.areas(points, faces) == pytest.approx(ball.area_faces, rel=1e-12)
    assert triangles.face_normals(points, faces) == pytest.approx(ball.face_normals, abs=1e-12)
    assert triangles.signed_volume(points, faces) == pytest.approx(ball.volume, rel=1e-12)
    assert triangles.corner_angles(points, faces) == pytest.approx(ball.face_angles, abs=1e-12)
    assert len(triangles.edges(faces)) == len(ball.edges_unique)


def test_volume_turns_negative_with_the_faces():
    ball = trimesh.creation.icosphere(2)
    assert triangles.signed_volume(ball.vertices, ball.faces[:, ::-1]) == pytest.approx(-ball.volume)


def test_euler_characteristic_of_ball_and_disc():
    ball = np.asarray(trimesh.creation.icosphere(1).faces)
    assert triangles.euler_characteristic(ball) == 2
    assert triangles.euler_characteristic(disc()[1]) == 1


def test_boundary_loops_run_with_the_faces_on_the_left():
    uv, faces = disc()
    (loop,) = triangles.boundary_loops(faces)
    x, y = uv[loop].T
    assert 0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum() == pytest.approx(triangles.areas(uv, faces).sum())
    hole = np.hypot(*uv[faces].mean(axis=1).T) > 0.4
    assert len(triangles.boundary_loops(faces[hole])) == 2


def test_gauss_bonnet_holds_to_rounding_on_any_disc():
    """Curvature inside and turning along the boundary sum to 2 pi times Euler's number (Gauss-Bonnet)."""
    uv, faces = disc()
    points = cap(uv, 300, 1.2) + np.random.default_rng(1).normal(0, 2, (len(uv), 3))
    assert triangles.angle_deficits(points, faces).sum() == pytest.approx(2 * np.pi, abs=1e-10)


def test_curvature_of_a_cap_by_two_routes():
    """Deficits inside stop half an edge short of the rim (first order); with normals the whole (second order)."""
    row = PUBLISHED["cap-45-curvature"]
    inside, whole = [], []
    for rings in (8, 16, 32):
        uv, faces = rings_and_spokes(rings, 6 * rings)
        points = cap(uv, 300, np.pi / 4)
        inside.append(
            row["value"] - triangles.angle_deficits(points, faces)[triangles.inner_vertices(faces, len(points))].sum()
        )
        whole.append(row["value"] - triangles.total_curvature(points, faces, points / 300))
    assert np.divide(inside[:2], inside[1:]) == pytest.approx([2, 2], rel=0.1)
    assert np.divide(whole[:2], whole[1:]) == pytest.approx([4, 4], rel=0.02)
    assert abs(whole[2]) < 1e-3


def rings_and_spokes(rings: int, spokes: int) -> tuple[np.ndarray, np.ndarray]:
    turn = 2 * np.pi * np.arange(spokes) / spokes
    radius = np.arange(1, rings + 1) / rings
    uv = np.concatenate(
        [[[0, 0]], (radius[:, None, None] * np.column_stack([np.cos(turn), np.sin(turn)])).reshape(-1, 2)]
    )
    index = 1 + np.arange(rings * spokes).reshape(rings, spokes)
    onward = np.roll(index, -1, axis=1)
    fan = np.column_stack([np.zeros(spokes, int), index[0], onward[0]])
    a, b, c, d = (x.ravel() for x in (index[:-1], onward[:-1], index[1:], onward[1:]))
    return uv, np.concatenate([fan, np.column_stack([a, c, d]), np.column_stack([a, d, b])])


def test_laplacian_integrates_linear_functions_exactly():
    """x' L x is twice the Dirichlet energy: for x = 3 u - 2 v that is 13 times the area."""
    uv, faces = disc()
    laplacian = triangles.cotangent_laplacian(uv, faces)
    value = uv @ np.array([3.0, -2.0])
    assert value @ (laplacian @ value) == pytest.approx(13 * triangles.areas(uv, faces).sum(), rel=1e-10)
    inner = triangles.inner_vertices(faces, len(uv))
    assert np.abs((laplacian @ value)[inner]).max() < 1e-10
    assert abs(laplacian - laplacian.T).max() == 0


def test_locate_agrees_with_scipy_and_rebuilds_the_query():
    uv, faces = disc()
    query = np.random.default_rng(3).uniform(-1, 1, (4000, 2))
    face, weight = triangles.locate(uv, faces, query, reach=0)
    other = Delaunay(uv).find_simplex(query)
    assert np.array_equal(face >= 0, other >= 0)
    inside = face >= 0
    rebuilt = (weight[inside, :, None] * uv[faces[face[inside]]]).sum(axis=1)
    assert np.abs(rebuilt - query[inside]).max() < 1e-14
    assert weight[inside].min() > -1e-11


def test_locate_finds_vertices_and_edge_middles():
    uv, faces = disc()
    edge = triangles.edges(faces)
    query = np.concatenate([uv[np.unique(faces)], uv[edge].mean(axis=1)])
    face, weight = triangles.locate(uv, faces, query)
    assert (face >= 0).all()
    assert np.abs((weight[:, :, None] * uv[faces[face]]).sum(axis=1) - query).max() < 1e-13


def test_locate_takes_the_rim_for_points_a_hair_outside():
    uv, faces = disc()
    turn = np.linspace(0, 2 * np.pi, 1001)
    arc = np.column_stack([np.cos(turn), np.sin(turn)])  # bulges over the chords
    face, weight = triangles.locate(uv, faces, arc)
    foot = (weight[:, :, None] * uv[faces[face]]).sum(axis=1)
    sagitta = 1 - np.cos(np.pi / 90)
    assert (face >= 0).all() and np.linalg.norm(foot - arc, axis=1).max() <= sagitta * (1 + 1e-9)
    assert (triangles.locate(uv, faces, 1.5 * arc)[0] == -1).all()


def test_cross_products_are_those_of_numpy_to_the_last_digit() -> None:
    first, second = np.random.default_rng(3).normal(size=(2, 50, 4, 3))
    assert np.array_equal(cross(first, second), np.cross(first, second))
    assert np.array_equal(cross(first, second[:1]), np.cross(first, second[:1]))
