"""Cutting the dome into pieces: laws of topology and mirroring, on small domes whose seams can be counted by hand."""

from __future__ import annotations

import numpy as np
import pytest
from polar import bowl, cap, shell

from shellgen.errors import FitError, GeometryError
from shellgen.geom.cutting import cut_open, euler_characteristics
from shellgen.geom.halfedges import chain_of_edges, cycles, next_half_edges, twins
from shellgen.geom.triangles import areas
from shellgen.pattern.seams import cut, line_plates

MID = -5.0


@pytest.fixture(scope="module")
def dome():
    """A centre plate at the crown, a ring of 6 and a ring of 12, no two rows of lines in step."""
    rings = [(0.3, []), (0.65, [2, 6, 10, 14, 18, 22]), (1.0, [0, 3, 4, 8, 9, 12, 15, 16, 20, 21])]
    return shell(bowl(560.0, 460.0, 180.0), rings, around=24, steps=3)


def inner(layout):
    return [i for i, line in enumerate(layout.lines) if line.kind == "plate"]


def rays(layout, ring):
    return [i for i, line in enumerate(layout.lines) if line.kind == "plate" and line.left >= 0 and line.right >= 0
            and layout.plates[layout.cell_plate[line.left]].kind == layout.plates[layout.cell_plate[line.right]].kind
            == f"ring{ring}"]  # fmt: skip


PLANS = ["all", "rays of the outer ring", "nothing"]


def lines_of(layout, plan):
    if plan == "all":
        return inner(layout)
    if plan == "nothing":
        return []
    return rays(layout, 2)


@pytest.fixture(scope="module", params=PLANS)
def result(dome, request):
    layout, mesh = dome
    return layout, mesh, cut(mesh, layout, lines_of(layout, request.param), mid_offset=MID)


def test_every_seam_stands_on_exactly_two_sides(result):
    _, _, made = result
    stands = {i: [] for i in range(len(made.seams))}
    for p, piece in enumerate(made.pieces):
        for s, side in enumerate(piece.sides):
            if side.seam >= 0:
                stands[side.seam].append((p, s))
    for i, seam in enumerate(made.seams):
        assert sorted(seam.sides) == stands[i] and len(set(stands[i])) == 2
        chains, forward = [], []
        for p, s in seam.sides:
            side = made.pieces[p].sides[s]
            chains.append(made.pieces[p].shell_vertices[side.vertices])
            forward.append(side.forward)
        assert sorted(forward) == [False, True]  # counter-clockwise on both, so they run against each other
        for chain, along in zip(chains, forward, strict=True):
            assert np.array_equal(chain if along else chain[::-1], seam.vertices)
        assert seam.dart == (seam.sides[0][0] == seam.sides[1][0])
    assert sorted(line for seam in made.seams for line in seam.lines) == list(made.cut_lines)


def test_pieces_are_discs_that_cover_the_dome(result):
    layout, mesh, made = result
    used = np.concatenate([piece.shell_faces for piece in made.pieces])
    assert np.array_equal(np.sort(used), np.arange(len(mesh.faces)))
    points = mesh.offset(MID)
    total = sum(areas(points[piece.shell_vertices], piece.faces).sum() for piece in made.pieces)
    assert total == pytest.approx(areas(points, mesh.faces).sum(), rel=1e-12)
    assert sorted(cell for piece in made.pieces for cell in piece.cells) == list(range(len(layout.cells)))
    for piece in made.pieces:
        assert np.array_equal(euler_characteristics(cut_open(piece.faces, np.zeros(piece.faces.size, bool))), [1])
        assert np.array_equal(
            np.sort(piece.shell_vertices[piece.faces], axis=1), np.sort(mesh.faces[piece.shell_faces], axis=1)
        )


def test_outline_is_the_boundary_of_the_piece_once_counter_clockwise(result):
    _, _, made = result
    for piece in made.pieces:
        ends = [side.vertices[[0, -1]] for side in piece.sides]
        for (_, end), (start, _) in zip(ends, ends[1:] + ends[:1], strict=True):
            assert end == start
        walk = np.concatenate([np.column_stack([side.vertices[:-1], side.vertices[1:]]) for side in piece.sides])
        tail = piece.faces.ravel()
        head = tail[next_half_edges(len(piece.faces))]
        rim = twins(piece.faces) < 0
        assert sorted(map(tuple, walk.tolist())) == sorted(zip(tail[rim].tolist(), head[rim].tolist(), strict=True))


