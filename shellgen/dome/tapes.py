"""Lines that a tape finds on the built dome: girths straight across it, and lengths at equal tape from the midline."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.geom.curves import arc_length
from shellgen.model import Surface

FINE = 8.0
"""mm between the girths that the lengths are found on. Chosen: they bend little over so short a way."""
ACROSS, HALVINGS, ALONG = 160, 44, 801
"""Points of a girth, rounds of halving and points of the midline. Chosen: tapes are then right to 0.02 mm."""
LEAST = 12.0
"""mm of a girth or a length below which it is left out."""


@dataclass(frozen=True, slots=True, eq=False)
class TapeLine:
    """tape : mm, of a girth along the midline from the crown (towards the tail below 0), of a length from the midline;
    uv : (n, 2) of the left half; length : mm of a girth from midline to rim"""

    tape: float
    uv: Floats
    length: float


@remembered
def girths(surface: Surface, step: float) -> tuple[TapeLine, ...]:
    """Every `step` mm along the midline from the crown, each in a plane across the dome."""
    u, along, ridge = _ridge(surface)
    tapes = step * np.arange(np.ceil(along[0] / step), np.floor(along[-1] / step) + 1)
    inside = (tapes > along[0] + LEAST / 2) & (tapes < along[-1] - LEAST / 2)
    tapes = tapes[inside]
    lines = _sections(surface, np.interp(tapes, along, u), np.interp(tapes, along, ridge[:, 0]))
    return tuple(
        TapeLine(float(tape), uv, float(arc_length(surface.points(uv))[-1]))
        for tape, uv in zip(tapes, lines, strict=True)
    )


def to_crown(surface: Surface) -> float:
    """mm of tape along the midline from the rim at the head to the crown."""
    u = np.linspace(0, 1, ALONG)
    return float(arc_length(surface.points(np.column_stack([u, np.zeros(ALONG)])))[-1])


def _sections(surface: Surface, start: Floats, level: Floats) -> list[Floats]:
    """The lines of equal x from `start` on the midline to the rim, by halving along u at even v.

    x grows with u at each v, because the dome stands over its plan without folds.
    """
    low, high = np.zeros(len(level)), np.full(len(level), np.pi)
    for _ in range(HALVINGS):
        turn = (low + high) / 2
        over = surface.points(np.column_stack([np.cos(turn), np.sin(turn)]))[:, 0] > level
        low, high = np.where(over, turn, low), np.where(over, high, turn)
    end = np.column_stack([np.cos(low), np.sin(low)])
    v = end[:, 1:] * np.sin(np.linspace(0, np.pi / 2, ACROSS))  # closer together towards the rim
    reach = np.sqrt(np.maximum(1 - v * v, 0))
    below, above = -reach, reach.copy()
    for _ in range(HALVINGS):
        u = (below + above) / 2
        x = surface.points(np.column_stack([u.ravel(), v.ravel()]))[:, 0].reshape(u.shape)
        over = x > level[:, None]
        below, above = np.where(over, below, u), np.where(over, u, above)
    u = (below + above) / 2
    u[:, 0], u[:, -1] = start, end[:, 0]
    return [np.column_stack(pair) for pair in zip(u, v, strict=True)]


@remembered
def lengths(surface: Surface, step: float) -> tuple[TapeLine, ...]:
    """At every `step` mm of tape from the midline, measured along girths; cut where a girth is shorter."""
    fine = girths(surface, FINE)
    reached = [(line, arc_length(surface.points(line.uv))) for line in fine]
    found = []
    for tape in step * np.arange(1, 1 + int(max(line.length for line in fine) / step)):
        points = [
            [np.interp(tape, along, line.uv[:, k]) for k in (0, 1)] for line, along in reached if along[-1] >= tape
        ]
        if len(points) > 2:
            found.append(
                TapeLine(float(tape), np.array([*_to_rim(fine, tape, -1), *points, *_to_rim(fine, tape, 1)]), 0.0)
            )
    return tuple(found)


def _to_rim(fine: tuple[TapeLine, ...], tape: float, way: int) -> list[Floats]:
    """Where a length meets the rim towards the head (1) or the tail (-1): a girth there is just as long."""
    for inner, outer in zip(fine[::-way][1:], fine[::-way][:-1], strict=True):
        if outer.length < tape <= inner.length:
            share = (inner.length - tape) / (inner.length - outer.length)
            end = inner.uv[-1] + share * (outer.uv[-1] - inner.uv[-1])
            return [end / np.hypot(*end)]
    return []


def tape_limits(surface: Surface) -> tuple[float, float]:
    """What a tape along the midline reads from the crown to the rim: below 0 at the tail, above at the head."""
    _, along, _ = _ridge(surface)
    return float(along[0]), float(along[-1])


@remembered
def tape_spot(surface: Surface, along: float, out: float) -> tuple[Floats, float]:
    """(2,) uv at `along` mm of tape from the crown on the midline and `out` mm straight across to the left, and how
    far the tape goes there to the rim; at the rim itself if `out` is more. `along` is within `tape_limits`."""
    u, measured, ridge = _ridge(surface)
    start, level = np.interp(along, measured, u), np.interp(along, measured, ridge[:, 0])
    (line,) = _sections(surface, np.array([start]), np.array([level]))
    across = arc_length(surface.points(line))
    return np.array([np.interp(out, across, line[:, k]) for k in (0, 1)]), float(across[-1])


def _ridge(surface: Surface) -> tuple[Floats, Floats, Floats]:
    """u, tape from the crown, and points (n, 3) along the midline, from the tail."""
    u = np.linspace(-1, 1, ALONG)
    ridge = surface.points(np.column_stack([u, np.zeros(ALONG)]))
    along = arc_length(ridge)
    return u, along - np.interp(0.0, u, along), ridge
