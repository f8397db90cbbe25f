"""Further lines over a plate net: where they run, what becomes of the cells, and what stays as it was."""

from __future__ import annotations

from collections import Counter
from itertools import product

import charts
import measures
import networkx
import numpy as np
import pytest

from shellgen.core import registry
from shellgen.dome.surfaces import plan
from shellgen.errors import GeometryError
from shellgen.plates._overlay import SNAP, overlay

SURFACE = plan.build(plan.Params())
MIDLINE = np.column_stack([np.linspace(-1, 1, 60), np.zeros(60)])


def meridian(angle, inner=0.0):
    return np.outer(np.linspace(inner, 1, 60), [np.cos(angle), np.sin(angle)])


def gores(count, turn=0.0):
    return [*(meridian(a) for a in np.linspace(0, np.pi, count // 2 + 1)[1:-1] + turn), MIDLINE]


@pytest.fixture(scope="module", params=registry.names("shellgen.plates"))
def layout(request):
    return registry.load("shellgen.plates", request.param).build(SURFACE, charts.params(request.param, SURFACE))


def check_sound(before, after):
    """What must hold whatever is drawn over a layout."""
    graph = networkx.MultiGraph([(x.start, x.end) for x in after.lines])
    assert graph.number_of_nodes() == len(after.nodes)
    assert len(after.nodes) - len(after.lines) + len(after.cells) == 1
    assert len(measures.polygonized(after, ("plate", "rim", "midline", "seam"))) == len(after.cells)
    for line in after.lines:
        assert np.array_equal(after.lines[line.mirror].uv, line.uv * (1, -1))
        assert np.array_equal(line.uv[[0, -1]], after.nodes[[line.start, line.end]])
    for k, (old, new) in enumerate(zip(before.plates, after.plates, strict=True)):
        assert (old.name, old.sides, old.neighbours, old.mirror) == (new.name, new.sides, new.neighbours, new.mirror)
        assert new.cells and all(after.cell_plate[c] == k for c in new.cells)
    old, new = (measures.plate_areas(SURFACE, x) for x in (before, after))
    # lines are only split, at points within a rounding of them; a point on the rim lies on the circle, not the chord
    assert new == pytest.approx(old, rel=2e-4)


def test_seams_with_nothing_but_a_sliver_between(layout):
    """A face with no line of the net on its outline belongs to the cell beside it, and changes nobody else's."""
    lone = 0
    for at, apart in product((0.5, 1.1, 2.1, 2.7), (0.019, 0.022, 0.026)):
        after, _ = overlay(SURFACE, layout, [meridian(at), meridian(at + apart)])
        check_sound(layout, after)
        lone += sum(all(after.lines[i].kind == "seam" for i, _ in cell) for cell in after.cells)
    assert lone


@pytest.mark.parametrize("count", [6, 10, 16])
def test_gores(layout, count):
    after, chains = overlay(SURFACE, layout, gores(count))
    check_sound(layout, after)
    assert len(chains) == count // 2
    for chain in chains[:-1]:
        ends = Counter(n for i in chain for n in (after.lines[i].start, after.lines[i].end))
        assert sorted(Counter(ends.values()).items()) in ([(1, 2), (2, len(chain) - 1)], [(1, 2)])
        tips = after.nodes[[n for n, times in ends.items() if times == 1]]
        assert np.ptp(np.linalg.norm(tips, axis=1)) > 0.95, "from crown to rim"
    assert all(after.lines[i].kind in ("seam", "plate") for chain in chains for i in chain)


def test_gores_at_many_turns_leave_no_slivers(layout):
    """No line much shorter than half the snapping distance, however the meridians fall on the net."""
    for turn in np.linspace(-0.08, 0.08, 9):
        after, _ = overlay(SURFACE, layout, gores(8, turn))
        check_sound(layout, after)
        assert min(measures.line_length(SURFACE, line) for line in after.lines) > SNAP / 2


def test_a_gore_departs_little_from_its_meridian(layout):
    for angle in (0.7, 1.3, 2.2):
        after, (chain,) = overlay(SURFACE, layout, [meridian(angle)])
        drawn = np.concatenate([after.lines[i].uv for i in chain])
        exact = SURFACE.points(np.outer(np.linspace(0, 1, 2000), [np.cos(angle), np.sin(angle)]))
        gap = np.linalg.norm(SURFACE.points(drawn)[:, None] - exact[None], axis=2).min(axis=1)
        assert gap.max() < 1.05 * SNAP


def test_along_the_midline_lines_change_their_kind_only(layout):
    after, (chain,) = overlay(SURFACE, layout, [MIDLINE])
    assert [x.uv.tolist() for x in after.lines] == [x.uv.tolist() for x in layout.lines]
    assert after.cells == layout.cells
    middle = {i for i, x in enumerate(after.lines) if x.mirror == i}
    assert set(chain) == middle
    assert {after.lines[i].kind for i in middle} <= {"seam", "plate"}
    assert all(after.lines[i].kind == "plate" for i in middle if layout.lines[i].kind == "plate")


def test_a_dart_ends_at_its_given_place(layout):
    inner = 0.62
    after, chains = overlay(SURFACE, layout, [meridian(a, inner) for a in (0.5, 1.2, 2.3)])
    check_sound(layout, after)
    degree = np.bincount([n for x in after.lines for n in (x.start, x.end)])
    for angle, chain in zip((0.5, 1.2, 2.3), chains, strict=True):
        ends = Counter(n for i in chain for n in (after.lines[i].start, after.lines[i].end))
        tip = min((n for n, times in ends.items() if times == 1), key=lambda n: np.linalg.norm(after.nodes[n]))
        wanted = inner * np.array([np.cos(angle), np.sin(angle)])
        gap = np.linalg.norm(np.subtract(*SURFACE.points(np.stack([after.nodes[tip], wanted]))))
        assert gap < SNAP
        if gap == 0 and degree[tip] == 1:
            last = next(after.lines[i] for i in chain if tip in (after.lines[i].start, after.lines[i].end))
            assert last.left == last.right, "the same cell on both hands"


def test_a_curve_near_a_corner_is_led_through_it(layout):
    """The innermost corner off the midline; some layouts have one on the rim only."""
    node = min(layout.nodes[layout.nodes[:, 1] > 0.2], key=np.linalg.norm)
    past = np.arctan2(node[1], node[0]) + 0.003
    after, (chain,) = overlay(SURFACE, layout, [meridian(past)])
    corners = after.nodes[[n for i in chain for n in (after.lines[i].start, after.lines[i].end)]]
    assert (corners == node).all(axis=1).any()


def test_a_curve_along_a_line_takes_that_line(layout):
    """Drawn 1 mm or so beside a line: no second line, no new cell."""
    own = [x for x in layout.lines if x.kind == "plate" and (x.uv[:, 1] >= 0).all()]
    line = max(own, key=lambda x: (x.uv[:, 1].min() > 0.1, np.ptp(x.uv[:, 1])))
    u, v = np.subtract(*line.uv[[-1, 0]]) / np.linalg.norm(np.subtract(*line.uv[[-1, 0]]))
    beside = line.uv + 0.004 * np.outer(np.sin(np.linspace(0, np.pi, len(line.uv))), (-v, u))
    after, (chain,) = overlay(SURFACE, layout, [beside])
    assert len(after.cells) == len(layout.cells)
    assert [after.lines[i].uv.tolist() for i in chain] == [line.uv.tolist()]


def test_a_curve_off_the_left_half_is_refused(layout):
    for curve in (meridian(-0.4), 1.2 * meridian(0.4)):
        with pytest.raises(GeometryError, match="left half"):
            overlay(SURFACE, layout, [curve])
