"""The order of gluing, by the laws that a hand at the bench needs."""

from itertools import groupby
from types import SimpleNamespace

import numpy as np
import pytest
from polar import bowl, shell
from test_seams import inner, rays

from shellgen.model import Mark
from shellgen.pattern.joins import joins
from shellgen.pattern.seams import cut
from shellgen.record.handwork import _radius, heat

NOWHERE = (0, 0.0, 0.0, 0.0)
RINGS = [(0.3, []), (0.65, [2, 6, 10, 14, 18, 22]), (1.0, [0, 3, 4, 8, 9, 12, 15, 16, 20, 21])]


@pytest.fixture(scope="module")
def dome():
    return shell(bowl(560.0, 460.0, 180.0), RINGS, around=24, steps=3)


@pytest.fixture(scope="module", params=["every line", "darts", "fewer towards the head"])
def glued(request, dome):
    """mesh, cut, joins; four marks on every seam."""
    layout, mesh = dome
    lines = {
        "every line": inner(layout),
        "darts": rays(layout, 2),
        "fewer towards the head": [
            k for k in inner(layout) if k not in rays(layout, 2) or mesh.uv[mesh.line_vertices[k], 0].mean() < 0.4
        ],
    }[request.param]
    made = cut(mesh, layout, lines, mid_offset=-5.0)
    marks = [Mark(4 * k + j, k, j / 3, (NOWHERE, NOWHERE)) for k in range(len(made.seams)) for j in range(4)]
    return mesh, made, marks, joins(made, mesh, marks)


def test_every_seam_is_glued_once_and_the_darts_first(glued):
    _, made, marks, order = glued
    assert sorted(join.seam for join in order) == list(range(len(made.seams)))
    assert [join.number for join in order] == list(range(1, len(order) + 1))
    darts = [join.dart for join in order]
    assert darts == sorted(darts, reverse=True)
    for join in order:
        assert sorted(join.marks) == [mark.number for mark in marks if mark.seam == join.seam]
        assert {join.piece, join.to} == {made.pieces[k].name for k, _ in made.seams[join.seam].sides}


def test_a_dart_is_closed_from_its_tip(glued):
    """A dart's vertices run from its mouth to its tip, so its last mark by the seam is the first brought together."""
    _, _, _, order = glued
    for join in order:
        if join.dart:
            assert list(join.marks) == sorted(join.marks, reverse=True)


def test_a_piece_is_only_ever_joined_to_what_already_stands(glued):
    mesh, made, _, order = glued
    crown = int(np.argmin(np.hypot(*mesh.uv.T)))
    stands = {next(p.name for p in made.pieces if crown in p.shell_vertices)}
    whole = [join for join in order if not join.dart]
    comings = [name for name, _ in groupby(join.piece for join in whole)]
    assert len(comings) == len(set(comings)) == len(made.pieces) - 1, "all joins of a piece follow one another"
    for name, group in groupby(whole, key=lambda join: join.piece):
        assert all(join.to in stands for join in group) and name not in stands
        stands.add(name)


def test_every_join_begins_at_what_is_held(glued):
    """After the first join of a piece, each begins at a corner where one before it ended, wherever it touches one."""
    _, made, _, order = glued
    for _, group in groupby((join for join in order if not join.dart), key=lambda join: join.piece):
        held = set()
        for join in group:
            ends = [int(v) for v in made.seams[join.seam].vertices[[0, -1]]]
            if held & set(ends):
                assert ends[0 if join.forward else 1] in held
            held |= set(ends)


def test_left_comes_just_before_its_mirror_image(glued):
    _, made, _, order = glued
    comings = [name for name, _ in groupby(join.piece for join in order if not join.dart)]
    mirror = {piece.name: made.pieces[piece.mirror].name for piece in made.pieces}
    for k, name in enumerate(comings):
        if name.startswith("L"):
            assert comings[k + 1] == mirror[name]


def test_radius_of_a_circle_through_three_points():
    """Any three points of a circle of 170 mm; none on a line."""
    turn = np.array([0.2, 1.1, 2.9])
    points = 170 * np.stack([np.cos(turn), np.sin(turn), 0 * turn], axis=1) + (5, 6, 7)
    assert _radius(points) == pytest.approx(170)
    assert _radius(np.outer([0.0, 1.0, 2.0], [1.0, 2.0, 2.0])) == np.inf


def test_a_dart_that_forks_is_closed_branch_by_branch_and_then_its_trunk(dome):
    layout, mesh = dome
    trunk = next(k for k in rays(layout, 2) if layout.lines[k].mirror != k)
    node = {layout.lines[trunk].start, layout.lines[trunk].end} - {
        end for line in layout.lines if line.kind == "rim" for end in (line.start, line.end)
    }
    arms = [k for k in inner(layout) if k != trunk and node & {layout.lines[k].start, layout.lines[k].end}]
    fork = [trunk, *(k for k in arms if k not in rays(layout, 1) and k not in rays(layout, 2))]
    made = cut(mesh, layout, sorted({*fork, *(layout.lines[k].mirror for k in fork)}), mid_offset=-5.0)
    assert len(fork) == 3 and all(seam.dart for seam in made.seams)
    order = [(made.seams[join.seam].vertices[:: 1 if join.forward else -1]) for join in joins(made, mesh, [])]
    assert len(order) == 6
    closed = set()
    for vertices in order:  # what a join begins at is a tip, or where all branches that met there are closed
        met = [k for k, other in enumerate(order) if vertices[0] in other[[0, -1]]]
        assert all(k in closed or order[k] is vertices for k in met)
        closed.add(next(k for k, other in enumerate(order) if other is vertices))


@pytest.mark.parametrize(("more", "plate"), [(1e-9, "left"), (-1e-9, "left"), (1e-3, "right")])
def test_of_two_plates_heated_alike_the_left_is_named_however_sums_are_rounded(more, plate):
    alike = np.array([[0.99, 1.0], [0.97, 1.02], [0.99, 1.0], [0.97, 1.02]])
    alike[3] += [-more, more]
    plates = [SimpleNamespace(name=name) for name in ("left", "right")]
    piece = SimpleNamespace(name="C-crown-1", shell_faces=np.array([3, 1, 2, 0]))
    shell = SimpleNamespace(
        foam=SimpleNamespace(cut=SimpleNamespace(pieces=[piece])),
        proof=SimpleNamespace(heat=alike),
        ground=SimpleNamespace(
            mesh=SimpleNamespace(face_cell=np.array([0, 0, 1, 1])),
            layout=SimpleNamespace(cell_plate=[0, 1], plates=plates),
        ),
    )
    found = heat(shell, 0)
    assert (found.stretch_plate, found.press_plate) == (plate, plate)
    assert (found.stretch, found.press) == (round(0.02 + max(more, 0), 5), round(0.03 + max(more, 0), 5))
