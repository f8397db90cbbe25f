"""Seam plans: the search against brute force on nets small enough for it, and what every plan must keep to."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import networkx
import numpy as np
import pytest
from cuttings import all_sets, net_of, random_sets, small_dome, turtle_dome
from polar import cap, shell

from shellgen.dome.surfaces import plan
from shellgen.dome.surfaces.plan import Params as PlanParams
from shellgen.errors import FitError, PresetError
from shellgen.geom.flattening import Shape
from shellgen.pattern import flatten, limits, seams
from shellgen.pattern.plans import gores, least, listed, petals, plates
from shellgen.pattern.plans._anneal import SeamSet, anneal, single_or_swap
from shellgen.pattern.plans._estimate import Estimate
from shellgen.pattern.plans._graph import _cell_mirror, opened_shape
from shellgen.pattern.plans._problem import ChoiceProblem, CurveProblem
from shellgen.pattern.plans._rosette import RAY, direction, evenly, rosette
from shellgen.pattern.plans._shape import size_load
from shellgen.plates import turtle

LIMITS = limits.Limits()
lay_flat = partial(flatten.alone, params=flatten.Params())


def test_hanging_together_with_the_rim_is_to_have_no_hole():
    layout, mesh = small_dome(steps=2)
    net = net_of(layout, mesh)
    held = refused = 0
    for chosen in random_sets(net, 120):
        if net.anchored(net.cut(chosen)):
            held += 1
            made = seams.cut(mesh, layout, net.lines(chosen), mid_offset=0.0)
            cells = {frozenset(piece.cells) for piece in made.pieces}
            assert {part.cells for part in net.parts(chosen)} <= cells
            darts = [line for seam in made.seams if seam.dart for line in seam.lines]
            left = [line for part in net.parts(chosen) for line in part.darts]
            assert set(left) <= set(darts) <= set(left) | {layout.lines[line].mirror for line in left}
            assert net.length(chosen) == pytest.approx(sum(seam.design_length for seam in made.seams), rel=1e-12)
        else:
            refused += 1
            with pytest.raises(FitError):
                seams.cut(mesh, layout, net.lines(chosen), mid_offset=0.0)
    assert held > 20 and refused > 20


def test_pieces_and_loose_cuts_are_those_of_a_graph_library():
    """networkx 3, connected_components: cells joined across lines left whole are a piece, and cuts that hang on the
    rim, line by line, leave no hole."""
    layout, mesh = small_dome(steps=2)
    net = net_of(layout, mesh)
    image, seen = _cell_mirror(layout), set()
    for chosen in random_sets(net, 60, seed=3):
        cut = set(net.lines(chosen))
        cells, cuts = networkx.Graph(), networkx.Graph()
        cells.add_nodes_from(range(len(layout.cells)))
        cells.add_edges_from((x.left, x.right) for i, x in enumerate(layout.lines) if x.kind != "rim" and i not in cut)
        pieces = {frozenset(piece) for piece in networkx.connected_components(cells)}
        found = {frozenset(part.cells) for part in net.parts(chosen)}
        assert found | {frozenset(image[cell] for cell in part) for part in found} == pieces
        cuts.add_edges_from((x.start, x.end) for i, x in enumerate(layout.lines) if x.kind == "rim" or i in cut)
        assert net.anchored(net.cut(chosen)) == networkx.is_connected(cuts)
        seen.add((len(pieces), networkx.is_connected(cuts)))
    assert len(seen) > 6


def test_part_is_meshed_as_the_cut_would():
    layout, mesh = small_dome(steps=2)
    net = net_of(layout, mesh)
    for chosen in [c for c in random_sets(net, 40, seed=3) if net.anchored(net.cut(c))]:
        made = {frozenset(p.cells): p for p in seams.cut(mesh, layout, net.lines(chosen), mid_offset=0.0).pieces}
        for part in net.parts(chosen):
            points, faces, _ = opened_shape(mesh, mesh.points, part)
            piece = made[part.cells]
            assert len(points) == len(piece.shell_vertices) and len(faces) == len(piece.faces)
            assert np.array_equal(np.sort(points, axis=0), np.sort(mesh.points[piece.shell_vertices], axis=0))


@pytest.mark.parametrize("made", ["rings", "turtle"])
def test_walk_keeps_its_books(made):
    """Length, overload and pieces after many changes are those of a fresh start from the same set. The turtle has a
    line that comes to the rim on the midline."""
    layout, mesh = small_dome() if made == "rings" else turtle_dome()
    net = net_of(layout, mesh)
    radius = np.hypot(*layout.nodes.T)
    assert net.on_rim == tuple(np.isclose(radius, 1.0))
    estimate = Estimate(net, mesh, mesh.points)
    state = SeamSet(net, np.ones(len(net.choices), dtype=bool), lambda part: estimate(part, net.inside(part)) / 0.05)
    move = single_or_swap(net, range(len(net.choices)))
    random = np.random.default_rng(5)
    kept = 0
    for draws in random.random((400, 4)):
        trial = np.array(state.chosen)
        change = move(state.chosen, draws.tolist())
        trial[list(change)] ^= True
        toggled = state.toggle(change)
        assert (toggled is None) == (not net.anchored(net.cut(trial)))
        if toggled is not None and draws[3] < 0.7:
            state.apply(toggled)
            kept += 1
        fresh = SeamSet(net, state.chosen, state.load)
        assert (state.cut, state.ends_here, state.bare) == (fresh.cut, fresh.ends_here, fresh.bare)
        assert (state._parts, state.pieces) == (fresh._parts, fresh.pieces)
        assert (state.length, state.overload) == pytest.approx((fresh.length, fresh.overload), abs=1e-6)
    assert kept > 100


@pytest.mark.parametrize("limit", [0.02, 0.035, 0.06, 0.1])
def test_search_finds_what_brute_force_finds(limit):
    layout, mesh = small_dome(steps=2)
    net = net_of(layout, mesh)
    estimate = Estimate(net, mesh, mesh.points)
    known = {}

    def load(part):
        if part not in known:
            known[part] = estimate(part, net.inside(part)) / limit if net.inside(part).choices else 0.0
        return known[part]

    best = min(net.length(chosen) for chosen in all_sets(net) if max(map(load, net.parts(chosen))) <= 1.0)
    move = single_or_swap(net, range(len(net.choices)))
    everything = np.ones(len(net.choices), dtype=bool)
    found = [anneal(net, everything, load, move, steps=1500, seed=seed, hot=1.0, cold=0.02) for seed in range(3)]
    assert min(map(net.length, found)) == pytest.approx(best, rel=1e-12)
    assert all(max(map(load, net.parts(chosen))) <= 1.0 for chosen in found)


def test_estimate_of_a_cap_is_that_of_the_stereographic_map():
    """Half the log of the stereographic scale, 1 at the middle and 1 / cos^2(a / 2) on the rim of a cap of radius a,
    which keeps angles and is constant on the rim (Snyder, Map Projections, USGS PP 1395, eq. 21-4)."""
    error = []
    for around in (16, 32, 64):
        layout, mesh = shell(cap(200.0, 0.9), [(1.0, [])], around=around, steps=around // 4)
        net = net_of(layout, mesh)
        (part,) = net.parts(np.zeros(0, dtype=bool))
        error.append(abs(Estimate(net, mesh, mesh.points)(part, net.inside(part)) + np.log(np.cos(0.45))))
    assert error[0] / error[1] > 3 and error[1] / error[2] > 3  # by the square of the edge
    assert error[2] < 1e-3


def test_least_true_stretch_stands_in_a_steady_ratio_to_the_estimate():
    """2 / 3 on a small cap: a^2 / 12 each way (Milnor, 1969) against a^2 / 8."""
    layout, mesh = shell(cap(200.0, 0.4), [(1.0, [])], around=48, steps=10)
    net = net_of(layout, mesh)
    (part,) = net.parts(np.zeros(0, dtype=bool))
    ((stretch, _),) = flatten.alone([opened_shape(mesh, mesh.points, part)], flatten.Params(compression=1.0))
    assert stretch / Estimate(net, mesh, mesh.points)(part, net.inside(part)) == pytest.approx(2 / 3, rel=0.05)


@pytest.fixture(scope="module")
def problem():
    layout, fine = small_dome(steps=4)
    _, coarse = small_dome(steps=2)
    return ChoiceProblem(layout, fine, coarse, 0.0, LIMITS, lay_flat)


def held(problem, lines):
    made = seams.cut(problem.mesh, problem.layout, lines, mid_offset=0.0)
    laid = problem.flatten([Shape(problem.mesh.points[piece.shell_vertices], piece.faces) for piece in made.pieces])
    return made, [stretch for stretch, _ in laid]


def test_least_holds_and_is_shorter_than_plates_and_the_same_again(problem):
    lines = least.choose(problem, least.Params(walks=2))
    made, stretches = held(problem, lines)
    assert max(stretches) <= LIMITS.stretch_limit
    whole = held(problem, plates.choose(problem, plates.Params()))[0]
    assert sum(s.design_length for s in made.seams) < 0.75 * sum(s.design_length for s in whole.seams)
    assert lines == least.choose(problem, least.Params(walks=2))


def test_least_without_darts_or_on_a_small_bed(problem):
    dartless = limits.Limits(darts=False)
    made, _ = held(problem, least.choose(with_limits(problem, dartless), least.Params(walks=1)))
    assert not any(seam.dart for seam in made.seams)
    bed = limits.Limits(sheet_length=420.0, sheet_width=300.0)
    made, _ = held(problem, least.choose(with_limits(problem, bed), least.Params(walks=1)))
    laid = problem.flatten([Shape(problem.mesh.points[piece.shell_vertices], piece.faces) for piece in made.pieces])
    assert all(size_load(outline, (420.0, 300.0)) <= 1.0 for _, outline in laid)


def with_limits(problem, limits):
    return ChoiceProblem(problem.layout, problem.mesh, problem.coarse, problem.mid_offset, limits, problem.flatten)


def test_listed_seams_are_mirrored_and_mistakes_named():
    dome = plan.build(PlanParams())
    layout = turtle.build(dome, turtle.Params())
    problem = ChoiceProblem(layout, None, None, 0.0, LIMITS, lay_flat)
    lines = listed.choose(problem, listed.Params(between=("vertebral-2 / pleural-L-1", "vertebral-1/vertebral-2")))
    found = {frozenset(seams.line_plates(layout, line)) for line in lines}
    assert found == {frozenset(p) for p in (("vertebral-2", "pleural-L-1"), ("vertebral-2", "pleural-R-1"),
                                            ("vertebral-1", "vertebral-2"))}  # fmt: skip
    with pytest.raises(PresetError, match=r"seams\.between: .* no plate 'vertebral-22'.*similar are vertebral-2"):
        listed.choose(problem, listed.Params(between=("vertebral-22 / pleural-L-1",)))
    with pytest.raises(PresetError, match=r"nuchal touches .*vertebral-1"):
        listed.choose(problem, listed.Params(between=("nuchal / vertebral-4",)))
    with pytest.raises(PresetError, match="a stroke between"):
        listed.choose(problem, listed.Params(between=("nuchal",)))


def test_rosette_is_a_sound_layout():
    surface = plan.build(PlanParams())
    turns = evenly(surface, 12, offset=-5.0)
    dome = rosette(surface, turns, 4, offset=-5.0, shift=0.3)
    rim = np.linalg.norm(np.diff(surface.points(direction(np.append(turns, turns[0])), offset=-5.0), axis=0), axis=1)
    assert rim == pytest.approx(np.full(12, rim.mean()), rel=0.05)  # chords of equal arcs
    for mesh in (dome.mesh, dome.fine):
        assert np.array_equal(mesh.uv[mesh.mirror], mesh.uv * (1, -1))
        rays = [i for i, line in enumerate(dome.layout.lines) if line.kind == RAY]
        made = seams.cut(mesh, dome.layout, rays, mid_offset=-5.0)
        assert len(made.pieces) == 12 and len(made.seams) == 12
        for line, chain in zip(dome.layout.lines, mesh.line_vertices, strict=True):
            assert np.allclose(mesh.uv[chain[[0, -1]]], line.uv)


@pytest.fixture(scope="module")
def ground():
    return CurveProblem(plan.build(PlanParams()), -5.0, LIMITS, lay_flat)


def length(surface, curves):
    """Of the curves and their mirror images."""
    each = [np.linalg.norm(np.diff(surface.points(uv, offset=-5.0), axis=0), axis=1).sum() for uv in curves]
    return sum(both * (2 if uv[:, 1].any() else 1) for both, uv in zip(each, curves, strict=True))


def test_petals_need_at_most_0_65_of_the_seam_of_gores(ground):
    whole = gores.curves(ground, gores.Params())
    darts = petals.curves(ground, petals.Params())
    assert length(ground.surface, darts) <= 0.65 * length(ground.surface, whole)
    for uv in (*whole, *darts):
        assert np.hypot(*uv[0]) == pytest.approx(1.0) and (uv[:, 1] >= 0).all()
    assert all(np.allclose(uv[-1], 0.0) for uv in whole)
    assert all(np.hypot(*uv[-1]) > 0.05 for uv in darts)


def test_petals_on_sheets_that_are_too_small_say_so(ground):
    small = replace(ground, limits=replace(ground.limits, sheet_length=300.0, sheet_width=200.0))
    with pytest.raises(FitError, match="times too large for a sheet of 300 x 200 mm"):
        petals.curves(small, petals.Params(walks=1))


def test_gores_are_as_many_as_asked_or_refused(ground):
    for number in (5,):
        curves = gores.curves(ground, gores.Params(gores=number))
        assert sum(2 if uv[:, 1].any() else 1 for uv in curves) == number
    with pytest.raises(FitError, match=r"gores stretch more than the limit of 0.2 %"):
        gores.curves(
            CurveProblem(plan.build(PlanParams()), -5.0, limits.Limits(stretch_limit=0.002), refuse), gores.Params()
        )


def refuse(shapes):
    """A foam that stretches however it is cut."""
    return [(1.0, shape.points[:, :2]) for shape in shapes]


def test_a_piece_to_avoid_is_not_cut_again(problem):
    first = least.choose(problem, least.Params(walks=1))
    cut = seams.cut(problem.mesh, problem.layout, first, mid_offset=0.0)
    avoided = next(piece for piece in cut.pieces if len(piece.cells) > 2)
    again = least.choose(replace(problem, avoid=((avoided.cells[0], first),)), least.Params(walks=1))
    other = seams.cut(problem.mesh, problem.layout, again, mid_offset=0.0)
    assert again != first
    darts = [
        set(seam.lines) for seam in other.seams if seam.dart and other.pieces[seam.sides[0][0]].cells == avoided.cells
    ]
    before = [
        set(seam.lines) for seam in cut.seams if seam.dart and cut.pieces[seam.sides[0][0]].cells == avoided.cells
    ]
    assert darts != before or avoided.cells not in {piece.cells for piece in other.pieces}