def test_right_pieces_are_left_pieces_mirrored(result):
    layout, mesh, made = result
    points = mesh.offset(MID)
    made_of = {line: i for i, seam in enumerate(made.seams) for line in seam.lines}
    swap = str.maketrans("LR", "RL")
    for i, piece in enumerate(made.pieces):
        mate = made.pieces[piece.mirror]
        assert mate.mirror == i
        assert mate.name == piece.name.translate(swap)
        if piece.side == "C":
            assert mate is piece
            continue
        assert np.array_equal(mate.shell_vertices, mesh.mirror[piece.shell_vertices])
        assert np.array_equal(mate.faces, piece.faces[:, [0, 2, 1]])
        assert np.array_equal(points[mate.shell_vertices], points[piece.shell_vertices] * (1, -1, 1))
        for side, back in zip(piece.sides, reversed(mate.sides), strict=True):
            assert np.array_equal(side.vertices, back.vertices[::-1])
            if side.seam >= 0:
                assert side.forward != back.forward
                assert swapped(made.seams[side.seam].name) == sorted(made.seams[back.seam].name.split("~"))
    for seam in made.seams:
        twin = made.seams[made_of[layout.lines[seam.lines[0]].mirror]]
        if twin is not seam:
            assert np.array_equal(twin.vertices, mesh.mirror[seam.vertices])
            assert twin.design_length == pytest.approx(seam.design_length, rel=1e-12)
            assert [made.pieces[p].mirror for p, _ in seam.sides] == [p for p, _ in twin.sides]


def swapped(name):
    swap = str.maketrans("LR", "RL")
    return sorted(part[0].translate(swap) + part[1:] for part in name.split("~"))


def test_hand_count_of_sides_and_seams(dome):
    layout, mesh = dome
    made = cut(mesh, layout, inner(layout), mid_offset=MID)
    assert len(made.pieces) == 1 + 6 + 10
    crown = next(piece for piece in made.pieces if piece.name == "C-crown-1")
    assert [side.seam >= 0 for side in crown.sides] == [True] * 6
    outer = [piece for piece in made.pieces if "-rim-" in piece.name]
    assert len(outer) == 10 and all(sum(side.seam < 0 for side in piece.sides) == 1 for piece in outer)
    # 6 round the crown, 6 rays, 10 rays; the ring between: cut at 6 + 10 places, none in common
    assert len(made.seams) == 6 + 6 + 10 + 16
    assert not any(seam.dart for seam in made.seams)
    assert sum(seam.design_length for seam in made.seams) == pytest.approx(
        sum(
            np.linalg.norm(np.diff(mesh.offset(MID)[mesh.line_vertices[i]], axis=0), axis=1).sum()
            for i in inner(layout)
        )
    )


def test_names_run_from_head_to_tail_on_each_side(dome):
    layout, mesh = dome
    made = cut(mesh, layout, inner(layout), mid_offset=MID)
    points = mesh.offset(MID)
    for start in {piece.name.rsplit("-", 1)[0] for piece in made.pieces}:
        row = [piece for piece in made.pieces if piece.name.rsplit("-", 1)[0] == start]
        assert [piece.name for piece in row] == [f"{start}-{k + 1}" for k in range(len(row))]
        x = [points[piece.shell_vertices, 0].mean() for piece in row]
        assert x == sorted(x, reverse=True)
        assert all(
            np.sign(points[piece.shell_vertices, 1].mean().round(6)) == {"L": 1, "R": -1, "C": 0}[start[0]]
            for piece in row
        )


def test_dart_stands_twice_and_its_tip_once(dome):
    layout, mesh = dome
    darts = rays(layout, 2)
    made = cut(mesh, layout, darts, mid_offset=MID)
    (piece,) = made.pieces
    assert len(made.seams) == len(darts) and all(seam.dart for seam in made.seams)
    count = np.bincount(piece.shell_vertices, minlength=len(mesh.uv))
    for seam in made.seams:
        assert np.array_equal(count[seam.vertices], [2] * (len(seam.vertices) - 1) + [1])  # mouth first, tip last
        first, second = sorted((piece.sides[s] for _, s in seam.sides), key=lambda side: not side.forward)
        assert first.vertices[-1] == second.vertices[0]
    assert count.sum() - len(mesh.uv) == sum(len(seam.vertices) - 1 for seam in made.seams)
    assert [seam.name for seam in made.seams] == [f"C-mid-1~dart-{k + 1}" for k in range(len(darts))]


