"""The sheet's physics against closed forms and finite differences, and the parts of the search one by one."""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import trimesh
import yaml
from scipy.sparse.linalg import spsolve
from scipy.spatial import Delaunay

from shellgen.errors import GeometryError
from shellgen.geom import membrane, relaxation, signed_distance, triangles, tutte, welding
from shellgen.geom.bending import plate_matrix
from shellgen.geom.relaxation import Stage

ROWS = yaml.safe_load((Path(__file__).parents[1] / "published" / "proof.yaml").read_text("utf-8"))
PUBLISHED = {row["id"]: row for row in ROWS}


def published(name: str):
    row = PUBLISHED[name]
    return pytest.approx(row["value"], rel=row["tolerance"])


def disc(rings: int) -> tuple[np.ndarray, np.ndarray]:
    """Unit disc of fair triangles: ring k has 6 k vertices."""
    points = [np.zeros((1, 2))]
    for k in range(1, rings + 1):
        turn = 2 * np.pi * np.arange(6 * k) / (6 * k)
        points.append(k / rings * np.column_stack([np.cos(turn), np.sin(turn)]))
    uv = np.concatenate(points)
    faces = Delaunay(uv * (1 + 1e-9 * np.hypot(*uv.T))[:, None]).simplices
    return uv, turned(uv, faces)


