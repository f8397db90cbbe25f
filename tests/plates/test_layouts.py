"""What every layout must keep, on domes for a child and an adult, long, wide and tapered."""

from __future__ import annotations

import charts
import measures
import networkx
import numpy as np
import pytest
import shapely

from shellgen.core import registry
from shellgen.dome.surfaces import plan
from shellgen.errors import GeometryError
from shellgen.plates._draft import Draft
from shellgen.plates._net import Arc, HalfNet, PlateLabel, faces

LAYOUTS = registry.names("shellgen.plates")


@pytest.fixture(scope="module", params=measures.DOMES)
def surface(request):
    return plan.build(measures.DOMES[request.param])


@pytest.fixture(scope="module", params=LAYOUTS)
def built(request, surface):
    member = registry.load("shellgen.plates", request.param)
    return surface, member.build(surface, charts.params(request.param, surface))


def test_eulers_relation_for_a_disc(built):
    """V - E + F = 1, the outside not counted; faces counted by a graph library from the bare lines."""
    _, layout = built
    for kinds, count in ((("plate", "rim", "midline"), len(layout.cells)), (("plate", "rim"), len(layout.plates))):
        graph = networkx.MultiGraph([(x.start, x.end) for x in layout.lines if x.kind in kinds])
        assert graph.number_of_nodes() - graph.number_of_edges() + count == 1
        assert networkx.is_connected(graph) and networkx.check_planarity(graph)[0]


def test_cells_are_the_faces_that_the_lines_enclose(built):
    _, layout = built
    found = measures.polygonized(layout, ("plate", "rim", "midline"))
    assert len(found) == len(layout.cells)
    tree = shapely.STRtree(found)
    for cell in range(len(layout.cells)):
        own = shapely.Polygon(measures.outline(layout, cell))
        assert own.exterior.is_ccw
        match = found[tree.query(own.representative_point(), predicate="within")[0]]
        assert own.symmetric_difference(match).area < 1e-12


def test_plates_are_the_faces_without_the_midline(built):
    _, layout = built
    assert len(measures.polygonized(layout, ("plate", "rim"))) == len(layout.plates)


def test_mirror_is_exact(built):
    _, layout = built
    flip = np.array([1, -1])
    assert {tuple(n) for n in layout.nodes.tolist()} == {tuple(n) for n in (layout.nodes * flip + 0.0).tolist()}
    for i, line in enumerate(layout.lines):
        mirror = layout.lines[line.mirror]
        assert mirror.mirror == i and mirror.kind == line.kind
        assert np.array_equal(mirror.uv, line.uv * flip)
        assert (line.mirror == i) == (not line.uv[:, 1].any())
        assert (line.uv[:, 1] >= 0).all() or (line.uv[:, 1] <= 0).all(), "the line crosses the midline between nodes"
    for k, plate in enumerate(layout.plates):
        mirror = layout.plates[plate.mirror]
        assert mirror.mirror == k and (plate.kind, plate.sides) == (mirror.kind, mirror.sides)
        assert (plate.side, mirror.side) in {("C", "C"), ("L", "R"), ("R", "L")}
        assert sorted(layout.plates[j].mirror for j in plate.neighbours) == list(mirror.neighbours)


def test_lines_run_from_node_to_node_between_their_cells(built):
    _, layout = built
    for i, line in enumerate(layout.lines):
        assert np.array_equal(line.uv[0], layout.nodes[line.start])
        assert np.array_equal(line.uv[-1], layout.nodes[line.end])
        for turn, cell in ((1, line.left), (-1, line.right)):
            assert cell < 0 or (i, turn) in layout.cells[cell]
        assert (min(line.left, line.right) < 0) == (line.kind == "rim")
        radius = np.linalg.norm(line.uv, axis=1)
        assert np.abs(radius - 1).max() < 1e-15 if line.kind == "rim" else radius.max() <= 1
    assert sum(len(cell) for cell in layout.cells) == sum(1 if x.kind == "rim" else 2 for x in layout.lines)


def test_plates_and_cells_know_each_other(built):
    _, layout = built
    assert sorted(c for plate in layout.plates for c in plate.cells) == list(range(len(layout.cells)))
    assert all(layout.cell_plate[c] == k for k, plate in enumerate(layout.plates) for c in plate.cells)
    assert len({plate.name for plate in layout.plates}) == len(layout.plates)
    for k, plate in enumerate(layout.plates):
        assert len(plate.cells) == (2 if plate.side == "C" else 1)
        assert plate.neighbours and all(k in layout.plates[j].neighbours for j in plate.neighbours)
        assert type(plate.sides) is int and plate.sides >= 3


