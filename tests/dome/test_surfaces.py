"""What every kind of dome holds to, whichever file of the folder it is from: smooth, mirrored, upright, on its rim."""

from __future__ import annotations

import copy
from pathlib import Path

import numpy as np
import pytest
import trimesh

from shellgen.core import registry
from shellgen.core.content import digest
from shellgen.dome.surfaces import girths, plan, scan
from shellgen.fields.params import File
from shellgen.geom import patches

KINDS = registry.names("shellgen.dome.surfaces")
UV = np.random.default_rng(3).uniform(-1, 1, (1500, 2))
UV = UV[np.hypot(*UV.T) < 0.99]


def scanned(folder: Path) -> scan.Params:
    """An egg, cut open below, as a scanner would store it."""
    egg = trimesh.creation.icosphere(5)
    egg.apply_transform(np.diag([280.0, 220.0, 170.0, 1.0]))
    egg.vertices[:, 1] *= 1 - 0.1 * egg.vertices[:, 0] / 280
    half = trimesh.intersections.slice_mesh_plane(egg, (0, 0, 1), (0, 0, 0))
    path = folder / "egg.stl"
    half.export(path)
    return scan.Params(file=File("egg.stl", path, "0"), up="z", head="x")


SAMPLES = {
    "plan": lambda _: plan.Params(),
    "girths": lambda _: girths.Params(
        length=560.0,
        stations=(
            girths.Station(at=90.0, girth=450.0, width=330.0),
            girths.Station(at=300.0, girth=640.0, width=450.0, height=175.0),
            girths.Station(at=480.0, girth=420.0, width=320.0),
        ),
    ),
    "scan": scanned,
}


@pytest.fixture(scope="module", params=KINDS)
def surface(request, tmp_path_factory):
    params = SAMPLES[request.param](tmp_path_factory.mktemp("surface"))
    return registry.load("shellgen.dome.surfaces", request.param).build(params)


def test_every_kind_has_a_sample():
    assert set(SAMPLES) == set(KINDS)


def test_its_content_has_a_digest(surface):
    assert digest(surface) == digest(copy.deepcopy(surface)) != digest(plan.build(plan.Params(height=150.0)))


def test_rim_lies_in_its_plane_and_the_dome_above_it(surface):
    rim = surface.points(patches.polar_grid(np.ones(1), 720))
    assert np.abs(rim[:, 2]).max() < 1e-9 and np.ptp(rim[:, 0]) > 100
    assert (surface.points(UV)[:, 2] > 0).all() and (surface.normals(UV)[:, 2] > 0).all()


def test_mirrored_places_are_mirrored_points(surface):
    flip, other = np.array([1, -1, 1]), UV * (1, -1)
    for offset in (0.0, -5.0):
        assert np.abs(surface.points(other, offset=offset) - surface.points(UV, offset=offset) * flip).max() < 1e-9
    assert np.abs(surface.normals(other) - surface.normals(UV) * flip).max() < 1e-12


def test_normals_stand_square_on_the_tangents_and_outward(surface):
    normal, tangent = surface.normals(UV), surface.tangents(UV)
    size = np.linalg.norm(tangent, axis=1)
    assert np.abs(np.linalg.norm(normal, axis=1) - 1).max() < 1e-12
    assert (np.abs((normal[:, :, None] * tangent).sum(axis=1)) / size).max() < 1e-9
    assert ((np.cross(tangent[..., 0], tangent[..., 1]) * normal).sum(axis=1) > 0).all()


def test_offset_goes_along_the_normal(surface):
    moved = surface.points(UV, offset=-5.0) - surface.points(UV)
    assert np.abs(moved + 5 * surface.normals(UV)).max() < 1e-9


@pytest.mark.parametrize("offset", [0.0, -5.0])
def test_tangents_are_the_slopes_of_the_points(surface, offset):
    """Central differences of two steps: the difference to the tangents falls, as the square where nothing jumps."""
    tangent = surface.tangents(UV, offset=offset)
    worst = []
    for step in (1e-3, 5e-4):
        off = 0.0
        for axis in range(2):
            away = step * np.eye(2)[axis]
            slope = (surface.points(UV + away, offset=offset) - surface.points(UV - away, offset=offset)) / (2 * step)
            off = max(off, float(np.sqrt(((slope - tangent[:, :, axis]) ** 2).mean())))
        worst.append(off)
    assert worst[0] < 0.1 and worst[0] / worst[1] == pytest.approx(4, rel=0.2)


def test_head_end_is_at_greater_u(surface):
    ends = surface.points(np.array([[1.0, 0.0], [-1.0, 0.0]]))
    assert ends[0, 0] > 0 > ends[1, 0] and np.abs(ends[:, 1]).max() < 1e-9
    assert surface.points(np.array([[0.0, 1.0]]))[0, 1] > 0
