"""How pictures are looked at: every way that saves time against the plain one, and edges against areas by hand."""

import io

import numpy as np
import pytest
import trimesh
from export_samples import shell
from PIL import Image

from shellgen.canvas import Bands, Scene, ScenePart
from shellgen.draw import shell_scene
from shellgen.draw.crease import creased, creased_each
from shellgen.export import _light, _view, png
from shellgen.export._zbuffer import Depths
from shellgen.geom import isolines, subdivision
from shellgen.geom.scan_conversion import Facets, Lattice, Wanted, downwards, read

PLAIN = {"scale_bar": False, "size": (400, 300), "views": ("crown",)}


def pixels(data):
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGBA"), float)


def nearest(corners, depths, shape):
    """(rows, columns) index of the nearest triangle at every sample, -1 where there is none.

    corners : (m, 3, 2) column and row; the centre of sample (r, c) is at (c + 0.5, r + 0.5); depths : (m, 3)
    """
    x, y, depth = (np.asarray(v, np.float32).ravel() for v in (corners[..., 0], corners[..., 1], depths))
    seen = Depths(Facets(x, y, np.arange(len(x)).reshape(-1, 3)), depth).nearest(Lattice(shape))
    return np.where(seen < 0, -1, seen & 0xFFFFFFFF).astype(int).reshape(shape)


def scattered(count=400, wide=60.0, high=40.0, size=9.0):
    """Triangles anywhere on a picture and a little beyond, at any depth."""
    rng = np.random.default_rng(3)
    middle = rng.uniform((-5, -5), (wide + 5, high + 5), (count, 1, 2))
    flat = (middle + rng.uniform(-size, size, (count, 3, 2))).astype(np.float32).reshape(-1, 2)
    return (*np.ascontiguousarray(flat.T), rng.uniform(0, 100, 3 * count).astype(np.float32))


def test_what_is_wanted_is_what_a_look_at_everything_finds_there():
    x, y, depth = scattered()
    depths = Depths(Facets(x, y, np.arange(len(x)).reshape(-1, 3)), depth)
    some = np.random.default_rng(1).random((40, 60)) < 0.3
    for close in (1, 2, 3):
        lattice = Lattice((40, 60 * close), close, 0.11, -0.2)
        whole, part = depths.nearest(lattice), depths.nearest(lattice, Wanted(some, close))
        assert np.array_equal(part, whole[some.repeat(close, axis=1).ravel()])
        assert 0.3 < (part >= 0).mean() < 1


def test_each_sample_gets_the_nearest_of_all_triangles_that_hold_it():
    x, y, depth = scattered(150)
    faces = np.arange(len(x)).reshape(-1, 3)
    facets = Facets(x, y, faces)
    depths = Depths(facets, depth)
    seen = depths.nearest(Lattice((40, 60)))
    rows, columns = (v.ravel() + 0.5 for v in np.indices((40, 60)))
    corners = np.stack([x, y], axis=1).astype(float)[faces]
    turn = np.stack([corners[:, k] - corners[:, k - 1] for k in range(3)], axis=1)  # (m, 3, 2) edges
    off = np.stack([
        turn[:, k, 0, None] * (rows - corners[:, k, 1, None]) - turn[:, k, 1, None] * (columns - corners[:, k, 0, None])
        for k in range(3)
    ])  # fmt: skip
    inside = (off > 1e-3).all(axis=0) | (off < -1e-3).all(axis=0)
    near = (np.abs(off).min(axis=0) < 1e-2).any(axis=0)  # on an edge, where rounding decides
    every = np.repeat(np.arange(len(faces)), rows.size)
    places = np.tile(columns, len(faces)), np.tile(rows, len(faces))
    deep = read(facets.plane(depth), every, *(v.astype(np.float32) for v in places)).reshape(len(faces), -1)
    best = np.where(inside, deep, -np.inf).max(axis=0)
    hit = np.flatnonzero((seen >= 0) & ~near)
    assert np.array_equal((seen >= 0)[~near], np.isfinite(best)[~near]) and len(hit) > 1000
    which, depth_there = depths.decoded(seen[hit])
    assert np.abs(depth_there - best[hit]).max() < 0.05  # of 100, slivers included
    assert inside[which, hit].all()


def test_the_order_in_which_triangles_are_drawn_changes_nothing():
    x, y, depth = scattered()
    faces = np.arange(len(x)).reshape(-1, 3)
    order = downwards(y, faces)
    assert np.array_equal(np.sort(order), np.arange(len(faces))) and not np.array_equal(order, np.arange(len(faces)))
    plain, sorted_ = (Depths(Facets(x, y, f), depth).nearest(Lattice((40, 60))) for f in (faces, faces[order]))
    assert np.array_equal(plain >= 0, sorted_ >= 0)
    hit = plain >= 0
    assert np.array_equal((plain & 0xFFFFFFFF)[hit], order[(sorted_ & 0xFFFFFFFF)[hit]])


