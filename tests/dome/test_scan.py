"""Domes from scanned meshes: closed forms of spheres, the house's own domes scanned again, laws, and refusals."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import scans
import trimesh
import yaml
from scans import TURNED

from shellgen.dome.surfaces import plan, scan
from shellgen.errors import GeometryError, PresetError
from shellgen.export import stl
from shellgen.fields.params import File
from shellgen.geom import mesh_repair, patches
from shellgen.geom.closest_parameters import closest_parameters
from shellgen.share import form

ROWS = {row["id"]: row for row in yaml.safe_load(Path("tests/published/scan.yaml").read_text("utf-8"))}
UV = np.concatenate([np.zeros((1, 2)), patches.polar_grid(np.linspace(0, 1, 25)[1:], 72)])
FLIP = np.array([1, -1, 1])


@pytest.fixture(scope="module")
def rough(tmp_path_factory):
    """A bumpy egg, whole, lying anyhow, noisy and with holes."""
    points, faces = scans.spoilt(*scans.bumpy(6), noise=1.0, holes=6, hole=30)
    return scans.built(tmp_path_factory.mktemp("rough"), points @ TURNED.T + [1000, -300, 50], faces)


def volume(surface) -> float:
    """Between the dome and the plane of its rim, which holds the origin (divergence theorem)."""
    radii, weights = patches.gauss_radii(64)
    uv = patches.polar_grid(radii, 128)
    tangent = surface.tangents(uv)
    element = np.cross(tangent[..., 0], tangent[..., 1])
    return patches.integrate((surface.points(uv) * element).sum(axis=1), radii, weights) / 3


def sphere_errors(surface) -> tuple[float, float, float]:
    """rms and largest distance from the sphere of 200 mm, wherever its middle was put; height of the rim over it."""
    points = surface.points(UV)
    centre, _ = scans.sphere_through(points)
    off = np.linalg.norm(points - centre, axis=1) - 200
    return float(np.sqrt(np.mean(off**2))), float(np.abs(off).max()), -float(centre[2])


def test_a_clean_hemisphere_has_its_area_and_volume(tmp_path):
    made = scans.built(tmp_path, *scans.hemisphere(6), up="z", cut=0.0)
    assert patches.area(made) == pytest.approx(ROWS["hemisphere-200-area"]["value"], rel=2e-6)
    assert volume(made) == pytest.approx(ROWS["hemisphere-200-volume"]["value"], rel=2e-6)
    rms, most, _ = sphere_errors(made)
    assert rms < 0.001 and most < 0.01
    assert made.mended.noise < 0.001 and made.mended.holes == 0 and made.mended.asymmetry < 0.02


def test_a_cut_leaves_the_zone_of_the_sphere(tmp_path):
    made = scans.built(tmp_path, *scans.hemisphere(6), cut=80.0, up="z")
    assert patches.area(made) == pytest.approx(ROWS["cap-200-120-area"]["value"], rel=1e-4)
    assert made.mended.cut == pytest.approx(80)


def test_the_error_falls_with_the_noise(tmp_path):
    """And stays a tenth of the noise at most."""
    errors = []
    for noise in (0.5, 2.0):
        made = scans.built(tmp_path, *scans.spoilt(*scans.hemisphere(6), noise=noise, holes=4), up="z", cut=4.0)
        rms, most, _ = sphere_errors(made)
        assert rms < 0.1 * noise and most < 0.4 * noise
        assert made.mended.noise == pytest.approx(noise, rel=0.05)
        errors.append(rms)
    assert errors[0] < errors[1]


def test_the_error_falls_with_the_number_of_points(tmp_path):
    errors = []
    for fineness in (4, 6):
        spoilt = scans.spoilt(*scans.hemisphere(fineness), noise=1.0)
        errors.append(sphere_errors(scans.built(tmp_path, *spoilt, up="z", cut=8.0))[0])
    assert errors[0] > 1.5 * errors[1]


@pytest.mark.parametrize("noise", [0.0, 1.0])
def test_a_dome_of_the_house_scanned_again_comes_back(tmp_path, noise):
    """Size, head and tail, and the whole face, from a scan lying anyhow in its file."""
    true = plan.build(plan.Params(keel=0, flare=0))
    points, faces = scans.spoilt(*scans.of_surface(true, 6), noise=noise, holes=4 if noise else 0, seed=3)
    made = scans.built(tmp_path, points @ TURNED.T + 40, faces)
    got = made.points(UV)
    _, off = patches.project(true, got[::4] + np.array([0, 0, 0 if noise else made.mended.cut]))
    assert np.ptp(got, axis=0) == pytest.approx([560, 460, 180], abs=0.2 + noise)
    assert np.sqrt(np.mean(off**2)) < 0.05 + 0.9 * noise  # the cut itself is found to within the noise
    assert not [f for f in made.findings if "head" in f.text]
    front, rear = (np.abs(got[got[:, 0] * side > 0, 1]).max() for side in (1, -1))
    assert front < rear  # as the plan was: broader at the tail


def test_a_whole_egg_is_cut_at_its_widest_and_cleaned(rough):
    mended = rough.mended
    assert np.ptp(rough.points(UV), axis=0) == pytest.approx([*np.ptp(scans.bumpy(6)[0], axis=0)[:2], 181], abs=3)
    assert mended.cut == pytest.approx(180, abs=6)
    assert mended.noise == pytest.approx(1.0, abs=0.1)
    assert 0.01 < mended.holes < 0.06 and 40 < mended.hole_width < 80
    assert mended.asymmetry < 1


def test_holes_are_measured(tmp_path):
    points, faces = scans.hemisphere(6)
    gone = np.linalg.norm(points - [0, 0, 200], axis=1) < 40  # chord 40: a cap of pi 40^2 exactly
    made = scans.built(tmp_path, points, faces[~gone[faces].any(axis=1)])
    assert made.mended.holes_area == pytest.approx(np.pi * 40**2, rel=0.12)
    assert made.mended.hole_width == pytest.approx(80, rel=0.1)
    assert [f.level for f in made.findings if "not scanned" in f.text] == ["caution"]


def test_lopsidedness_is_removed_and_reported(tmp_path):
    points, faces = scans.of_surface(plan.build(plan.Params(keel=0, flare=0)), 6)
    points = points * (1 + 0.02 * (points[:, 1:2] > 60) * ((points[:, 1:2] - 60) / 100))
    made = scans.built(tmp_path, points, faces, up="z", head="x")
    assert 0.5 < made.mended.asymmetry < 4
    assert np.array_equal(made.points(UV * (1, -1)), made.points(UV) * FLIP)


@pytest.mark.parametrize("offset", [0.0, -5.0])
def test_laws_of_a_surface(rough, offset):
    """Mirrored to the last bit, rim in its plane, tangents that are the derivatives, normals square and outward."""
    points, tangent, normal = (
        rough.points(UV, offset=offset), rough.tangents(UV, offset=offset), rough.normals(UV)
    )  # fmt: skip
    other = UV * (1, -1)
    assert np.array_equal(rough.points(other, offset=offset), points * FLIP)
    assert np.array_equal(rough.tangents(other, offset=offset), tangent * FLIP[:, None] * (1, -1))
    assert np.array_equal(rough.normals(other), normal * FLIP)
    assert np.abs(rough.points(UV)[-72:, 2]).max() == 0
    assert np.abs((normal[:, :, None] * tangent).sum(axis=1)).max() < 1e-9
    assert ((np.cross(tangent[..., 0], tangent[..., 1]) * normal).sum(axis=1) > 0).all()
    inner = UV[np.hypot(*UV.T) < 0.99]
    for axis in range(2):
        errors = []
        for step in (4e-4, 2e-4):
            away = step * np.eye(2)[axis]
            moved = rough.points(inner + away, offset=offset) - rough.points(inner - away, offset=offset)
            errors.append(np.abs(moved / (2 * step) - rough.tangents(inner, offset=offset)[:, :, axis]).max())
        assert errors[0] / errors[1] == pytest.approx(4, rel=0.1)


def test_turned_or_moved_it_stays_the_same_dome(tmp_path):
    points, faces = scans.spoilt(*scans.bumpy(5), noise=0.5)
    first = scans.built(tmp_path, points, faces).points(UV)
    second = scans.built(tmp_path, points @ TURNED.T - 500, faces).points(UV)
    assert np.abs(first - second).max() < 1.0  # the cut may move by a part of the noise


def test_size_and_unit(tmp_path):
    points, faces = scans.of_surface(plan.build(plan.Params(keel=0, flare=0)))
    in_metres = scans.built(tmp_path, points / 1000, faces, unit="m")
    assert np.ptp(in_metres.points(UV), axis=0) == pytest.approx([560, 460, 180], abs=1.5)
    wanted = scans.built(tmp_path, points, faces, length=480.0)
    assert np.ptp(wanted.points(UV), axis=0) == pytest.approx(np.array([560, 460, 180]) * 480 / 560, abs=1.5)
    with pytest.raises(GeometryError, match="set unit"):
        scans.built(tmp_path, points / 1000, faces)


def test_padding_stands_off_evenly(tmp_path):
    """A ball and 25 mm of padding are a ball 25 mm larger."""
    made = scans.built(tmp_path, *scans.hemisphere(6), offset=25.0, up="z", cut=0.0)
    assert patches.area(made) == pytest.approx(2 * np.pi * 225**2, rel=1e-4)
    points = made.points(UV)
    assert np.abs(np.linalg.norm(points - scans.sphere_through(points)[0], axis=1) - 225).max() < 0.1


SHAPES = {
    "inside out": lambda p, f: (p, f[:, ::-1]),
    "bottom": lambda p, f: (scans.ball(5)[0] * [1, 1, 0.5] + np.abs(scans.ball(5)[0]) * [0, 0, 0.5], scans.ball(5)[1]),
    "inside": lambda p, f: (np.concatenate([p, 0.95 * p]), np.concatenate([f, f[:, ::-1] + len(p)])),
    "twice": lambda p, f: (p, np.concatenate([f, f[:, [1, 2, 0]]])),
}
"""The lower half pressed flat into a bottom; an inner wall; every face there twice."""


@pytest.mark.parametrize("name", SHAPES)
def test_how_the_file_was_made_does_not_matter(tmp_path, name):
    made = scans.built(tmp_path, *SHAPES[name](*scans.hemisphere(5)), up="z")
    assert sphere_errors(made)[0] < 0.1
    assert made.mended.worthless >= (len(scans.hemisphere(5)[1]) if name == "twice" else 0)


def test_the_rim_is_the_widest_edge_and_not_the_longest():
    points, faces = scans.hemisphere(4)
    faces = faces[~(points[:, 2] > 185)[faces].any(axis=1)]
    side = np.sort(np.concatenate([faces[:, :2], faces[:, 1:], faces[:, ::2]]), axis=1)
    edge, count = np.unique(side, axis=0, return_counts=True)
    edge = edge[count == 1]
    hole = np.unique(edge[(points[edge][:, :, 2] > 100).all(axis=1)])
    points[hole] *= 1 + 0.5 * np.random.default_rng(2).uniform(-1, 1, (len(hole), 1))
    length = np.linalg.norm(np.subtract(*points[edge.T]), axis=1)
    assert length[np.isin(edge[:, 0], hole)].sum() > length[~np.isin(edge[:, 0], hole)].sum()
    assert points[mesh_repair.widest_rim(points, faces), 2].max() < 30


@pytest.mark.parametrize("twice", [0, 17, -1])
def test_a_triangle_that_is_there_twice_counts_once(twice):
    points, faces = scans.ball(2)
    more = np.roll(faces[[twice]], 1, axis=1)
    cleaned = mesh_repair.clean(points, np.concatenate([faces, more, more[:, ::-1]]))
    assert cleaned.worthless == 2 and len(cleaned.faces) == len(faces)


def test_crumbs_are_dropped_and_reported(tmp_path):
    points, faces = scans.hemisphere(5)
    crumb = trimesh.creation.icosphere(subdivisions=1, radius=5)
    both = np.concatenate([points, crumb.vertices]), np.concatenate([faces, crumb.faces + len(points)])
    mended = scans.built(tmp_path, *both, up="z").mended
    assert mended.parts == 1 and mended.lost == pytest.approx(5**2 * 4 / (200**2 * 2), rel=0.1)


def test_outliers_do_not_pull(tmp_path):
    points, faces = scans.hemisphere(6)
    wild = np.random.default_rng(5).random(len(points)) < 0.02
    points = points * np.where(wild, 1.15, 1.0)[:, None]
    made = scans.built(tmp_path, points, faces, up="z", cut=5.0)
    assert sphere_errors(made)[0] < 0.1
    assert made.mended.strays == pytest.approx(0.02, abs=0.006)


def test_a_spike_of_the_scan_is_smoothed_until_foam_can_follow(tmp_path):
    points, faces = scans.hemisphere(6)
    away = np.linalg.norm(points - [0, 0, 200], axis=1)
    sharp = points + 110 * np.exp(-((away / 30) ** 2))[:, None] * [0, 0, 1]
    made = scans.built(tmp_path, sharp * 0.6, faces)
    assert 1 / patches.curvatures(made, UV).max() >= 12
    with pytest.raises(GeometryError, match="more smoothing than 5 mm"):
        scans.built(tmp_path, sharp * 0.6, faces, smoothing=5.0)


def sheet(width: float, depth: float, bend: float = 0.0):
    x, y = np.meshgrid(np.linspace(-width, width, 60), np.linspace(-depth, depth, 60))
    points = np.column_stack([x.ravel(), y.ravel(), bend * (1 - (x.ravel() / width) ** 2)])
    i = (np.arange(59)[:, None] * 60 + np.arange(59)).ravel()
    return points, np.concatenate([np.column_stack([i, i + 1, i + 60]), np.column_stack([i + 1, i + 61, i + 60])])


def torus():
    mesh = trimesh.creation.torus(200, 60, major_sections=96, minor_sections=48)
    return np.array(mesh.vertices), np.array(mesh.faces)


def half_ball():
    points, faces = scans.hemisphere(6)
    return points, faces[(points[faces][:, :, 0] > -30).all(axis=1)]


def mushroom():
    """A cap on a narrow neck over a broad foot: cut at the foot, the wall overhangs."""
    points, faces = scans.hemisphere(6)
    z = points[:, 2:] / 200
    return points * np.column_stack([1 - 0.75 * np.sin(np.pi * np.clip(2.2 * z, 0, 1))] * 2 + [np.ones(len(z))]), faces


def two_balls():
    points, faces = scans.ball(5, 120)
    return np.concatenate([points, points * 0.8 + [170, 0, 30]]), np.concatenate([faces, faces + len(points)])


@pytest.mark.parametrize(
    ("make", "figures", "words"),
    [
        (torus, {}, "not scanned|layers|no dome"),
        (lambda: sheet(250, 200), {}, "flat|no dome"),
        (lambda: sheet(250, 200, 120.0), {"up": "z"}, "flat|allowed"),
        (half_ball, {"up": "z"}, "not scanned|no dome"),
        (mushroom, {"up": "z", "cut": 0.0}, "layers|leans in|folds|tight"),
        (lambda: scans.hemisphere(2), {}, "points, a dome needs"),
        (lambda: scans.ball(4, 20), {}, "set unit"),
        (lambda: scans.ball(5), {"up": "x", "head": "-x"}, "another axis"),
        (lambda: scans.ball(5), {"cut": 900.0}, "next to nothing|points above"),
        (lambda: scans.hemisphere(5), {"length": 200.0, "offset": 90.0}, "leaves nothing"),
        (
            lambda: (np.random.default_rng(0).normal(size=(999, 3)) * 200, np.arange(999).reshape(-1, 3)),
            {},
            "points, a dome needs",
        ),
    ],
)
def test_what_is_no_dome_is_refused_in_one_sentence(tmp_path, make, figures, words):
    with pytest.raises((GeometryError, PresetError), match=words) as told:
        scans.built(tmp_path, *make(), **figures)
    assert 30 < len(str(told.value)) < 330 and "\n" not in str(told.value)


def test_the_head_is_where_it_is_said_to_be(tmp_path):
    points, faces = scans.of_surface(plan.build(plan.Params(keel=0, flare=0)))
    for head, narrower in (("x", 1), ("-x", -1)):
        got = scans.built(tmp_path, points, faces, up="z", head=head).points(UV)
        ahead, behind = (np.abs(got[got[:, 0] * side > 0, 1]).mean() for side in (narrower, -narrower))
        assert ahead < 0.98 * behind


def test_an_open_part_of_a_dome_is_refused_and_not_laid_flat(tmp_path):
    points, faces = scans.hemisphere()
    for cut in (points[:, 0], points[:, 0] + points[:, 1]):
        part = faces[(cut[faces] > 0).all(axis=1)]
        with pytest.raises(GeometryError, match="open edge lies in no plane"):
            scans.built(tmp_path, points, part)


def test_what_is_passed_on_builds_the_same_dome(tmp_path):
    """The form that goes with a shared pack, read and fitted again, is the first dome, but for a shift along itself: a
    scan is put on the middle of its rim."""
    made = scans.built(tmp_path, *scans.bumpy(), offset=12.0)
    file = tmp_path / "again.stl"
    file.write_bytes(stl.write(form.mesh(made)))
    own = form.plain(File(file.name, file, "-"))
    uv = patches.polar_grid(np.linspace(0, 1, 9), 24)
    again, ends = scan.build(own), np.array([(1.0, 0.0), (-1.0, 0.0)])
    shift = (again.points(ends) - made.points(ends)).mean(axis=0)
    points = again.points(uv) - shift
    off = np.linalg.norm(made.points(closest_parameters(made, points, uv)) - points, axis=1)
    assert abs(shift[0]) < 3.0 and off.max() < 0.3
