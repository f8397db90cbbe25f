"""A dome from the girths of a real form: a stuffed pillow, a double made of tape, a basket.

At stations along the form a tape is laid over the top, from rim to rim, and a rule across from rim to rim. With
s = (p, q, w) on the unit hemisphere and a the half length

    x = a p        y = q B(p)        z = w H(p) (1 + F(p) q^2)

so that the section at x = a p, where q^2 + w^2 = 1 - p^2 = c^2, has the half width c B and the height c H. Without a
height it is half an ellipse (F = 0), and its height is what the girth leaves; with one, F makes up the girth: above 0
boxier than an ellipse. B, H and F are cubic splines through the stations, held towards the ends: the dome is C2, ends
round, lies with its rim in a plane, and holds every width, height and girth given to the rounding of the arithmetic.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq

from shellgen.core.arrays import Floats
from shellgen.dome.surfaces._dome import Dome, Jet, blank, check
from shellgen.errors import GeometryError, PresetError
from shellgen.fields import params as field

BOXY = (-0.35, 0.6)
"""Least and greatest boxiness c^2 F of a section (chosen: beyond, it turns hollow or bulges over its rim)."""

FLATTEST = 1.02
"""Least girth over width (chosen: an eighth of the half width high, about as flat as foam holds a shape)."""


MEASURED = True
"""The figures are those of a form, which may be somebody's body."""


@dataclass(frozen=True, slots=True, eq=False)
class Station:
    at: float = field.length(field.REQUIRED, 1, 1200, "How far from the neck edge, straight along the form.")
    girth: float = field.length(field.REQUIRED, 50, 2500, "Tape over the top from rim to rim, square to the length.")
    width: float = field.length(field.REQUIRED, 40, 1000, "Straight across from rim to rim.")
    height: float | None = field.length(
        None, 15, 500, "From the plane of the rim up to the top; left out, the section is half an ellipse."
    )

    def __post_init__(self) -> None:
        least = FLATTEST * self.width
        if self.girth < least:
            problem = f"{self.girth:g} mm is too short for a width of {self.width:g} mm."
            remedy = f"Give {least:.0f} mm or more: a tape over the top is longer than across."
            raise PresetError("girth", problem, remedy)
        if self.height is not None:
            low, high = (over(self.width / 2, self.height, boxy) for boxy in BOXY)
            if not low <= self.girth <= high:
                size = f"a width of {self.width:g} mm and a height of {self.height:g} mm"
                remedy = f"Give {np.ceil(low):.0f} to {np.floor(high):.0f} mm."
                hint = "Measure again, or leave the height out."
                raise PresetError("girth", f"{self.girth:g} mm does not fit {size}.", remedy, hint=hint)


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    length: float = field.length(field.REQUIRED, 120, 1200, "Straight from the neck edge to the tail edge.")
    stations: tuple[Station, ...] = field.many(
        Station, "Where the form was measured, in order from the neck edge.", most=40, default=field.REQUIRED
    )
    cover: float = field.length(
        0.0, 0, 60, "How far the finished outside lies outside the form: the foam's thickness if it goes over the form."
    )

    def __post_init__(self) -> None:
        places = [0.0, *(station.at for station in self.stations), self.length]
        if not self.stations:
            raise PresetError("stations", "The list is empty.", "Give at least one, for example half-way along.")
        for number, (before, here) in enumerate(pairwise(places), 1):
            if here <= before:
                last = number > len(self.stations)
                problem = f"{here:g} mm as place {number} is too little."
                remedy = f"Give more than {before:g} mm" + ("." if last else ", the place before it.")
                raise PresetError("length" if last else "stations", problem, remedy)


def over(half: float, height: float, boxy: float = 0.0) -> float:
    """Length over the top of a section, mm: y = half sin t, z = height cos t (1 + boxy sin^2 t).

    The trapezoid rule on the whole turn, which converges faster than any power for a smooth closed curve.
    """
    t = np.linspace(0, 2 * np.pi, 2048, endpoint=False)
    across = half * np.cos(t)
    up = height * np.sin(t) * (2 * boxy * np.cos(t) ** 2 - 1 - boxy * np.sin(t) ** 2)
    return float(np.pi * np.hypot(across, up).mean())


