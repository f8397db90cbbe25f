"""A dome drawn from its plan (length, width, egg shape, squareness) and its profile (height, fullness, keel, flare).

With s = (p, q, w) on the unit hemisphere, a, b the half length and half width and H the height:

    x = p (a (1 - e) (1 + k q^2) + a e h(w)) + a c w^2       k squareness, e flare, h(w) = (1 - w)^6, c crown
    y = q (1 + t p) (b (1 - e') (1 + k p^2) + b e' h(w))     t taper
    z = (H - K) g(w) + K w exp(-q^2 / 2 d^2)                 g(w) = w (1 + f (1 - w^2)), f fullness; K, d the keel

All is smooth, the rim w = 0 lies in z = 0, and with t = k = e = c = f = K = 0 the dome is half an ellipsoid.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import minimize_scalar

from shellgen.core.arrays import Floats
from shellgen.dome.surfaces._dome import Dome, Jet, blank, check
from shellgen.errors import GeometryError
from shellgen.fields import params as field


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    length: float = field.length(
        560.0, 120, 1200, "Outside, neck edge to tail edge: from two fingers below the neck to a hand above the seat."
    )
    width: float = field.length(
        460.0, 100, 1000, "Outside, at the widest: shoulder breadth and two fingers on each side; wider blocks elbows."
    )
    height: float = field.length(
        180.0, 30, 500, "Outside, from the plane of the rim to the top; higher fits through fewer doors."
    )
    taper: float = field.ratio(
        -0.12, -0.4, 0.4, "Egg shape of the plan: above 0 wider at the neck, below 0 at the tail."
    )
    squareness: float = field.ratio(0.12, 0.0, 0.4, "0 for an oval plan; more for fuller shoulders and hips.")
    fullness: float = field.ratio(
        0.15, -0.4, 0.4, "0 for a round profile; more for a boxier dome, less for a peaked one."
    )
    crown: float = field.ratio(
        0.0, -0.3, 0.3, "Where the highest point stands: above 0 nearer the neck, below 0 nearer the tail."
    )
    keel: float = field.length(8.0, 0, 60, "How far the ridge along the midline stands above the dome.")
    keel_width: float = field.length(70.0, 20, 300, "Breadth of the ridge at half its height.")
    flare: float = field.length(12.0, 0, 50, "How far the rim is turned outward beyond the dome's own wall.")


def graded(params: Params, along: float, across: float, up: float) -> Params:
    """The same dome for another wearer: its measures times the ratios of length, width and height, in whole mm.

    Ridge and plan keep their proportions; the flare stays, as it hides the edge of the padding, which stays.
    """
    return replace(
        params,
        length=float(round(along * params.length)),
        width=float(round(across * params.width)),
        height=float(round(up * params.height)),
        keel=float(round(up * params.keel)),
        keel_width=float(round(across * params.keel_width)),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _PlanFormula:
    """The constants of the formulas above; called with p, q, w."""

    a_dome: float  # a (1 - e)
    a_flare: float  # a e
    crown: float  # a c
    b_dome: float
    b_flare: float
    height: float  # H - K
    keel: float
    keel_spread: float  # d
    taper: float
    square: float
    full: float

    def __call__(self, p: Floats, q: Floats, w: Floats, /, *, order: int = 2) -> Jet:
        jet = blank(len(p))
        self._length(p, q, w, *(part[..., 0] for part in jet), order=order)
        self._width(p, q, w, *(part[..., 1] for part in jet), order=order)
        self._height(q, w, *(part[..., 2] for part in jet), order=order)
        return jet

    def _length(self, p: Floats, q: Floats, w: Floats, x: Floats, dx: Floats, ddx: Floats, *, order: int) -> None:
        h, dh, ddh = _flare(w)
        bulge = 2 * self.a_dome * self.square
        half = self.a_dome * (1 + self.square * q * q) + self.a_flare * h
        x[:] = p * half + self.crown * w * w
        if order < 1:
            return
        dx[0] = half
        dx[1] = p * bulge * q
        dx[2] = p * self.a_flare * dh + 2 * self.crown * w
        if order < 2:
            return
        ddx[0, 1] = ddx[1, 0] = bulge * q
        ddx[0, 2] = ddx[2, 0] = self.a_flare * dh
        ddx[1, 1] = p * bulge
        ddx[2, 2] = p * self.a_flare * ddh + 2 * self.crown

    def _width(self, p: Floats, q: Floats, w: Floats, y: Floats, dy: Floats, ddy: Floats, *, order: int) -> None:
        h, dh, ddh = _flare(w)
        egg = 1 + self.taper * p
        bulge = 2 * self.b_dome * self.square
        half = self.b_dome * (1 + self.square * p * p) + self.b_flare * h
        y[:] = q * egg * half
        if order < 1:
            return
        dy[0] = q * (self.taper * half + egg * bulge * p)
        dy[1] = egg * half
        dy[2] = q * egg * self.b_flare * dh
        if order < 2:
            return
        ddy[0, 0] = q * (2 * self.taper * bulge * p + egg * bulge)
        ddy[0, 1] = ddy[1, 0] = self.taper * half + egg * bulge * p
        ddy[0, 2] = ddy[2, 0] = q * self.taper * self.b_flare * dh
        ddy[1, 2] = ddy[2, 1] = egg * self.b_flare * dh
        ddy[2, 2] = q * egg * self.b_flare * ddh

    def _height(self, q: Floats, w: Floats, z: Floats, dz: Floats, ddz: Floats, *, order: int) -> None:
        spread = self.keel_spread**-2
        ridge = self.keel * np.exp(-0.5 * spread * q * q)
        z[:] = self.height * w * (1 + self.full * (1 - w * w)) + ridge * w
        if order < 1:
            return
        dz[1] = -w * ridge * spread * q
        dz[2] = self.height * (1 + self.full * (1 - 3 * w * w)) + ridge
        if order < 2:
            return
        ddz[1, 1] = w * ridge * spread * (spread * q * q - 1)
        ddz[1, 2] = ddz[2, 1] = -ridge * spread * q
        ddz[2, 2] = -6 * self.height * self.full * w


def _flare(w: Floats) -> tuple[Floats, Floats, Floats]:
    """h and its two derivatives. The sixth power keeps the flare to the lowest fifth of the wall (chosen by eye)."""
    left = 1 - w
    return left**6, -6 * left**5, 30 * left**4


def _widest(taper: float, square: float) -> float:
    """Largest q (1 + t p) (1 + k p^2) on the rim p^2 + q^2 = 1; one hump, since k < 1/2."""

    def half_width(p: float) -> float:
        return float(np.sqrt(1 - p * p) * (1 + taper * p) * (1 + square * p * p))

    found = minimize_scalar(lambda p: -half_width(p), bounds=(-1, 1), method="bounded", options={"xatol": 1e-10})
    return max(half_width(found.x), half_width(0.0))  # a plain oval stays exact


def build(params: Params) -> Dome:
    """The dome with exactly the overall outer length, width and height asked for.

    GeometryError if keel or flare leave no room for the dome, or the surface is not sound (see `_dome.check`).
    """
    if params.keel > params.height / 2:
        raise GeometryError(f"keel of {params.keel:g} mm on a dome {params.height:g} mm high: at most half the height")
    if params.flare > min(params.length, params.width) / 8:
        limit = min(params.length, params.width) / 8
        raise GeometryError(f"flare of {params.flare:g} mm: at most an eighth of length and width ({limit:g} mm)")
    a, b = params.length / 2, params.width / 2
    share = params.flare / b
    b = b / _widest(params.taper, params.squareness * (1 - share))
    dome = Dome(
        _PlanFormula(
            a_dome=a - params.flare,
            a_flare=params.flare,
            crown=a * params.crown,
            b_dome=b * (1 - share),
            b_flare=b * share,
            height=params.height - params.keel,
            keel=params.keel,
            keel_spread=params.keel_width / np.sqrt(8 * np.log(2)) / b,
            taper=params.taper,
            square=params.squareness,
            full=params.fullness,
        )
    )
    check(dome)
    return dome
