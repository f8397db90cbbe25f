"""The functions that scans are fitted with: orthonormal, their bending by closed forms, their derivatives, the fit."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import yaml
from scipy.special import sph_harm_y

from shellgen.geom import hemisphere_basis, hemisphere_grid

ROWS = {row["id"]: row for row in yaml.safe_load(Path("tests/published/scan.yaml").read_text("utf-8"))}


def nodes(rings: int = 30, spokes: int = 64) -> tuple[np.ndarray, np.ndarray]:
    """Unit vectors and weights, steradians: Gauss in w, trapezoid around; made apart from the library's own."""
    x, weight = np.polynomial.legendre.leggauss(rings)
    w, turn = (np.repeat((x + 1) / 2, spokes), np.tile(2 * np.pi * np.arange(spokes) / spokes, rings))
    across = np.sqrt(1 - w * w)
    s = np.column_stack([across * np.cos(turn), across * np.sin(turn), w])
    return s, np.repeat(weight / 2, spokes) * 2 * np.pi / spokes


@pytest.fixture(scope="module")
def basis():
    return hemisphere_basis.basis(12)


def test_the_basis_is_orthonormal_and_spans_the_polynomials(basis):
    s, weight = nodes()
    table = basis.design(s)
    assert table.shape[1] == 13 * 14 // 2
    assert np.abs(table.T @ (weight[:, None] * table) - np.eye(91)).max() < 1e-12
    p, q, w = s.T
    for value in (p**3 * w**2, q**4 * p - w**7, (1 + p * q * q - w) ** 4):
        column = table.T @ (weight * value)
        assert np.abs(table @ column - value).max() < 1e-11


def test_bending_of_a_linear_function_is_the_published_one(basis):
    s, weight = nodes()
    row = ROWS["hessian-linear"]
    for axis in (0, 2):
        column = basis.design(s).T @ (weight * s[:, axis])
        assert column @ basis.bending() @ column == pytest.approx(row["value"], abs=row["tolerance"])


@pytest.mark.parametrize(("degree", "order"), [(2, 0), (3, 1), (6, 2), (8, 8), (11, 3)])
def test_bending_of_spherical_harmonics_by_bochners_formula(basis, degree, order):
    """Over the whole unit sphere the squared Hessian integrates to (k^2 - k) times the squared function, k = l (l + 1)
    (Bochner 1946, with Ricci curvature 1); harmonics even in w have half of it above the horizon."""
    s, weight = nodes()
    value = sph_harm_y(degree, order, np.arccos(s[:, 2]), np.arctan2(s[:, 1], s[:, 0])).real
    column = basis.design(s).T @ (weight * value)
    k = degree * (degree + 1)
    assert column @ basis.bending() @ column == pytest.approx((k * k - k) * (weight @ value**2), rel=1e-10)


def test_derivatives_and_mirror(basis):
    chance = np.random.default_rng(2)
    coefficients = basis.spread(chance.normal(size=91))
    series = basis.series(coefficients)
    p, q, w = chance.uniform(0.1, 0.6, (3, 50))
    value, first, second = series.sums(p, q, w)
    for j in range(3):
        step = 1e-6 * np.eye(3)[j][:, None]
        ahead, behind = (series.sums(*(np.stack([p, q, w]) + turn * step)) for turn in (1, -1))
        assert (ahead[0] - behind[0]) / 2e-6 == pytest.approx(first[j], rel=1e-6, abs=1e-6)
        assert (ahead[1] - behind[1]) / 2e-6 == pytest.approx(second[j], rel=1e-6, abs=1e-5)
    other = series.sums(p, -q, w)
    assert np.array_equal(other[0], value) and np.array_equal(other[1], first * [[1], [-1], [1]])
    s = np.column_stack([p, q, w])
    assert basis.design(s) @ coefficients[basis.order_of()] == pytest.approx(value, rel=1e-9)


def test_smoothing_halves_the_wave_it_names(basis):
    """A sample of the bending's own waves comes back times 1 / (1 + strength x bending): Wahba 1990, section 2.4."""
    s, weight = nodes()
    table, bending = basis.design(s), basis.bending()
    bend, waves = np.linalg.eigh(bending)
    fitter = hemisphere_basis.fitter(basis, table, bending, table @ waves[:, 40], weight)
    found = fitter.fit(1 / bend[40])[basis.order_of()]
    assert found @ waves[:, 40] == pytest.approx(0.5, rel=1e-6)


def test_cross_validation_finds_about_the_best_strength(basis):
    s, _ = nodes()
    true = s[:, 0] ** 2 - 0.3 * s[:, 2]
    noisy = true + np.random.default_rng(4).normal(0, 0.3, len(s))
    table, bending = basis.design(s), basis.bending()
    fitter = hemisphere_basis.fitter(basis, table, bending, noisy, np.full(len(s), 2 * np.pi / len(s)))

    def error(strength: float) -> float:
        return float(np.sqrt(np.mean((table @ fitter.fit(strength)[basis.order_of()] - true) ** 2)))

    assert error(fitter.best()) < 1.5 * min(error(strength) for strength in np.geomspace(1e-8, 1, 33))


def test_outliers_are_not_trusted(basis):
    s, weight = nodes()
    value = 1 + 0.1 * s[:, 0]
    value[::50] += 0.2
    trust = hemisphere_basis.trusted(basis.design(s), basis.bending(), value, weight, strength=1e-6)
    assert trust[::50].max() < 0.01


def test_the_sky_is_divided_evenly_and_alike_on_both_sides():
    grid = hemisphere_grid.grid(30)
    centres = grid.centres()
    assert grid.sizes().sum() == pytest.approx(2 * np.pi, rel=1e-12)
    assert grid.sizes().max() < 1.35 * grid.sizes()[4:].min()
    assert np.array_equal(grid.cell(centres), np.arange(grid.cells))
    assert np.abs(centres[grid.mirror()] - centres * [1, -1, 1]).max() < 1e-12


def test_each_cells_median_is_that_of_its_samples() -> None:
    chance = np.random.default_rng(1)
    cell, values = chance.integers(0, 40, 300) * 3, chance.normal(size=300)
    found = hemisphere_grid.medians(hemisphere_grid.sort(cell, values), values)
    assert found == pytest.approx([np.median(values[cell == k]) for k in np.unique(cell)])