def turned(points: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """All counter-clockwise, those without area left out."""
    signed = triangles.areas(points, faces)
    faces = np.where((signed < 0)[:, None], faces[:, ::-1], faces)
    return faces[np.abs(signed) > 1e-9]


def uneven(count: int, *, length: float = 1.0, by: float = 0.15) -> tuple[np.ndarray, np.ndarray]:
    """A rectangle `length` by 1 of triangles uneven `by` a share of their sides."""
    columns = round(count * length)
    x, y = np.meshgrid(np.linspace(0, length, columns + 1), np.linspace(0, 1, count + 1), indexing="ij")
    points = np.column_stack([x.ravel(), y.ravel()])
    inner = (points[:, 0] > 0) & (points[:, 0] < length) & (points[:, 1] > 0) & (points[:, 1] < 1)
    points[inner] += np.random.default_rng(3).uniform(-by, by, (int(inner.sum()), 2)) / count
    return points, turned(points, Delaunay(points).simplices)


def in_space(flat: np.ndarray) -> np.ndarray:
    return np.column_stack([flat, np.zeros(len(flat))])


def crumpled(seed: int = 1) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    flat, faces = uneven(5)
    points = in_space(flat) + np.random.default_rng(seed).normal(0, 0.05, (len(flat), 3))
    return flat, faces, points


# ---- membrane ------------------------------------------------------------------------------------------------------


def test_membrane_force_and_stiffness_are_derivatives_of_its_energy():
    flat, faces, points = crumpled()
    sheet = membrane.membrane(flat[faces], faces, poisson=0.3)
    way = np.random.default_rng(2).normal(0, 1, points.shape)
    force, hessian = sheet.derivatives(points, convex=False)
    step = 1e-6
    rise = (sheet.energy(points + step * way) - sheet.energy(points - step * way)) / (2 * step)
    assert (force * way[faces]).sum() == pytest.approx(rise, rel=1e-7)
    ahead, behind = (sheet.derivatives(points + s * way, convex=False)[0] for s in (step, -step))
    assert np.einsum("maibj,mbj->mai", hessian, way[faces]) == pytest.approx((ahead - behind) / (2 * step), abs=1e-6)


def test_the_convex_part_is_semidefinite_and_whole_in_tension():
    flat, faces, points = crumpled()
    sheet = membrane.membrane(flat[faces], faces, poisson=0.3)
    assert np.linalg.eigvalsh(sheet.derivatives(points, convex=False)[1].reshape(-1, 9, 9)).min() < -1e-3
    assert np.linalg.eigvalsh(sheet.derivatives(points, convex=True)[1].reshape(-1, 9, 9)).min() > -1e-12
    pulled = in_space(flat) * 1.1
    whole, kept = (sheet.derivatives(pulled, convex=c)[1] for c in (False, True))
    assert kept == pytest.approx(whole, abs=1e-12)


def test_equal_stretch_gives_the_biaxial_modulus():
    flat, faces = uneven(4)
    sheet = membrane.membrane(flat[faces], faces, poisson=0.3)
    small = 1e-6
    strain = small + small**2 / 2  # Green's
    energy = sheet.energy(in_space(flat) * (1 + small))
    assert energy / strain**2 == published("biaxial-modulus")  # two directions, a half each
    angle = 0.7
    turn = np.array([[np.cos(angle), 0, np.sin(angle)], [0, 1, 0], [-np.sin(angle), 0, np.cos(angle)]])
    assert sheet.energy(in_space(flat) @ turn) == pytest.approx(0, abs=1e-25)


def test_a_triangle_face_down_is_refused():
    flat, faces = uneven(3)
    with pytest.raises(GeometryError, match="clockwise"):
        membrane.membrane(flat[faces[:, ::-1]], faces, poisson=0.3)


def test_triangles_laid_flat_keep_their_sides():
    _, faces, points = crumpled()
    laid = membrane.lay_flat(points[faces])
    for one, other in ((0, 1), (1, 2), (2, 0)):
        side = np.linalg.norm(points[faces[:, one]] - points[faces[:, other]], axis=1)
        assert np.linalg.norm(laid[:, one] - laid[:, other], axis=1) == pytest.approx(side)
    assert (membrane.membrane(laid, faces, poisson=0).area > 0).all()


# ---- bending -------------------------------------------------------------------------------------------------------


def test_a_cylinder_has_its_energy():
    """But for one row of triangles at the free edges, which carries none; so it is extrapolated at first order."""
    energy = []
    for count in (16, 32):
        flat, faces = uneven(count, by=0.0)
        rolled = np.column_stack([2 * np.sin(flat[:, 0] / 2), flat[:, 1], 2 * np.cos(flat[:, 0] / 2)])
        energy.append(0.5 * (rolled * (plate_matrix(flat[faces], faces, poisson=0.3) @ rolled)).sum() * 2**2)
    assert 2 * energy[1] - energy[0] == published("cylinder-bending")


def test_a_plane_costs_nothing_and_nothing_else_is_free():
    flat, faces = uneven(7)
    plate = plate_matrix(flat[faces], faces, poisson=0.3)
    x, y = flat.T
    assert np.abs(plate @ (2 + 3 * x - y)).max() < 1e-9
    assert np.abs((plate - plate.T).data).max(initial=0) < 1e-9
    size = np.linalg.eigvalsh(plate.toarray())
    assert np.abs(size[:3]).max() < 1e-9
    assert size[3] > 0.1


def test_equal_bending_pulls_on_no_inner_vertex():
    flat, faces = uneven(7, by=0.0)
    inner = (np.abs(flat - 0.5) < 0.5 - 1.5 / 7).all(axis=1)
    pull = plate_matrix(flat[faces], faces, poisson=0.3) @ (flat[:, 0] ** 2 / 2)
    assert np.abs(pull[inner]).max() < 1e-9 < np.abs(pull).max()


def sag(flat: np.ndarray, faces: np.ndarray, held: np.ndarray, *, poisson: float) -> np.ndarray:
    """(n,) deflection of a plate of rigidity 1 under a load of 1, by one linear solution."""
    plate = plate_matrix(flat[faces], faces, poisson=poisson)
    load = np.bincount(faces.ravel(), np.repeat(triangles.areas(flat, faces) / 3, 3))
    down = np.zeros(len(flat))
    down[~held] = spsolve(plate[~held][:, ~held].tocsc(), load[~held])
    return down


def test_a_round_plate_sags_as_in_the_handbook():
    exact = PUBLISHED["plate-simply-supported"]["value"]
    gaps = []
    for rings in (20, 40):
        uv, faces = disc(rings)
        gaps.append(abs(64 * sag(uv, faces, np.hypot(*uv.T) > 1 - 1e-9, poisson=0.3).max() / exact - 1))
    assert gaps[1] < PUBLISHED["plate-simply-supported"]["tolerance"]
    assert gaps[1] < gaps[0] / 1.8


def test_a_slightly_loaded_sheet_is_a_plate():
    uv, faces = disc(8)
    held = np.hypot(*uv.T) > 1 - 1e-9
    sheet = relaxation.sheet(uv[faces], faces, held, uv, poisson=0.3)
    load = 1e-4  # sags by a thousandth of the thickness that goes with this rigidity: no stretch yet
    made = relaxation.relax(sheet, in_space(uv), [Stage(0.01, load, 1e-7)])
    assert made.converged
    assert made.points[:, 2] * 0.01 / load == pytest.approx(sag(uv, faces, held, poisson=0.3), abs=1e-4 * 0.064)


@pytest.mark.parametrize(("by", "within"), ((0.0, 0.001), (0.15, 0.04)))
def test_a_strip_sags_as_a_beam(by, within):
    """Exactly so on even triangles; on uneven ones a little too stiff, as the module says."""
    flat, faces = uneven(10, length=8.0, by=by)
    down = sag(flat, faces, (flat[:, 0] == 0) | (flat[:, 0] == 8), poisson=0.0)
    middle = down[np.abs(flat[:, 0] - 4) < 0.06].mean() / 8**4
    assert middle == pytest.approx(PUBLISHED["beam-simply-supported"]["value"], rel=within)


def test_a_drumhead_blows_up_as_hencky_says():
    uv, faces = disc(20)
    held = np.hypot(*uv.T) > 1 - 1e-9
    sheet = relaxation.sheet(uv[faces], faces, held, uv, poisson=0.3)
    load = 1e-5
    made = relaxation.relax(sheet, in_space(uv), [Stage(1e-9, load, 1e-8)])
    assert made.converged
    assert made.points[:, 2].max() / load ** (1 / 3) == published("membrane-hencky")


# ---- the search ----------------------------------------------------------------------------------------------------


def test_slope_and_matrix_are_derivatives_of_the_whole_energy():
    flat, faces, points = crumpled()
    held = flat[:, 0] == 0
    sheet = relaxation.sheet(flat[faces], faces, held, flat, poisson=0.3)
    stage = Stage(0.02, 0.0, 1.0)
    order = sheet.matrix.order
    assert sorted(order) == np.flatnonzero(~held).tolist()
    force, hessian = sheet.membrane.derivatives(points, convex=False)
    matrix = sheet.matrix.matrix(hessian, stage.rigidity)
    assert np.abs((matrix - matrix.T).data).max(initial=0) < 1e-12
    way = np.zeros_like(points)
    way[order] = np.random.default_rng(5).normal(0, 1, (len(order), 3))
    step = 1e-6

    def slope(at, stage):
        return sheet.slope(at, stage, sheet.membrane.derivatives(at, convex=False)[0])

    change = (slope(points + step * way, stage) - slope(points - step * way, stage)) / (2 * step)
    assert matrix @ way[order].ravel() == pytest.approx(change[order].ravel(), abs=1e-6)
    blown = Stage(0.02, 0.3, 1.0)
    rise = (sheet.energy(points + step * way, blown) - sheet.energy(points - step * way, blown)) / (2 * step)
    assert (slope(points, blown) * way).sum() == pytest.approx(rise, rel=1e-7)
    assert sheet.slope(points, blown, force) != pytest.approx(sheet.slope(points, stage, force), abs=1e-4)


def test_a_bent_plane_sheet_springs_back_flat():
    flat, faces = uneven(8)
    held = flat[:, 0] == 0
    sheet = relaxation.sheet(flat[faces], faces, held, flat, poisson=0.3)
    rolled = np.column_stack([np.sin(flat[:, 0]), flat[:, 1], 1 - np.cos(flat[:, 0])])
    made = relaxation.relax(sheet, rolled, [Stage(0.001, 0.0, 1e-5)])
    assert made.converged
    assert sheet.energy(made.points, Stage(0.001, 0.0, 1.0)) < 1e-9


def test_a_bent_strip_springs_back_to_the_share_it_kept():
    """By superposition a free strip set to a curvature takes just that."""
    flat, faces = uneven(6, length=3.0, by=0.0)
    radius, kept = 10.0, 0.8
    bent = np.column_stack([radius * np.sin(flat[:, 0] / radius), flat[:, 1], radius * np.cos(flat[:, 0] / radius)])
    held = np.arange(len(flat)) == len(flat) // 2
    sheet = relaxation.sheet(flat[faces], faces, held, flat, poisson=0.0, curved=kept * bent)
    made = relaxation.relax(sheet, bent, [Stage(0.01, 0.0, 1e-6)])
    assert made.converged
    line = made.points[np.abs(flat[:, 1] - 0.5) < 1e-9]
    line = line[(np.abs(line[:, 0] - 1.5) < 1.1)]
    x, z = line[np.argsort(line[:, 0])][:, [0, 2]].T
    assert -2 * np.polyfit(x, z, 2)[0] / (1 + np.polyfit(x, z, 1)[0] ** 2) ** 1.5 == pytest.approx(
        kept / radius, rel=0.02
    )


def test_a_search_that_finds_no_rest_says_so(monkeypatch):
    monkeypatch.setattr(relaxation, "MOST_STEPS", 2)
    uv, faces = disc(6)
    sheet = relaxation.sheet(uv[faces], faces, np.hypot(*uv.T) > 1 - 1e-9, uv, poisson=0.3)
    made = relaxation.relax(sheet, in_space(uv), [Stage(1e-6, 1e-2, 1e-9)])
    assert not made.converged


# ---- welding, starts, distances ------------------------------------------------------------------------------------


def two_halves(stretch: float = 1.0, shift: float = 0.0):
    """Two flat squares side by side, four rows each; the right one's seam vertices divided otherwise by `shift`."""
    flat, faces = uneven(4)
    left, right = np.flatnonzero(flat[:, 0] == 1), np.flatnonzero(flat[:, 0] == 0)
    other = flat * [1, stretch] + [5, 5]
    other[right[1:-1], 1] += shift
    chains = (left[np.argsort(flat[left, 1])], len(flat) + right[np.argsort(flat[right, 1])])
    return np.concatenate([flat, other]), np.concatenate([faces, faces + len(flat)]), [chains]


def test_mates_are_welded_by_arc_length():
    flat, faces, chains = two_halves(shift=0.05)
    welded = welding.weld(flat, faces, chains)
    assert len(np.unique(welded.vertex)) == len(flat) - 5
    assert welded.length == pytest.approx(np.ones((1, 2)))
    seam = welded.vertex[chains[0][0]]
    corner = welded.vertex[faces]
    for a, b in pairwise(seam):
        touch = np.isin(corner, (a, b)).sum(axis=1) == 2
        sides = [
            np.linalg.norm(np.diff(rest[np.isin(c, (a, b))], axis=0))
            for c, rest in zip(corner[touch], welded.rest[touch], strict=True)
        ]
        assert len(sides) == 2
        assert sides[0] == pytest.approx(sides[1], abs=1e-12)
    area = membrane.membrane(welded.rest, corner, poisson=0).area.sum()
    assert area == pytest.approx(2)  # the outlines stay what they were


def test_a_longer_mate_shows_as_length():
    flat, faces, chains = two_halves(stretch=1.04)
    assert welding.weld(flat, faces, chains).length == pytest.approx(np.array([[1.0, 1.04]]))


def test_the_first_guess_folds_nothing_and_knows_only_the_rim():
    uv, faces = disc(8)
    loop = triangles.boundary_loops(faces)[0]
    curve = in_space(uv[loop]) * [300, 200, 1]
    start = tutte.tutte_embedding(uv[faces], faces, loop, curve, rise=120.0)
    assert start[loop] == pytest.approx(curve)
    assert start[:, 2].max() == pytest.approx(120)
    assert (triangles.areas(start[:, :2], faces) > 0).all()
    rise, radius = tutte.spherical_cap(np.pi * (100**2 + 60**2), 100 * in_space(disc(60)[0])[-360:])
    assert rise == pytest.approx(60, rel=1e-3)
    assert radius == pytest.approx((100**2 + 60**2) / 120, rel=1e-3)


def test_distances_are_those_of_an_independent_library():
    uv, faces = disc(7)
    points = np.column_stack([uv * 100, 40 * (1 - (uv**2).sum(axis=1))])
    queries = points[::2] + np.random.default_rng(4).normal(0, 15, (len(points[::2]), 3))
    found = signed_distance.signed_distances(points, faces, queries)
    _, expected, _ = trimesh.proximity.closest_point_naive(trimesh.Trimesh(points, faces, process=False), queries)
    assert np.abs(found) == pytest.approx(expected, abs=1e-9)
    up = np.array([0, 0, 1e-3])
    assert (signed_distance.signed_distances(points, faces, points[10:20] + up) > 0).all()
    assert (signed_distance.signed_distances(points, faces, points[10:20] - up) < 0).all()
