"""Registration marks: their places along a seam, and on each of its two mates."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.fields import params as field
from shellgen.geom.curves import arc_length
from shellgen.model import Cut, Mark, Pattern, ShellMesh


@dataclass(frozen=True, slots=True)
class Params:
    spacing: float = field.length(70, 20, 400, "About how far apart registration marks are along a seam.")
    least_gap: float = field.length(15, 8, 60, "The least distance between two marks.")


GROWTH = 0.5
"""The last gap between marks is longer than the first by this share, so that a reversed seam does not match
itself (chosen). On short seams it is as large as the least gap allows, down to LEAST_GROWTH."""

LEAST_GROWTH = 0.12
"""Chosen: the first mark is then still about 2 mm off when a seam of three least gaps is reversed."""


def fractions(length: float, params: Params) -> tuple[float, ...]:
    """The places of the marks along a seam of `length` mm, as shares of it, both ends included.

    At least two are inside if the least gap allows it. Gaps grow along the seam, by GROWTH in all.
    """
    room = length / params.least_gap
    gaps = max(1, min(int(room / (1.0 + LEAST_GROWTH / 2.0)), max(3, round(length / params.spacing))))
    growth = min(GROWTH, max(0.0, 2.0 * (room / gaps - 1.0)))
    sizes = np.linspace(1.0, 1.0 + growth, gaps)
    inner = np.cumsum(sizes)[:-1] / sizes.sum()
    return (0.0, *map(float, inner), 1.0)


def along(cut: Cut, mesh: ShellMesh, mid_offset: float, params: Params) -> tuple[tuple[float, ...], ...]:
    """`fractions` for every seam, by its length on the mid surface."""
    points = mesh.offset(mid_offset)
    return tuple(fractions(float(arc_length(points[seam.vertices])[-1]), params) for seam in cut.seams)


def _on_chain(curve: Floats, flat: Floats, shares: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Points and unit tangents on the flat chain at the mesh positions at `shares` of the curve's length."""
    s = arc_length(curve)
    target = np.array(shares) * s[-1]
    edge = np.clip(np.searchsorted(s, target, side="right") - 1, 0, len(s) - 2)
    t = ((target - s[edge]) / (s[edge + 1] - s[edge]))[:, None]
    step = flat[edge + 1] - flat[edge]
    return flat[edge] + t * step, step / np.linalg.norm(step, axis=1, keepdims=True)


def build(mesh: ShellMesh, cut: Cut, pattern: Pattern, shares: tuple[tuple[float, ...], ...]) -> tuple[Mark, ...]:
    """The marks of the whole pack, numbered from 1, each on both mates.

    shares : per seam, as from `along`
    """
    points = mesh.offset(pattern.mid_offset)
    marks: list[Mark] = []
    for index, (seam, wanted) in enumerate(zip(cut.seams, shares, strict=True)):
        places = []
        for piece_index, side_index in seam.sides:
            side = cut.pieces[piece_index].sides[side_index]
            chain = pattern.flats[piece_index].flat[side.vertices]
            chain = chain if side.forward else chain[::-1]
            at, tangent = _on_chain(points[seam.vertices], chain, wanted)
            # Outlines run counter-clockwise, so the piece lies to the left of its own outline order.
            turn = np.pi / 2 if side.forward else -np.pi / 2
            inward = np.arctan2(tangent[:, 1], tangent[:, 0]) + turn
            places.append([(piece_index, float(p[0]), float(p[1]), float(a)) for p, a in zip(at, inward, strict=True)])
        for fraction, first, second in zip(wanted, *places, strict=True):
            marks.append(Mark(number=len(marks) + 1, seam=index, fraction=fraction, at=(first, second)))
    return tuple(marks)


def interval_lengths(
    mesh: ShellMesh, cut: Cut, pattern: Pattern, shares: tuple[tuple[float, ...], ...]
) -> tuple[Floats, ...]:
    """Per seam, (2, gaps) mm: the flat length of each mate between every two marks, to be equal row by row."""
    points = mesh.offset(pattern.mid_offset)
    result = []
    for seam, wanted in zip(cut.seams, shares, strict=True):
        s = arc_length(points[seam.vertices])
        rows = []
        for piece_index, side_index in seam.sides:
            side = cut.pieces[piece_index].sides[side_index]
            chain = pattern.flats[piece_index].flat[side.vertices]
            flat_s = arc_length(chain if side.forward else chain[::-1])
            rows.append(np.diff(np.interp(np.array(wanted) * s[-1], s, flat_s)))
        result.append(np.array(rows))
    return tuple(result)