def test_areas_sum_to_the_domes(built):
    """Against Gauss's rule over the whole disc (numpy's nodes). The rim is a polygon of chords some 4 mm long on a
    radius of at least 100 mm, which cuts off a share of at most 4^2 / (12 * 100^2) = 1.3e-4 of a round dome's plan.
    """
    surface, layout = built
    (radius, weight), (angle, turn) = (np.polynomial.legendre.leggauss(n) for n in (40, 160))
    radius, angle = (radius + 1) / 2, (angle + 1) * np.pi / 2
    uv = np.stack([np.outer(radius, np.cos(angle)), np.outer(radius, np.sin(angle))], axis=-1).reshape(-1, 2)
    tangent = surface.tangents(uv)
    element = np.linalg.norm(np.cross(tangent[:, :, 0], tangent[:, :, 1]), axis=1).reshape(len(radius), -1)
    whole = 2 * np.pi / 4 * (weight * radius) @ element @ turn
    areas = measures.plate_areas(surface, layout)
    assert (areas > 0).all()
    assert areas.sum() == pytest.approx(whole, rel=1.3e-4)


def test_lines_are_smooth_on_the_dome(built):
    """No kink inside a line: it turns by less than 12 degrees from one short step to the next (some 0.5 mm off)."""
    surface, layout = built
    for line in layout.lines:
        step = np.diff(surface.points(line.uv), axis=0)
        step /= np.linalg.norm(step, axis=1, keepdims=True)
        assert np.degrees(np.arccos(np.clip((step[1:] * step[:-1]).sum(axis=1), -1, 1))).max() < 12


def test_lines_cross_the_midline_without_a_kink(built):
    surface, layout = built
    degree = np.bincount([n for x in layout.lines if x.kind == "plate" for n in (x.start, x.end)])
    for line in layout.lines:
        for node, uv in ((line.start, line.uv), (line.end, line.uv[::-1])):
            if line.kind == "plate" and layout.nodes[node, 1] == 0 and degree[node] == 2 and line.uv[:, 1].any():
                step = np.subtract(*surface.points(uv[[1, 0]]))
                assert abs(step[1]) > np.cos(np.radians(6)) * np.linalg.norm(step)


def test_three_lines_meet_at_open_angles(built):
    """Where three plates meet no two lines are nearer than 60 degrees (they aim at 120)."""
    surface, layout = built
    away: dict[int, list[np.ndarray]] = {}
    for line in layout.lines:
        for node, uv in ((line.start, line.uv), (line.end, line.uv[::-1])):
            if line.kind == "plate":
                step = np.subtract(*surface.points(uv[[1, 0]]))
                away.setdefault(node, []).append(step / np.linalg.norm(step))
    for node, steps in away.items():
        cosines = (np.array(steps) @ np.transpose(steps))[np.triu_indices(len(steps), 1)]
        assert (cosines < 0.5).all(), layout.nodes[node]


def test_no_side_is_too_short_to_cut(built):
    """Shortest side against the foam: 10 mm sheet needs more than its thickness to hold glue (chosen)."""
    surface, layout = built
    assert measures.side_lengths(surface, layout).min() > 10


def test_same_figures_give_the_same_layout(built, request):
    surface, first = built
    member = registry.load("shellgen.plates", request.node.callspec.params["built"])
    second = member.build(surface, charts.params(request.node.callspec.params["built"], surface))
    assert first.cells == second.cells
    assert all(np.array_equal(a.uv, b.uv) for a, b in zip(first.lines, second.lines, strict=True))


def test_crossing_lines_are_refused():
    turn = np.linspace(0, np.pi, 60)
    rim = np.column_stack([np.cos(turn), np.sin(turn)])
    rim[-1] = -1, 0
    nodes = np.array([[1.0, 0], rim[20], rim[40], [-1.0, 0], [-0.5, 0], [0.5, 0]])
    border = [
        Arc(0, 1, rim[:21], "rim"), Arc(1, 2, rim[20:41], "rim"), Arc(2, 3, rim[40:], "rim"),
        *(Arc(a, b, nodes[[a, b]], "midline") for a, b in ((3, 4), (4, 5), (5, 0))),
    ]  # fmt: skip
    apart = [Arc(4, 2, nodes[[4, 2]]), Arc(5, 1, nodes[[5, 1]])]
    across = [Arc(4, 1, nodes[[4, 1]]), Arc(5, 2, nodes[[5, 2]])]
    assert len(faces(HalfNet(nodes, (*border, *apart)))) == 3
    with pytest.raises(GeometryError, match="cross"):
        faces(HalfNet(nodes, (*border, *across)))
    loop = np.array([[-0.5, 0], [0.3, 0.5], [-0.3, 0.5], [0.5, 0]])
    with pytest.raises(GeometryError, match="itself"):
        faces(HalfNet(nodes, (*border, Arc(4, 5, np.concatenate([loop[:2], [[0.0, 0.2]], loop[2:]])))))


def test_a_plate_without_a_label_is_named_by_its_place():
    draft = Draft()
    neck, side, tail, crown = draft.add(np.array([[1.0, 0], [0, 1], [-1, 0], [0, 0]]))
    draft.link(neck, side, left=PlateLabel("front"), kind="rim")
    draft.link(side, tail, kind="rim")
    draft.link(tail, crown, kind="midline")
    draft.link(crown, neck, kind="midline")
    draft.link(crown, side)
    with pytest.raises(GeometryError, match=r"near u -0\.\d\d, v 0\.\d\d has no label"):
        draft.finish(plan.build(measures.DOMES["child"]), ease=0.0, yielding=0.0, order=("front",))
