"""Smooth closed curves as Fourier series through points at evenly spaced parameters (spectral differentiation).

For a curve with few harmonics (a circle, an ellipse, a spike's base on a dome) 96 points give ten digits; the polygon
through them is too short by 2 in 10,000.
"""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.geom.vectors import cross


def derivative(points: Floats) -> Floats:
    """(n, d) derivative of (n, d) points by the parameter, which runs from 0 to 2 pi and is not repeated.

    References: Trefethen, Spectral Methods in MATLAB, SIAM 2000, chapter 3 (the highest harmonic of an even number
    of points has no derivative).
    """
    count = len(points)
    harmonic = np.arange(count // 2 + 1.0)
    if count % 2 == 0:
        harmonic[-1] = 0.0
    return np.fft.irfft(1j * harmonic[:, None] * np.fft.rfft(points, axis=0), n=count, axis=0)


def speed(points: Floats) -> Floats:
    """(n,) arc length per radian of the parameter."""
    return np.asarray(np.linalg.norm(derivative(points), axis=1))


def length(points: Floats) -> float:
    """Length of the closed curve: the trapezoidal rule, which converges geometrically for smooth periodic functions.

    References: Trefethen & Weideman, The Exponentially Convergent Trapezoidal Rule, SIAM Review 56(3), 2014.
    """
    return float(speed(points).sum() * 2 * np.pi / len(points))


def arc_length(points: Floats) -> Floats:
    """(n + 1,) length from the first point to each, the last being the whole length."""
    rate = speed(points)
    count = len(rate)
    terms = np.fft.rfft(rate) / count
    harmonic = np.arange(1, len(terms))
    angle = 2 * np.pi * np.arange(count + 1) / count
    weight = np.where(2 * harmonic == count, 0.5, 1.0)  # the highest harmonic of an even count occurs once
    wave = (weight * terms[1:] / (1j * harmonic)) * (np.exp(1j * np.outer(angle, harmonic)) - 1)
    return np.asarray(terms[0].real * angle + 2 * wave.real.sum(axis=1))


def frames(points: Floats, normals: Floats) -> tuple[Floats, Floats]:
    """Unit tangent and unit outward conormal, (n, 3) each, of a curve counter-clockwise about the `normals`."""
    tangent = derivative(points)
    tangent = tangent / np.linalg.norm(tangent, axis=1, keepdims=True)
    outward = cross(tangent, normals)
    return tangent, outward / np.linalg.norm(outward, axis=1, keepdims=True)


def offset(points: Floats, normals: Floats, distance: float) -> Floats:
    """(n, 3) the curve moved outward by `distance` in the tangent plane of the surface."""
    return points + distance * frames(points, normals)[1]


def curvatures(points: Floats, normals: Floats) -> tuple[Floats, Floats]:
    """Geodesic and normal curvature, (n,) each, 1/mm. The first is positive for a circle, the second for a curve
    on a dome.

    References: do Carmo, Differential Geometry of Curves and Surfaces, 1976, section 4-4 (geodesic curvature) and
    section 3-2 (normal curvature).
    """
    tangent, outward = frames(points, normals)
    turn = derivative(tangent) / speed(points)[:, None]
    return -(turn * outward).sum(axis=1), -(turn * normals).sum(axis=1)


def refine(points: Floats, count: int) -> Floats:
    """(count, d) points of the same Fourier series, count no less than there are."""
    terms = np.fft.rfft(points, axis=0)
    if len(points) % 2 == 0 and count > len(points):
        terms[-1] *= 0.5  # the highest harmonic represents a pair
    return np.fft.irfft(terms, n=count, axis=0) * (count / len(points))
