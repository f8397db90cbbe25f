"""One half of a mirrored sheet comes to rest where the whole one does; a sheet that is not mirrored is left whole."""

from dataclasses import replace

import numpy as np
import polar
import pytest
import shapely
from cuttings import net_of, random_sets, small_dome, turtle_dome
from scipy.sparse.linalg import spsolve

from shellgen.geom import welded_sheet as sheets
from shellgen.geom.bending import plate_matrix
from shellgen.geom.half_sheet import half_sheet, is_symmetric
from shellgen.geom.triangles import areas
from shellgen.model import FoamSheet
from shellgen.pattern import flatten, proof, seams
from shellgen.pattern.plans._graph import opened_shape
from shellgen.pattern.proof import rest

RINGS = [(0.35, []), (0.7, [3, 9, 15, 21]), (1.0, [5, 10, 14, 19])]


@pytest.fixture(scope="module")
def dome():
    layout, mesh = polar.shell(polar.bowl(560, 460, 180), RINGS, around=24, steps=4)
    lines = [i for i, line in enumerate(layout.lines) if line.kind == "plate"]
    cut = seams.cut(mesh, layout, lines, mid_offset=-5.0)
    shares = [(0.0, 0.4, 0.7, 1.0)] * len(cut.seams)
    return mesh, cut, flatten.build(mesh, cut, flatten.Params(), FoamSheet(10.0), intervals=shares)


@pytest.fixture(scope="module")
def whole(dome):
    return dome[0].faces, half_sheet(dome[0].faces, dome[0].mirror, np.arange(0))


def test_half_a_sheet_is_half_of_it(dome, whole):
    faces, one = whole
    points = dome[0].points
    assert 2 * len(one.faces) == len(faces)
    assert (one.restrict(points)[one.middle][:, 1] == 0).all()
    assert np.abs(one.prolong(one.restrict(points)) - points).max() < 1e-12
    assert len({*np.sign(points[one.vertices[~one.middle], 1])}) == 1
    assert areas(one.restrict(points), one.faces).sum() * 2 == pytest.approx(areas(points, faces).sum(), rel=1e-12)


@pytest.mark.parametrize("across", (False, True))
def test_bending_of_half_a_plate_is_half_of_the_bending(dome, whole, across):
    """For any places that are even, or turned about, over the plane; compared with the matrix of the whole."""
    faces, one = whole
    flat = dome[0].uv
    along = np.cos(3 * flat[:, 0]) + flat[:, 1] ** 2 * np.sin(2 * flat[:, 0] + 1)
    places = along * np.sin(2 * flat[:, 1]) if across else along
    bent = plate_matrix(flat[faces], faces, poisson=0.3)
    mine = flat[one.vertices]
    part = plate_matrix(mine[one.faces], one.faces, poisson=0.3, middle=one.middle, across=across)
    own = places[one.vertices]
    assert 2 * own @ part @ own == pytest.approx(places @ bent @ places, rel=1e-12)


def test_half_a_plate_sags_as_the_whole(dome, whole):
    faces, one = whole
    flat = dome[0].uv

    def sag(places, faces, middle, load):
        plate = plate_matrix(places[faces], faces, poisson=0.3, middle=middle)
        free = np.hypot(*places.T) < 1 - 1e-9
        weight = np.bincount(faces.ravel(), np.repeat(load * areas(places, faces) / 3, 3))
        down = np.zeros(len(places))
        down[free] = spsolve(plate[free][:, free].tocsc(), weight[free])
        return down

    down = sag(flat, faces, None, 1.0)
    assert sag(flat[one.vertices], one.faces, one.middle, 1.0) == pytest.approx(down[one.vertices], abs=1e-9)


@pytest.mark.parametrize("made", ["rings", "turtle"])
def test_half_a_piece_lies_flat_as_the_whole(made):
    """Centre pieces, with and without darts, one of them along it."""
    layout, mesh = small_dome() if made == "rings" else turtle_dome()
    net, darted = net_of(layout, mesh), set()
    everything = np.ones(len(net.choices), dtype=bool)
    for chosen in (everything, ~everything, *random_sets(net, 60, seed=2)):
        if not net.anchored(net.cut(chosen)):
            continue
        for part in net.parts(chosen):
            if net.count(part) == 2:
                continue
            half, whole = opened_shape(mesh, mesh.points, part, centred=True), opened_shape(mesh, mesh.points, part)
            flat, faces = half.whole(half.points[:, :2])
            assert half.held is not None and len(faces) == len(whole.faces) and len(flat) == len(whole.points)
            one, other = flatten.alone([half, whole], flatten.Params())
            assert one.stretch == pytest.approx(other.stretch, rel=0.03)  # each within 2 % of the least
            if np.isfinite(one.stretch):
                assert shapely.area(shapely.Polygon(one.outline)) == pytest.approx(
                    shapely.area(shapely.Polygon(other.outline)), rel=0.01
                )
            darted.add(bool(part.darts))
    assert darted == {False, True}


def test_built_from_one_half_or_from_the_whole_the_shell_is_the_same(dome, monkeypatch):
    mesh, cut, pattern = dome
    of, foam = (mesh, cut, pattern, proof.Params()), {"thickness": 10.0}

    def built():
        glued = rest.glue(*of, **foam)
        return [glued, *rest.form(*of, glued, **foam, limits=(0.03, 0.03)), rest.flawless(*of, glued, **foam)]

    halves = built()
    monkeypatch.setattr(sheets, "is_symmetric", lambda *_: False)
    for one, other in zip(halves, built(), strict=True):
        assert one.settled and other.settled
        assert np.abs(one.points - other.points).max() < sheets.FINE
        assert np.abs(one.points[mesh.mirror] * (1, -1, 1) - one.points).max() < 1e-9


def test_a_fault_on_one_side_alone_is_not_mirrored_away(dome):
    mesh, cut, pattern = dome
    number = next(k for k, piece in enumerate(cut.pieces) if piece.name.startswith("R"))
    flats = list(pattern.flats)
    flats[number] = replace(flats[number], flat=flats[number].flat * 1.01)
    wrong = replace(pattern, flats=tuple(flats))
    assert is_symmetric(*_at_ease(mesh, cut, pattern)) and not is_symmetric(*_at_ease(mesh, cut, wrong))
    made = rest.glue(mesh, cut, wrong, proof.Params(), thickness=10.0)
    assert np.abs(made.points[mesh.mirror] * (1, -1, 1) - made.points).max() > 0.1


def _at_ease(mesh, cut, pattern):
    sheet, _, _ = rest.weld_pieces(mesh, cut, pattern)
    return sheet.faces, sheet.rest, mesh.mirror


def test_a_sheet_whose_triangles_cross_the_plane_is_left_whole():
    faces = np.array([[0, 1, 2], [2, 1, 3], [0, 3, 1]])
    assert half_sheet(faces, np.array([1, 0, 2, 3]), np.arange(0)) is None
