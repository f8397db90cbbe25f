"""Laying the pieces of whole domes flat: mates, mirror, curvature, poses and bevels."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh
import yaml
from polar import bowl, cap, shell

from shellgen.dome import mesh as meshes
from shellgen.dome.surfaces import plan
from shellgen.errors import GeometryError
from shellgen.geom.distortion import singular_values
from shellgen.geom.flattening import Shape
from shellgen.geom.triangles import angle_deficits, areas, corner_angles, inner_vertices
from shellgen.model import Cut, FlatPiece, FoamSheet, Pattern
from shellgen.pattern import bevels, flatten, marks, seams
from shellgen.plates import turtle

ROWS = {
    row["id"]: row
    for row in yaml.safe_load((Path(__file__).parents[1] / "published/flattening.yaml").read_text("utf-8"))
}
EVEN = flatten.Params(compression=1.0)
THICKNESS = 10.0
MID = FoamSheet(THICKNESS).mid_offset


def plates(layout):
    return [i for i, line in enumerate(layout.lines) if line.kind == "plate"]


def rays(layout):
    """Lines that run outward through the outermost ring: cut alone, they are darts of one piece."""
    ends = [np.hypot(*np.array(line.uv)[[0, -1]].T) for line in layout.lines]
    return [i for i in plates(layout) if ends[i].max() > 0.99 and ends[i].min() < 0.7]


def marked(mesh, made):
    return marks.along(made, mesh, MID, marks.Params())


@pytest.fixture(scope="module")
def dome():
    rings = [(0.3, []), (0.65, [4, 12, 20, 28, 36, 44]), (1.0, [0, 6, 8, 16, 18, 24, 30, 32, 40, 42])]
    return shell(bowl(560.0, 460.0, 180.0), rings, around=48, steps=5)


PLANS = {"every plate": plates, "darts": rays}


@pytest.fixture(scope="module", params=PLANS)
def laid(dome, request):
    layout, mesh = dome
    made = seams.cut(mesh, layout, PLANS[request.param](layout), mid_offset=MID)
    shares = marked(mesh, made)
    pattern = flatten.build(mesh, made, EVEN, FoamSheet(THICKNESS), intervals=shares)
    return layout, mesh, made, shares, pattern


def test_mates_are_equal_between_every_two_marks(laid):
    _, mesh, made, shares, pattern = laid
    gaps = marks.interval_lengths(mesh, made, pattern, shares)
    assert len(gaps) == len(made.seams) > 0
    assert max(np.abs(first - second).max() for first, second in gaps) < 0.01
    assert max(abs((first - second).sum()) for first, second in gaps) < 0.01


def test_right_pieces_are_left_pieces_mirrored(laid):
    _, _, made, _, pattern = laid
    for piece, flat in zip(made.pieces, pattern.flats, strict=True):
        other = pattern.flats[piece.mirror]
        if piece.side == "C":  # about its own middle, to the last bit
            outline = {tuple(p) for p in flat.flat.tolist()}
            assert {(-x + 0.0, y) for x, y in outline} == {(x + 0.0, y) for x, y in outline}
        else:
            assert np.array_equal(flat.flat * np.array([-1.0, 1.0]), other.flat)
        assert np.array_equal(flat.stretch.min(), other.stretch.min())


def test_nothing_folds_and_figures_agree(laid):
    _, mesh, made, _, pattern = laid
    points = mesh.offset(MID)
    for piece, flat in zip(made.pieces, pattern.flats, strict=True):
        assert areas(flat.flat, piece.faces).min() > 0
        curved = points[piece.shell_vertices]
        assert flat.stretch == pytest.approx(1 / singular_values(curved, piece.faces, flat.flat)[:, ::-1])
        outline = shapely.Polygon(flat.flat[np.concatenate([side.vertices[:-1] for side in piece.sides])])
        assert outline.is_valid and outline.area == pytest.approx(flat.area_flat)
        assert flat.area_surface == pytest.approx(areas(curved, piece.faces).sum())
        assert (
            1 / flat.stretch[:, 1].max() ** 2 < flat.area_flat / flat.area_surface < 1 / flat.stretch[:, 0].min() ** 2
        )


def test_pieces_lie_with_the_head_upwards_round_the_origin(laid):
    _, mesh, made, _, pattern = laid
    for piece, flat in zip(made.pieces, pattern.flats, strict=True):
        area = areas(flat.flat, piece.faces)
        assert np.abs(area @ flat.flat[piece.faces].mean(axis=1)).max() / area.sum() < 1e-9
        columns = np.column_stack([flat.flat, np.ones(len(flat.flat))])
        slope = np.linalg.lstsq(columns, mesh.uv[piece.shell_vertices, 0], rcond=None)[0]
        assert slope[1] > 0 and abs(slope[0]) < 1e-9 * slope[1]


@pytest.mark.parametrize("size", [1.0, 1e-3])
@pytest.mark.parametrize("upwards", [1j, -1j])
def test_a_piece_lies_the_same_way_however_it_came_out(laid, upwards, size):
    _, mesh, made, _, pattern = laid
    for piece, flat in zip(made.pieces, pattern.flats, strict=True):
        came_out = size * (flat.flat[:, 0] + 1j * flat.flat[:, 1]) / upwards
        assert flatten._posed(mesh, piece, came_out) == pytest.approx(size * flat.flat, abs=1e-9)


def test_equal_mates_cost_little(dome):
    layout, mesh = dome
    made = seams.cut(mesh, layout, plates(layout), mid_offset=MID)
    shapes = [Shape(mesh.offset(MID)[piece.shell_vertices], piece.faces) for piece in made.pieces]
    apart = max(laid.stretch for laid in flatten.alone(shapes, EVEN))
    pattern = flatten.build(mesh, made, EVEN, FoamSheet(THICKNESS), intervals=marked(mesh, made))
    together = max(max(flat.stretch.max() - 1, 1 / flat.stretch.min() - 1) for flat in pattern.flats)
    assert apart < together < 1.06 * apart


@pytest.mark.parametrize("angle_deg", [30, 60])
def test_gauss_bonnet_on_the_flat_pieces(angle_deg):
    """What the flat pieces lack of a full turn round the inner vertices of the dome, and of half a turn along its rim,
    makes a full turn exactly. The inner part is the dome's curvature, blurred where stretch bends the rim: stretch goes
    with the square of a gore's width and bends by its gradient, so the error must at least halve, or nearly, with every
    doubling."""
    published = ROWS[f"cap-curvature-{angle_deg}"]
    errors = []
    for count in (4, 8, 16, 32):
        cuts = list(range(0, 64, 64 // count))
        layout, mesh = shell(cap(300.0, np.radians(angle_deg)), [(1.0, cuts)], around=64, steps=12)
        made = seams.cut(mesh, layout, plates(layout), mid_offset=MID)
        pattern = flatten.build(mesh, made, EVEN, FoamSheet(THICKNESS), intervals=marked(mesh, made))
        around = np.zeros(len(mesh.points))
        for piece, flat in zip(made.pieces, pattern.flats, strict=True):
            np.add.at(around, piece.shell_vertices[piece.faces], corner_angles(flat.flat, piece.faces))
        inside = inner_vertices(mesh.faces, len(mesh.points))
        deficits = np.where(inside, 2 * np.pi, np.pi) - around
        assert deficits.sum() == pytest.approx(2 * np.pi, abs=1e-9)
        off_seams = np.setdiff1d(np.flatnonzero(inside), np.concatenate([seam.vertices for seam in made.seams]))
        assert np.abs(deficits[off_seams]).max() < 1e-9  # within a piece the plane is flat
        curved = angle_deficits(mesh.offset(MID), mesh.faces)[inside].sum()
        errors.append(1 - deficits[inside].sum() / curved)
    # the curved mesh itself falls short by the half row of triangles along the rim
    short = np.radians(angle_deg) / 24 / np.tan(np.radians(angle_deg) / 2)
    assert np.degrees(curved) / published["value"] == pytest.approx(1 - short, abs=0.01)
    assert (np.divide(errors[:-1], errors[1:]) > 1.8).all()
    assert 0 < errors[-1] < 0.02


def test_neutral_axis_and_thickness_set_the_surface(dome):
    layout, mesh = dome
    made = seams.cut(mesh, layout, plates(layout), mid_offset=MID)
    shares = marked(mesh, made)
    sizes = []
    for share, thickness in ((1.0, 10.0), (0.5, 10.0), (0.0, 10.0), (0.5, 20.0)):
        params = flatten.Params(compression=1.0)
        pattern = flatten.build(mesh, made, params, FoamSheet(thickness, share), intervals=shares)
        sizes.append((pattern.mid_offset, sum(flat.area_surface for flat in pattern.flats)))
    assert [offset for offset, _ in sizes] == [0.0, -5.0, -10.0, -10.0]
    assert sizes[0][1] > sizes[1][1] > sizes[2][1] == sizes[3][1]


def test_laying_flat_is_repeatable(laid):
    _, mesh, made, shares, pattern = laid
    again = flatten.build(mesh, made, EVEN, FoamSheet(THICKNESS), intervals=shares)
    for one, other in zip(pattern.flats, again.flats, strict=True):
        assert np.array_equal(one.flat, other.flat)


def test_marks_of_either_half_hold_on_both(dome):
    """Marks set on one side of the dome only are kept on the other as well."""
    layout, mesh = dome
    made = seams.cut(mesh, layout, plates(layout), mid_offset=MID)
    shares = [(0.0, 0.37, 1.0) if made.pieces[seam.sides[1][0]].side == "R" else (0.0, 1.0) for seam in made.seams]
    pattern = flatten.build(mesh, made, EVEN, FoamSheet(THICKNESS), intervals=shares)
    everywhere = [(0.0, 0.37, 1.0) if seam.sides[1] != seam.sides[0] and made.pieces[seam.sides[1][0]].side != "C"
                  else (0.0, 1.0) for seam in made.seams]  # fmt: skip
    gaps = marks.interval_lengths(mesh, made, pattern, everywhere)
    assert max(np.abs(first - second).max() for first, second in gaps) < 0.01


@pytest.mark.parametrize("mark", [0.2, 0.8])
def test_a_mark_on_one_half_of_a_seam_across_the_midline_holds_on_its_other_half(dome, mark):
    layout, mesh = dome
    made = seams.cut(mesh, layout, plates(layout), mid_offset=MID)
    across = [np.array_equal(mesh.mirror[seam.vertices], seam.vertices[::-1]) for seam in made.seams]
    assert any(across)
    pattern = flatten.build(
        mesh, made, EVEN, FoamSheet(THICKNESS), intervals=[(0.0, mark, 1.0) if a else (0.0, 1.0) for a in across]
    )
    both = [(0.0, 0.2, 0.8, 1.0) if a else (0.0, 1.0) for a in across]
    gaps = marks.interval_lengths(mesh, made, pattern, both)
    assert max(np.abs(first - second).max() for first, second in gaps) < 0.01


def test_mates_close_where_small_flat_plates_meet_strongly_curved_ones():
    """Largest stretches of neighbours differ a hundredfold here."""
    surface = plan.build(plan.Params(length=189.4, height=237.8))
    layout = turtle.build(surface, turtle.Params(vertebrals=5, pleurals=5, marginals=7))
    mesh = meshes.build(surface, layout, meshes.Params(edge=20.0))
    made = seams.cut(mesh, layout, plates(layout), mid_offset=MID)
    shares = marked(mesh, made)
    pattern = flatten.build(mesh, made, flatten.Params(), FoamSheet(THICKNESS), intervals=shares)
    gaps = marks.interval_lengths(mesh, made, pattern, shares)
    assert max(np.abs(first - second).max() for first, second in gaps) < 0.01


def test_a_piece_that_overlaps_itself_is_reported():
    """A band that turns through more than a full circle when laid flat."""
    layout, mesh = shell(cap(300.0, 2.9), [(0.5, []), (1.0, [0])], around=24, steps=4)
    made = seams.cut(mesh, layout, [i for i in plates(layout)], mid_offset=0.0)
    band = max(range(len(made.pieces)), key=lambda i: len(made.pieces[i].faces))
    piece = made.pieces[band]
    spiral = _spiral(mesh, piece)
    pattern = Pattern((FlatPiece(spiral, np.ones((len(piece.faces), 2)), 1.0, 1.0),), 0.0)
    with pytest.raises(GeometryError, match="overlaps itself"):
        flatten.check_overlaps(Cut((), (piece,), ()), pattern)


def _spiral(mesh, piece):
    uv = mesh.uv[piece.shell_vertices]
    turn = np.arctan2(uv[:, 1], uv[:, 0]) % (2 * np.pi)
    radius = 100 * np.hypot(*uv.T)
    return np.column_stack([radius * np.cos(1.3 * turn), radius * np.sin(1.3 * turn)])


# ---- bevels ----------------------------------------------------------------------------------------------------------


def test_formed_pieces_of_a_smooth_dome_are_cut_square(laid):
    _, mesh, made, _, pattern = laid
    for bevel in bevels.build(mesh, made, pattern, formed=True):
        assert max(abs(bevel.mean), abs(bevel.low), abs(bevel.high)) < 1e-12


def octahedron(uv):
    """The upper four faces of a regular octahedron over the disc."""
    r = np.hypot(*uv.T)
    unit = np.divide(uv, r[:, None], out=np.zeros_like(uv), where=r[:, None] > 0)
    plan = 200 * uv / np.maximum(np.abs(unit).sum(axis=1, keepdims=True), 1e-12)
    return np.column_stack([plan, 200 - np.abs(plan).sum(axis=1)]), np.tile([0.0, 0.0, 1.0], (len(uv), 1))


def test_flat_pieces_meet_at_the_dihedral_angle():
    layout, mesh = shell(octahedron, [(1.0, [0, 4, 8, 12])], around=16, steps=4)
    made = seams.cut(mesh, layout, plates(layout), mid_offset=0.0)
    pattern = flatten.build(mesh, made, EVEN, FoamSheet(0.0), intervals=[(0.0, 1.0)] * len(made.seams))
    row = ROWS["octahedron-dihedral"]
    for bevel in bevels.build(mesh, made, pattern, formed=False):
        for value in (bevel.mean, bevel.low, bevel.high):
            assert 180 - 2 * np.degrees(value) == pytest.approx(row["value"], abs=row["tolerance"] + 1e-4)


def test_dihedral_angles_of_a_crooked_pyramid_are_those_of_trimesh():
    """trimesh 4, face_adjacency_angles, of the same four faces given by their corners alone."""

    def pyramid(uv):
        points, normals = octahedron(uv)
        return points * np.where(points[:, :1] > 0, (1.0, 0.7, 0.6), (0.5, 0.7, 0.6)), normals

    layout, mesh = shell(pyramid, [(1.0, [0, 4, 8, 12])], around=16, steps=4)
    made = seams.cut(mesh, layout, plates(layout), mid_offset=0.0)
    pattern = flatten.build(mesh, made, EVEN, FoamSheet(0.0), intervals=[(0.0, 1.0)] * len(made.seams))
    feet = np.array([[200.0, 0, 0], [0, 140, 0], [-100, 0, 0], [0, -140, 0]])
    solid = trimesh.Trimesh([*feet, [0, 0, 120]], [[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]], process=False)
    turn = dict(zip(solid.face_adjacency_edges.min(axis=1).tolist(), solid.face_adjacency_angles, strict=True))
    assert len(made.seams) == len(turn) == 4
    for seam, bevel in zip(made.seams, bevels.build(mesh, made, pattern, formed=False), strict=True):
        ends = mesh.points[seam.vertices[[0, -1]]]
        foot = np.linalg.norm(feet - ends[ends[:, 2].argmin()], axis=1).argmin()
        assert 2 * np.array([bevel.mean, bevel.low, bevel.high]) == pytest.approx(turn[foot], abs=1e-6)


def test_bevels_are_mirrored_and_mix(laid):
    _, mesh, made, _, pattern = laid
    found = bevels.build(mesh, made, pattern, formed=False)
    at = {tuple(seam.vertices.tolist()): i for i, seam in enumerate(made.seams)}
    for i, seam in enumerate(made.seams):
        image = mesh.mirror[seam.vertices]
        twin = at.get(tuple(image.tolist()), at.get(tuple(image[::-1].tolist())))
        assert found[i].mean == pytest.approx(found[twin].mean, abs=1e-9)
        assert found[i].low <= found[i].mean <= found[i].high
        assert seam.dart or found[i].mean > 0.01  # a convex dome has ridges
    formed = [i % 2 == 0 for i in range(len(made.pieces))]
    mixed = bevels.build(mesh, made, pattern, formed=formed)
    for seam, mix, flat in zip(made.seams, mixed, found, strict=True):
        if not seam.dart and formed[seam.sides[0][0]] and formed[seam.sides[1][0]]:
            assert abs(mix.mean) < 1e-12
        elif not seam.dart and (formed[seam.sides[0][0]] or formed[seam.sides[1][0]]):
            assert -0.02 < mix.mean < flat.mean + 0.02
