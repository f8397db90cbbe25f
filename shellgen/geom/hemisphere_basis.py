"""An orthonormal hemisphere basis: mirror-symmetric polynomials in s = (p, q, w) on the upper unit hemisphere; fits.

The basis is Re (p + i q)^m P_mk(w), m + k <= degree, with polynomials P_mk that make it orthonormal on the hemisphere;
it spans all polynomials in p, q, w up to that degree that are even in q. Coefficients are stored in a
(degree + 1)-square array, row m, column k, zero where m + k > degree.

References
----------
Gautschi, Orthogonal Polynomials: Computation and Approximation, 2004, section 2.2.3.1 (discretised Stieltjes).
Wahba, Spline Models for Observational Data, 1990, sections 2.4 and 4.3 (penalised fit, generalised cross-validation).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import chebyshev
from scipy import linalg

from shellgen.core.arrays import Floats, Ints

_LEAST = 1e-11
"""Weight of the bending, as a share of that of the samples, which keeps the fit definite where there are no samples."""

_BLOCK = 4096
"""Points evaluated at a time (chosen: the tables of one block fit in the processor's cache)."""


@dataclass(frozen=True, slots=True, eq=False)
class Basis:
    """turn, root : (M, M) coefficients of root[k + 1] P_k+1 = (w - turn[k]) P_k - root[k] P_k-1, P_0 = 1 / root[0]."""

    turn: Floats
    root: Floats

    @property
    def degree(self) -> int:
        return len(self.turn) - 1

    def polynomials(self, w: Floats, order: int) -> list[list[Floats]]:
        """For each k, P_mk and its first `order` derivatives at w (n,), each (M - k, n): rows m = 0 ... degree - k."""
        size = self.degree + 1
        now = [np.repeat(1 / self.root[:, :1], len(w), axis=1)] + [np.zeros((size, len(w))) for _ in range(order)]
        before = [np.zeros_like(one) for one in now]
        table = [now]
        for k in range(size - 1):
            rows = slice(0, size - k - 1)
            shifted = w - self.turn[rows, k, None]
            following = []
            for j in range(order + 1):
                fresh = shifted * now[j][rows] - self.root[rows, k, None] * before[j][rows] * (k > 0)
                if j:
                    fresh += j * now[j - 1][rows]
                following.append(fresh / self.root[rows, k + 1, None])
            before, now = now, following
            table.append(now)
        return table

    def design(self, s: Floats) -> Floats:
        """(n, count) value of each member of the basis at s (n, 3), in the order of `order_of`."""
        cosine, _ = _powers(s[:, 0], s[:, 1], self.degree)
        rows = [cosine[: len(p[0])] * p[0] for p in self.polynomials(s[:, 2], 0)]
        return np.concatenate(rows).T

    def order_of(self) -> tuple[Ints, Ints]:
        """m and k of each column of `design`."""
        size = self.degree + 1
        return (
            np.concatenate([np.arange(size - k) for k in range(size)]),
            np.repeat(np.arange(size), np.arange(size, 0, -1)),
        )

    def series(self, coefficients: Floats) -> Series:
        """The function in a form that is fast to evaluate."""
        size = self.degree + 1
        w = (1 - np.cos(np.pi * (np.arange(size) + 0.5) / size)) / 2
        values = np.zeros((size, size))  # of the sums over k, row m, at the nodes
        for k, (row,) in enumerate(self.polynomials(w, 0)):
            values[: size - k] += coefficients[: size - k, k, None] * row
        along = chebyshev.chebfit(2 * w - 1, values.T, self.degree)
        by = [np.zeros_like(along) for _ in range(2)]
        for j in (1, 2):
            by[j - 1][: size - j] = chebyshev.chebder(along, j, scl=2)
        return Series(np.stack([along.T, *(one.T for one in by)]))

    def bending(self) -> Floats:
        """(count, count) integral over the hemisphere of the product of the members' intrinsic Hessians.

        Only constants have no energy. With t = cos x, x the angle from the pole, and f(x) cos(m a): the Hessian is f'',
        (f' cot x - m^2 f / sin^2 x) and twice m (f' / sin x - f cos x / sin^2 x), the last with sin(m a).

        References: do Carmo, Riemannian Geometry, 1992, chapter 6, exercise 11 (Hessian of a function).
        """
        t, weight = _gauss(self.degree + 2)
        m, _ = self.order_of()
        table = self.polynomials(t, 2)
        p0, p1, p2 = (np.concatenate([row[j] for row in table]) for j in range(3))
        sine, n = np.sqrt(1 - t * t), m[:, None]
        f = sine**n * p0
        df = sine**n * (n * t / sine * p0 - sine * p1)
        ddf = sine**n * ((n * (n - 1) * t * t / sine**2 - n) * p0 - (2 * n + 1) * t * p1 + sine**2 * p2)
        across, mixed = df * t / sine - n * n * f / sine**2, n * (df / sine - f * t / sine**2)
        around = np.pi * weight
        even = np.where(m == 0, 2.0, 1.0)
        product = (
            even[:, None] * ((ddf * around) @ ddf.T + (across * around) @ across.T) + 2 * (mixed * around) @ mixed.T
        )
        return np.where(m[:, None] == m, product, 0.0)

    def spread(self, column: Floats) -> Floats:
        """Coefficients in the order of `design` as the square array."""
        square = np.zeros((self.degree + 1,) * 2)
        square[self.order_of()] = column
        return square


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """A function of the basis as sum over m of Re (p + i q)^m f_m(w).

    along : (3, M, M) f_m, f_m' and f_m'' in Chebyshev polynomials of 2 w - 1, row m. One table of these serves all
            m, so that evaluation is a matrix product: a sixth of the time of the recurrences.

    References: Mason and Handscomb, Chebyshev Polynomials, 2003, sections 2.4.4 and 6.2 (derivatives, interpolation).
    """

    along: Floats

    def sums(self, p: Floats, q: Floats, w: Floats) -> tuple[Floats, Floats, Floats]:
        """The function, its derivatives by p, q, w (3, n) and its second derivatives (3, 3, n)."""
        n = len(p)
        value, first, second = np.empty(n), np.empty((3, n)), np.empty((3, 3, n))
        for start in range(0, n, _BLOCK):
            part = slice(start, start + _BLOCK)
            self._sum(p[part], q[part], w[part], value[part], first[:, part], second[:, :, part])
        return value, first, second

    def _sum(self, p: Floats, q: Floats, w: Floats, value: Floats, first: Floats, second: Floats) -> None:
        size = self.along.shape[1]
        f, df, ddf = (self.along.reshape(3 * size, size) @ _chebyshev(2 * w - 1, size)).reshape(3, size, -1)
        cosine, sine = _powers(p, q, size - 1)
        m = np.arange(1.0, size)[:, None]
        c1, s1 = m * cosine[:-1], m * sine[:-1]  # derivative of Re z^m by p, and minus that by q; zero for m = 0
        c2, s2 = m[1:] * c1[:-1], m[1:] * s1[:-1]
        value[:] = _dot(cosine, f)
        first[0], first[1], first[2] = _dot(c1, f[1:]), -_dot(s1, f[1:]), _dot(cosine, df)
        second[0, 0] = _dot(c2, f[2:])
        second[1, 1] = -second[0, 0]
        second[2, 2] = _dot(cosine, ddf)
        second[0, 1] = second[1, 0] = -_dot(s2, f[2:])
        second[0, 2] = second[2, 0] = _dot(c1, df[1:])
        second[1, 2] = second[2, 1] = -_dot(s1, df[1:])


def _dot(first: Floats, second: Floats) -> Floats:
    return np.asarray(np.einsum("mn,mn->n", first, second))


def _chebyshev(x: Floats, size: int) -> Floats:
    """(size, n) T_0 ... at x."""
    table = np.empty((size, len(x)))
    table[0], table[1] = 1.0, x
    for k in range(2, size):
        table[k] = 2 * x * table[k - 1] - table[k - 2]
    return table


def basis(degree: int) -> Basis:
    """The orthonormal basis up to a degree."""
    size = degree + 1
    x, weight = _gauss(2 * size)
    measure = weight * (1 - x * x) ** np.arange(size)[:, None]
    measure *= np.where(np.arange(size) == 0, 2 * np.pi, np.pi)[:, None]
    turn, root = np.zeros((size, size)), np.zeros((size, size))
    root[:, 0] = np.sqrt(measure.sum(axis=1))
    before, now = np.zeros_like(measure), np.repeat(1 / root[:, :1], len(x), axis=1)
    for k in range(size - 1):
        turn[:, k] = (measure * x * now * now).sum(axis=1)
        fresh = (x - turn[:, k, None]) * now - (root[:, k, None] * before if k else 0.0)
        root[:, k + 1] = np.sqrt((measure * fresh * fresh).sum(axis=1))
        before, now = now, fresh / root[:, k + 1, None]
    return Basis(turn, root)


def _gauss(count: int) -> tuple[Floats, Floats]:
    x, weight = np.polynomial.legendre.leggauss(count)
    return (x + 1) / 2, weight / 2


def _powers(p: Floats, q: Floats, degree: int) -> tuple[Floats, Floats]:
    """Real and imaginary part of (p + i q)^m, (degree + 1, n) each; the second is odd in q."""
    real, imaginary = np.empty((degree + 1, len(p))), np.empty((degree + 1, len(p)))
    real[0], imaginary[0] = 1.0, 0.0
    for m in range(degree):
        real[m + 1] = real[m] * p - imaginary[m] * q
        imaginary[m + 1] = real[m] * q + imaginary[m] * p
    return real, imaginary


@dataclass(frozen=True, slots=True, eq=False)
class Fitter:
    """A penalised least-squares fit, diagonalised once: each strength of smoothing then costs one matrix product.

    vectors : (count, count) V with V'(G + e B) V = 1, V'B V = diag(bend); G of the samples, B the bending
    """

    basis: Basis
    vectors: Floats
    bend: Floats
    least: float
    moment: Floats  # V'A'y
    square: float  # y'y, weighted
    count: int

    def fit(self, strength: float) -> Floats:
        """Coefficients, bending weighted by `strength`: waves of 2 pi strength^(1/4) radians lose half their height."""
        gain = 1 / (1 + (strength - self.least) * self.bend)
        return self.basis.spread(self.vectors @ (gain * self.moment))

    def best(self) -> float:
        """The strength that predicts a sample best from all others, by generalised cross-validation; if several
        are equal within a thousandth, the strongest.
        """
        strengths = np.geomspace(self.least, 1.0, 121)
        gain = 1 / (1 + (strengths[:, None] - self.least) * self.bend)
        fitted = gain * self.moment
        rest = self.square - 2 * fitted @ self.moment + (fitted**2 * (1 - self.least * self.bend)).sum(axis=1)
        rest = np.maximum(rest, 1e-15 * self.square)
        freedom = (gain * (1 - self.least * self.bend)).sum(axis=1)
        score = rest / (self.count - freedom) ** 2
        return float(strengths[score <= 1.001 * score.min()].max())


def fitter(of: Basis, table: Floats, bending: Floats, values: Floats, weights: Floats) -> Fitter:
    """Prepares the fit of `values` (n,) at the points of `table`, `of.design(s)`; weights (n,) in steradians."""
    gram, moment = _gram(table, values, weights)
    least = _LEAST * np.trace(gram) / np.trace(bending)
    bend, vectors = linalg.eigh(bending, gram + least * bending)
    return Fitter(
        of, vectors, np.maximum(bend, 0), float(least), vectors.T @ moment, float(weights @ values**2), len(values)
    )


def _gram(table: Floats, values: Floats, weights: Floats) -> tuple[Floats, Floats]:
    weighted = weights[:, None] * table
    return weighted.T @ table, weighted.T @ values


def trusted(table: Floats, bending: Floats, values: Floats, weights: Floats, *, strength: float) -> Floats:
    """(n,) robust weight of each sample, 0 to 1: Tukey's biweight at 4.685 standard deviations from a fit.

    References: Holland and Welsch, Robust regression using iteratively reweighted least squares, 1977.
    """
    trust = np.ones(len(values))
    for _ in range(3):
        gram, moment = _gram(table, values, weights * trust)
        rest = values - table @ linalg.solve(gram + strength * bending, moment, assume_a="pos")
        spread = 1.4826 * np.median(np.abs(rest))
        if spread < 1e-9:  # exact to a thousandth of a micrometre: there are no outliers
            break
        trust = np.clip(1 - (rest / (4.685 * spread)) ** 2, 0, None) ** 2
    return trust