def test_triangles_taller_than_any_class_of_rows_are_drawn_whole():
    tall = np.array([[[2.0, 1.0], [9.0, 1.0], [2.0, 2999.0]]])
    seen = nearest(tall, np.zeros((1, 3)), (3000, 12)) >= 0
    assert seen.sum() == pytest.approx(7 * 2998 / 2, rel=2e-3)


def test_asking_only_the_texels_that_may_differ_gives_the_same_shadow():
    triangles = _light.soup(shell(20, 40))
    axes = _view.aim(np.array([0.75, 1.0, 0.85]), np.array([0.0, 0.0, 1.0]))
    made = _light.shadows(triangles, axes, 0.5, 300)
    rng = np.random.default_rng(4)
    rows, columns = (rng.uniform(1, n - 1, 20_000).astype(np.float32) for n in made.depth.shape)
    known = made.depth[np.isfinite(made.depth)]
    depth = rng.uniform(known.min(), known.max(), 20_000).astype(np.float32)
    everywhere = np.full_like(made.depth, np.inf)
    plain = _light.Shadows(made.camera, made.depth, -everywhere, everywhere)  # every texel is asked
    lit = made.lit(columns, rows, depth)
    assert np.abs(lit - plain.lit(columns, rows, depth)).max() < 1e-6
    assert 0.1 < (lit == 1).mean() < 0.9 and 0.01 < ((lit > 0) & (lit < 1)).mean() < 0.5


@pytest.mark.parametrize("distance", [np.inf, 900.0])
def test_what_is_linear_in_space_is_read_anywhere_on_a_picture(distance):
    camera = _view.Camera(
        _view.aim(np.array([0.7, 1.0, 0.8]), np.array([0.0, 0.0, 1.0])),
        np.array([3.0, 4.0, 5.0]),
        distance,
        2.0,
        (90, 70),
    )
    rng = np.random.default_rng(2)
    points, share = rng.uniform(-50, 50, (300, 3)), rng.dirichlet((1, 1, 1), 100)
    x, y, depth = camera.columns(points)
    flat = camera.flattened((points @ (0.3, -0.2, 0.5)).astype(np.float32), depth)
    faces = np.arange(300).reshape(-1, 3)
    (x0, x1, x2), (y0, y1, y2) = x[faces].T, y[faces].T
    wide = np.abs((x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)) > 100  # pixels: of slivers nothing can be read
    assert wide.sum() > 80
    faces, share = faces[wide], share[wide]
    facets = Facets(x, y, faces)
    middle = np.einsum("ij,ijk->ik", share, points[faces])  # somewhere on each triangle
    column, row, near = camera.columns(middle)
    found = camera.restored(read(facets.plane(flat), np.arange(len(faces)), column, row), camera.away(near))
    assert np.abs(found - middle @ (0.3, -0.2, 0.5)).max() < 2e-4


