"""Signed distances against libigl and against the solid angle of closed bodies with acute ridges and tips."""

import igl
import numpy as np
import pytest
import trimesh

from shellgen.geom.signed_distance import signed_distances


def wedge(half_angle):
    """A closed prism, a triangle in the x, z plane with an acute ridge along y at z = 0."""
    wide = 2 * np.tan(half_angle)
    profile = np.array([[0.0, 0.0], [-wide, -2.0], [wide, -2.0]])
    points = np.array([[x, y, z] for y in (-1.0, 1.0) for x, z in profile])
    faces = [[0, 1, 2], [3, 5, 4], [0, 3, 1], [1, 3, 4], [1, 4, 2], [2, 4, 5], [2, 5, 0], [0, 5, 3]]
    return outward(points, np.array(faces))


def spiked(seed):
    """A ball whose vertices are pulled out and pushed in at random: acute tips, pits and saddles."""
    ball = trimesh.creation.icosphere(1, radius=1.0)
    scale = np.random.default_rng(seed).uniform(0.3, 3.0, len(ball.vertices))
    return outward(np.asarray(ball.vertices) * scale[:, None], np.asarray(ball.faces))


def outward(points, faces):
    mesh = trimesh.Trimesh(points, faces, process=False)
    assert mesh.is_watertight and mesh.is_winding_consistent
    return points, faces if mesh.volume > 0 else faces[:, ::-1]


BODIES = {**{f"wedge-{a:g}": wedge(a) for a in (0.02, 0.1, 0.4)}, **{f"spiked-{k}": spiked(k) for k in range(4)}}


@pytest.mark.parametrize("name", BODIES)
def test_distances_and_signs_are_those_of_libigl(name):
    points, faces = BODIES[name]
    rng = np.random.default_rng(1)
    near = points[rng.integers(0, len(points), 3000)] + rng.normal(0, 0.05, (3000, 3))
    everywhere = rng.uniform(points.min() - 1, points.max() + 1, (3000, 3))
    queries = np.concatenate([near, everywhere])
    found = signed_distances(points, faces, queries)
    kind = igl.SIGNED_DISTANCE_TYPE_PSEUDONORMAL
    expected = igl.signed_distance(queries, points, faces, sign_type=kind)[0]
    assert found == pytest.approx(expected, abs=1e-9)
    inside = np.abs(igl.winding_number(points, faces, queries)) > 0.5  # solid angle: another way to the sign
    assert np.array_equal(found[np.abs(found) > 1e-9] < 0, inside[np.abs(found) > 1e-9])
    assert 200 < inside.sum() < 5800, "both sides are asked"


def test_one_face_alone_does_not_tell_the_side_of_an_acute_ridge():
    """Outside, above the ridge and to its left, the query lies behind the right face, whose closest point is the same.

    libigl 2.6: +0.0707."""
    points, faces = wedge(0.1)
    query = np.array([[-0.05, 0.0, 0.05], [0.05, 0.0, 0.05]])
    right = np.array([np.cos(0.1), 0.0, np.sin(0.1)])  # normal of the right face
    assert query[0] @ right < 0 < query[1] @ right
    assert signed_distances(points, faces, query) == pytest.approx(np.hypot(0.05, 0.05), abs=1e-12)
    mirrored = signed_distances(points * [-1, 1, 1], faces[:, ::-1], query)
    assert mirrored == pytest.approx(np.hypot(0.05, 0.05), abs=1e-12)


def test_an_open_surface_has_a_side_everywhere_on_it():
    x, y = (v.ravel().astype(float) for v in np.meshgrid(np.arange(5), np.arange(5)))
    points = np.column_stack([x, y, 0.1 * np.sin(x)])
    i = np.add.outer(5 * np.arange(4), np.arange(4)).ravel()
    faces = np.concatenate([np.column_stack([i, i + 1, i + 6]), np.column_stack([i, i + 6, i + 5])])
    up = np.array([0.0, 0.0, 1e-3])
    assert (signed_distances(points, faces, points + up) > 0).all()
    assert (signed_distances(points, faces, points - up) < 0).all()