def test_pieces_that_meet_twice_and_a_dart_on_a_seam():
    layout, mesh = shell(cap(200.0, 1.0), [(0.4, []), (0.7, [0, 4, 8, 12]), (1.0, [4, 12])], around=16, steps=2)
    round_crown = [i for i in inner(layout) if any("ring0" in name for name in line_plates(layout, i))]
    across = [i for i in rays(layout, 1) + rays(layout, 2) if abs(mesh.uv[mesh.line_vertices[i][1], 1]) > 0.1]
    dart = [i for i in rays(layout, 1) if mesh.uv[mesh.line_vertices[i][1], 0] > 0.4]
    made = cut(mesh, layout, round_crown + across + dart, mid_offset=0.0)
    assert [piece.name for piece in made.pieces] == ["C-crown-1", "C-mid-1", "C-mid-2"]
    # head and tail meet on the left and on the right; the dart's mouth parts the seam of crown and head
    assert [seam.name for seam in made.seams] == [
        "C-crown-1~C-mid-1", "C-crown-1~C-mid-1-2", "C-crown-1~C-mid-2",
        "C-mid-1~dart-1", "C-mid-1~C-mid-2", "C-mid-1~C-mid-2-2",
    ]  # fmt: skip
    assert mesh.points[made.seams[0].vertices, 1].mean() > 0 > mesh.points[made.seams[1].vertices, 1].mean()
    assert [len(seam.lines) for seam in made.seams] == [1, 1, 2, 1, 2, 2]


def test_uncut_dome_has_one_side_all_rim(dome):
    layout, mesh = dome
    made = cut(mesh, layout, [], mid_offset=MID)
    (piece,) = made.pieces
    (side,) = piece.sides
    assert side.seam == -1 and side.vertices[0] == side.vertices[-1] and len(side.vertices) == 25


def test_ring_is_refused(dome):
    layout, mesh = dome
    crown = next(i for i, plate in enumerate(layout.plates) if plate.kind == "ring0")
    round_it = [i for i in inner(layout) if layout.plates[crown].name in line_plates(layout, i)]
    with pytest.raises(FitError, match=r"piece C-mid-1 .*hole"):
        cut(mesh, layout, round_it, mid_offset=MID)


def test_one_sided_cut_and_rim_are_refused(dome):
    layout, mesh = dome
    one = next(i for i in inner(layout) if layout.lines[i].mirror != i)
    with pytest.raises(GeometryError, match="mirror image"):
        cut(mesh, layout, [one], mid_offset=MID)
    rim = next(i for i, line in enumerate(layout.lines) if line.kind == "rim")
    with pytest.raises(GeometryError, match="cannot be cut"):
        cut(mesh, layout, [rim], mid_offset=MID)


def test_turning_differences_along_the_seams_make_up_the_curvature(result):
    """Gauss-Bonnet on the cut pieces: the curvature of the dome is what is missing to a full turn in all of them."""
    _, mesh, made = result
    points = mesh.offset(MID)
    total = 0.0
    for piece in made.pieces:
        corners = points[piece.shell_vertices][piece.faces]
        ahead, behind = np.roll(corners, -1, axis=1) - corners, np.roll(corners, 1, axis=1) - corners
        angle = np.arccos((ahead * behind).sum(-1) / np.linalg.norm(ahead, axis=-1) / np.linalg.norm(behind, axis=-1))
        sums = np.bincount(piece.faces.ravel(), angle.ravel())
        outline = np.unique(np.concatenate([side.vertices for side in piece.sides]))
        inside = np.setdiff1d(np.arange(len(sums)), outline)
        total_piece = (2 * np.pi - sums[inside]).sum() + (np.pi - sums[outline]).sum()
        assert total_piece == pytest.approx(2 * np.pi, abs=1e-9)
        total += total_piece
    assert total == pytest.approx(2 * np.pi * len(made.pieces), abs=1e-8)


def test_slit_of_a_strip():
    faces = np.array([[0, 1, 2], [1, 3, 2], [2, 3, 4]])
    opened = cut_open(faces, edge(faces, 2, 3))
    assert opened.patch.tolist() == [0, 0, 1]
    assert len(np.unique(opened.corner)) == 7 and [len(loop) for loop in cycles(opened.after)] == [4, 3]
    with pytest.raises(GeometryError):
        twins(np.array([[0, 1, 2], [0, 1, 3]]))


def edge(faces, a, b):
    tail = faces.ravel()
    head = tail[next_half_edges(len(faces))]
    return ((tail == a) & (head == b)) | ((tail == b) & (head == a))


def test_chain_of_edges_marks_each_edge_of_the_cut_on_both_faces(dome):
    layout, mesh = dome
    chain = chain_of_edges(mesh.faces, [mesh.line_vertices[i] for i in inner(layout)])
    for k, i in enumerate(inner(layout)):
        assert (chain == k).sum() == 2 * (len(mesh.line_vertices[i]) - 1)


def test_a_chain_past_vertices_that_no_face_has_marks_no_edge():
    """As half a mesh is cut along lines of both halves."""
    for stray in range(3, 12):
        for near in range(3):
            assert (chain_of_edges(np.array([[0, 1, 2]]), [np.array([near, stray])]) == -1).all()