def section(station: Station) -> tuple[float, float, float]:
    """Half width, height and boxiness that have the girth measured."""
    half = station.width / 2
    if station.height is None:
        height = brentq(lambda h: over(half, h) - station.girth, 0.0, station.girth, xtol=1e-12)
        return half, float(height), 0.0
    boxy = brentq(lambda f: over(half, station.height, f) - station.girth, *BOXY, xtol=1e-14)
    return half, station.height, float(boxy)


def graded(params: Params, along: float, across: float, up: float) -> Params:
    """The same form for another wearer, its measures times the ratios of length, width and height, to 0.1 mm."""

    def fitted(station: Station) -> Station:
        half, height, boxy = section(station)
        girth, width = over(across * half, up * height, boxy), across * station.width
        raised = None if station.height is None else round(up * height, 1)
        return Station(at=round(along * station.at, 1), girth=round(girth, 1), width=round(width, 1), height=raised)

    stations = tuple(fitted(station) for station in params.stations)
    return replace(params, length=round(along * params.length, 1), stations=stations)


@dataclass(frozen=True, slots=True, eq=False)
class _SplineColumn:
    """One column of the splines; called with p and which derivative. Plain arrays, so that its content has a digest."""

    coefficients: Floats
    knots: Floats

    def __call__(self, p: Floats, derivative: int) -> Floats:
        column: Floats = CubicSpline.construct_fast(self.coefficients, self.knots)(p, derivative)
        return column


@dataclass(frozen=True, slots=True, eq=False)
class _GirthFormula:
    """The constants of the formulas above; called with p, q, w."""

    half_length: float
    breadth: _SplineColumn
    height: _SplineColumn
    boxy: _SplineColumn

    def __call__(self, p: Floats, q: Floats, w: Floats, /, *, order: int = 2) -> Jet:
        jet = value, first, second = blank(len(p))
        b, *db = (self.breadth(p, k) for k in range(order + 1))
        h, *dh = (self.height(p, k) for k in range(order + 1))
        f, *df = (self.boxy(p, k) for k in range(order + 1))
        square = q * q
        rise = h * (1 + f * square)
        value[:, 0], value[:, 1], value[:, 2] = self.half_length * p, q * b, w * rise
        if order > 0:
            by_p = dh[0] * (1 + f * square) + h * df[0] * square
            first[0, :, 0], first[0, :, 1], first[1, :, 1] = self.half_length, q * db[0], b
            first[0, :, 2], first[1, :, 2], first[2, :, 2] = w * by_p, 2 * w * h * f * q, rise
        if order > 1:
            second[0, 0, :, 1] = q * db[1]
            second[0, 1, :, 1] = second[1, 0, :, 1] = db[0]
            second[0, 0, :, 2] = w * (dh[1] * (1 + f * square) + 2 * dh[0] * df[0] * square + h * df[1] * square)
            second[1, 1, :, 2] = 2 * w * h * f
            second[0, 1, :, 2] = second[1, 0, :, 2] = 2 * w * q * (dh[0] * f + h * df[0])
            second[0, 2, :, 2] = second[2, 0, :, 2] = by_p
            second[1, 2, :, 2] = second[2, 1, :, 2] = 2 * h * f * q
        return jet


def build(params: Params) -> Dome:
    """The dome through all stations, laid outside the form by `cover`. GeometryError if it is not sound."""
    half_length = params.length / 2 + params.cover
    at = np.array([station.at for station in params.stations])
    found = np.array([section(_covered(station, params.cover)) for station in params.stations])
    p = (params.length / 2 - at) / half_length
    round_ = np.sqrt(1 - p * p)
    columns = np.column_stack([found[:, 0] / round_, found[:, 1] / round_, found[:, 2] / round_**2])[::-1]
    knots = np.concatenate([[-1.0], p[::-1], [1.0]])
    splines = CubicSpline(knots, columns[[0, *range(len(at)), -1]], bc_type="natural")
    dome = Dome(
        _GirthFormula(
            half_length, *(_SplineColumn(np.ascontiguousarray(splines.c[..., k]), splines.x) for k in range(3))
        )
    )
    try:
        check(dome)
    except GeometryError as error:
        what = str(error).split(": ")[0]
        raise GeometryError(
            f"{what}: measure again, or smooth the girths and widths of neighbouring stations"
        ) from error
    return dome


def _covered(station: Station, cover: float) -> Station:
    """The section laid outside by `cover`. The tape turns by half a turn, so it gains pi times that (Steiner)."""
    return replace(
        station,
        girth=station.girth + np.pi * cover,
        width=station.width + 2 * cover,
        height=None if station.height is None else station.height + cover,
    )