def test_an_edge_covers_as_much_of_each_pixel_as_its_four_samples_say():
    turn, size = np.radians(23.0), 200.0
    corners = size / 2 * np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]])
    corners = corners @ np.array([[np.cos(turn), np.sin(turn), 0], [-np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    part = ScenePart("plate", corners, np.array([[0, 1, 2], [0, 2, 3]]), (230, 230, 230))
    alpha = pixels(png.write(Scene("s", (part,)), background=None, **PLAIN))[..., 3] / 255
    # the square's outline by hand: its sides' distances from its middle, averaged over fine places in each pixel
    scale = np.sqrt(alpha.sum()) / size
    rows, columns = np.indices(alpha.shape)
    middle = np.array([(alpha * v).sum() / alpha.sum() for v in (rows, columns)])
    fine = (np.arange(8) + 0.5) / 8 - 0.5
    covered = np.zeros_like(alpha)
    for down in fine:
        for right in fine:
            y, x = rows + down - middle[0], columns + right - middle[1]
            one, other = x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)
            covered += (np.maximum(np.abs(one), np.abs(other)) < scale * size / 2) / 64
    edge = (covered > 0) & (covered < 1)
    assert edge.sum() > 500 and set(np.round(4 * alpha[edge], 1)) <= {0, 1, 2, 3, 4}
    off = np.abs(alpha - covered)
    assert off[edge].mean() < 0.12 and off.max() < 0.45


def test_bands_are_the_colours_of_a_mesh_cut_along_their_levels():
    ball = trimesh.creation.icosphere(3, 100.0)
    points, faces = np.array(ball.vertices), np.array(ball.faces)
    value, limits = points[:, 0] + 0.3 * points[:, 1], (-20.0, 35.0)
    colours = np.array([(200, 40, 40), (40, 200, 40), (40, 40, 200)], np.uint8)
    banded = ScenePart("b", points, faces, vertex_normals=points / 100, bands=Bands(value, limits, colours))
    table, cut, band = isolines.cut_into_bands(np.hstack([points, points / 100]), faces, value, limits)
    plain = ScenePart("b", table[:, :3], cut, face_colours=colours[band], vertex_normals=table[:, 3:])
    one, other = (pixels(png.write(Scene("s", (part,)), **PLAIN)) for part in (banded, plain))
    assert np.abs(one - other).mean() < 0.2 and (np.abs(one - other).max(axis=2) > 60).mean() < 1e-3
    assert all((np.abs(one[..., :3] - c).max(axis=2) < 120).sum() > 2000 for c in colours)
    wrong = ScenePart("c", points, faces, bands=Bands(value, (0.0,), colours[:2]))
    with pytest.raises(ValueError, match="other levels"):
        png.write(Scene("s", (banded, wrong)), **PLAIN)


def test_another_look_at_the_same_view_is_what_it_would_be_by_itself():
    first = shell(20, 40)
    recoloured = tuple(ScenePart(p.name, p.vertices, p.faces, (180, 120, 60), vertex_normals=p.vertex_normals,
                            placements=p.placements, solid=p.solid) for p in first.parts)  # fmt: skip
    second, words = Scene(first.name, recoloured, first.lines), png.SceneText("By itself")
    looks = png.Look(first, (600, 450)), png.Look(second, (380, 310), words=words, shade=0.5)
    large, small = png.write_looks(looks)
    assert np.abs(pixels(large) - pixels(png.write(first, size=(600, 450)))).mean() < 0.01
    alone = pixels(png.write(second, size=(380, 310), caption="By itself", shade=0.5))
    assert pixels(small).shape == alone.shape
    differ = np.abs(pixels(small) - alone)[..., :3].max(axis=2)
    assert differ.mean() < 2.5 and (differ > 60).mean() < 0.02  # lines are as much thinner as the view is smaller
    shift = np.abs(pixels(small)[:, 2:] - alone[:, :-2])[..., :3].mean()
    assert differ.mean() < 0.6 * shift


def test_small_round_things_are_made_of_less_and_are_no_further_off_than_said():
    for across, pixel in ((80.0, 0.5), (80.0, 1.5), (30.0, 0.5), (12.0, 1.0)):
        count = shell_scene.sides(across, pixel, 1000)
        off = across / 2 * (1 - np.cos(np.pi / count)) / pixel
        assert off <= shell_scene.OFF + 1e-9 and count >= shell_scene.LEAST
        if count > shell_scene.LEAST:
            assert across / 2 * (1 - np.cos(np.pi / (count - 1))) / pixel > shell_scene.OFF
    assert shell_scene.sides(80.0, None, 32) == 32 == shell_scene.sides(80.0, 0.01, 32)
    assert shell_scene.sides(0.1, 5.0, 32) == shell_scene.LEAST


def test_a_mesh_halved_in_places_has_no_gaps():
    ball = trimesh.creation.icosphere(2)
    faces, count = np.array(ball.faces), len(ball.vertices)
    fine, ends = subdivision.subdivided(faces, count)
    assert np.array_equal(subdivision.parents(fine), faces)
    points = np.vstack([ball.vertices, ball.vertices[ends].mean(axis=1)])
    rng = np.random.default_rng(6)
    for share in (0.0, 0.15, 0.5, 1.0):
        wanted = rng.random(len(ends)) < share
        some = subdivision.subdivided_where(faces, ends, count, wanted)
        mesh = trimesh.Trimesh(points, some, process=False)
        assert mesh.is_watertight and mesh.is_winding_consistent and len(some) == len(faces) + 2 * wanted.sum()
        assert mesh.volume == pytest.approx(trimesh.Trimesh(points, faces, process=False).volume)
        assert set(count + np.flatnonzero(wanted)) == set(some[some >= count].tolist())
    everything = subdivision.subdivided_where(faces, ends, count, np.ones(len(ends), bool))
    assert {tuple(sorted(f)) for f in everything.tolist()} == {tuple(sorted(f)) for f in fine.tolist()}


def test_many_meshes_are_creased_as_each_is_alone():
    made = trimesh.creation.box(), trimesh.creation.icosphere(1), trimesh.creation.cylinder(2.0, 3.0, sections=24)
    meshes = [(np.array(mesh.vertices), np.array(mesh.faces)) for mesh in made]
    for alone, together in zip((creased(*mesh) for mesh in meshes), creased_each(meshes), strict=True):
        assert all(np.array_equal(a, b) for a, b in zip(alone, together, strict=True))
    assert creased_each([]) == []


@pytest.mark.parametrize("bands", [3, 4])
def test_files_hold_the_pixels_that_were_drawn(bands):
    drawn = np.random.default_rng(8).integers(0, 256, (37, 53, bands), dtype=np.uint8)
    data = png._encode(Image.fromarray(drawn))
    Image.open(io.BytesIO(data)).verify()
    read_ = Image.open(io.BytesIO(data))
    assert read_.mode == ("RGB" if bands == 3 else "RGBA") and np.array_equal(np.asarray(read_), drawn)
