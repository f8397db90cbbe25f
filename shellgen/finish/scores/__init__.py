"""Score lines on the built dome: each corner of the net by tape and bearing from the crown, and paper strips that wrap
along the lines; how deep and wide the lines are burnt or carved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor

import numpy as np

from shellgen.canvas import frozen_array
from shellgen.core.arrays import Floats
from shellgen.core.content import digest
from shellgen.core.memory import remembered, remembered_each
from shellgen.fields import params as field
from shellgen.finish.scores.wraps import Stop, Wrap, between_plates, wraps
from shellgen.geom import loops, patches
from shellgen.geom.geodesics import Geodesics, angle_between, shortest
from shellgen.model import Finding, Layout, Spike, Surface

__all__ = [
    "Corner",
    "Params",
    "Scores",
    "Seat",
    "Stop",
    "Wrap",
    "build",
    "corners",
    "from_crown",
    "groove",
    "seats",
    "too_deep",
    "wraps",
]


LEFT = 1 / 3
"""Least share of the foam below a groove (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    """The grooves between the plates."""

    way: str = field.choice("burn", ("burn", "carve"), "How they are made: with a hot tool, or with knife and rasp.")
    width: float = field.length(3.0, 0.5, 15, "Width of a groove at the foam's face.")
    depth: float | None = field.length(
        None, 0.5, 20, "Depth of a groove; leave at least a third of the foam, which keeps the shell strong. If left "
        "out: 3 mm, less in foam of less than 9 mm."
    )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class ScoreCorner:
    """A place on the dome, as the tape finds it.

    name    : number from the crown outwards, with L or R off the midline
    uv      : (2,); tape : mm along the dome from the crown
    bearing : at the crown, from the head's direction; positive to the wearer's left
    plates  : names of those that meet there
    """

    name: str
    node: int
    uv: Floats
    tape: float
    bearing: float
    plates: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Seat:
    """Where a spike stands. turn : of its turning line from the tape's own direction, counter-clockwise from outside;
    ring : (n, 2) uv, closed, outer foot of its ring; empty without one"""

    spike: str
    tape: float
    bearing: float
    turn: float
    ring: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Scores:
    corners: tuple[ScoreCorner, ...]
    wraps: tuple[Wrap, ...]
    seats: tuple[Seat, ...]
    way: str
    width: float
    depth: float


def groove(params: Params, thickness: float) -> tuple[float, float]:
    """Width and depth in foam of this thickness: unless the preset says more, a third of it and 3 mm at most."""
    usual = min(3.0, max(0.5, floor(2 * thickness / 3) / 2))
    return params.width, usual if params.depth is None else params.depth


def too_deep(params: Params, thickness: float) -> tuple[Finding, ...]:
    """The finding about grooves that leave too little of the foam, or none."""
    most = (1 - LEFT) * thickness
    _, depth = groove(params, thickness)
    if depth <= most:
        return ()
    why = "they would cut it through" if depth >= thickness else "they leave less than a third of it"
    text = (
        f"The score lines are {depth:g} mm deep and the foam is {thickness:g} mm thick: {why}. Make them "
        f"{floor(10 * most) / 10:g} mm deep or less (scores: depth)."
    )
    return (Finding("caution", "scores", text),)


def build(
    surface: Surface, layout: Layout, spikes: tuple[Spike, ...], params: Params, *, thickness: float,
    ring_thickness: float,
) -> Scores:  # fmt: skip
    """Corners from the crown outwards, wrap strips of all plate lines, seats of the spikes.

    thickness : mm, of the foam
    """
    found, strips = _of_net(surface, layout)
    return Scores(found, strips, seats(surface, spikes, ring_thickness), params.way, *groove(params, thickness))


@remembered
def _of_net(surface: Surface, layout: Layout) -> tuple[tuple[ScoreCorner, ...], tuple[Wrap, ...]]:
    found = corners(surface, layout)
    return found, wraps(surface, layout, {corner.node: corner.name for corner in found})


@remembered
def from_crown(surface: Surface, uv: Floats) -> tuple[Floats, Floats, Geodesics]:
    """Tape (k,) and bearing (k,) of places uv (k, 2), and the ways there."""
    crown = np.zeros(2)
    away = shortest(surface, crown, uv)
    ahead = surface.tangents(crown[None])[0, :, 0]
    ahead = ahead / np.linalg.norm(ahead)
    left = np.cross(surface.normals(crown[None])[0], ahead)
    bearing = np.arctan2(away.heading @ left, away.heading @ ahead)
    return away.length, np.where(away.length > 1e-6, bearing, 0.0), away


def corners(surface: Surface, layout: Layout) -> tuple[ScoreCorner, ...]:
    """The nodes where plates meet, numbered by their tape; a mirrored pair has one number."""
    degree = np.zeros(len(layout.nodes), int)
    for line in layout.lines:
        if line.kind in ("plate", "rim"):
            degree[[line.start, line.end]] += 1
    plates: dict[int, set[str]] = {}
    for k in between_plates(layout):
        line = layout.lines[k]
        adjacent = {layout.plates[layout.cell_plate[cell]].name for cell in (line.left, line.right) if cell >= 0}
        for node in (line.start, line.end):
            plates.setdefault(node, set()).update(adjacent)
    nodes = np.array([node for node in plates if degree[node] != 2])
    tape, bearing, _ = from_crown(surface, layout.nodes[nodes])
    left = bearing >= -1e-9
    middle = np.abs(layout.nodes[nodes, 1]) < 1e-9
    order = [k for k in np.lexsort((bearing, np.round(tape, 3))) if left[k]]
    result = []
    for number, k in enumerate(order, 1):
        hands = [(k, "" if middle[k] else "L")]
        if not middle[k]:
            apart = np.abs(layout.nodes[nodes] * [1, -1] - layout.nodes[nodes[k]]).max(axis=1)
            hands.append((int(apart.argmin()), "R"))
        for i, hand in hands:
            node = int(nodes[i])
            names = tuple(sorted(plates[node]))
            result.append(
                ScoreCorner(f"{number}{hand}", node, layout.nodes[node], float(tape[i]), float(bearing[i]), names)
            )
    return tuple(result)


def seats(surface: Surface, spikes: tuple[Spike, ...], ring_thickness: float) -> tuple[Seat, ...]:
    """Where each spike stands, and the outer foot of its ring."""
    if not spikes:
        return ()
    uv = np.array([spike.uv for spike in spikes])
    tape, bearing, away = from_crown(surface, uv)
    arriving = np.einsum("kij,kj->ki", surface.tangents(uv), away.uv[:, -1] - away.uv[:, -2])
    normal = surface.normals(uv)
    rings = _rings(surface, spikes, ring_thickness)
    return tuple(
        Seat(
            spike.name, float(tape[k]), float(bearing[k]),
            angle_between(arriving[k], spike.frame[:3, 0], normal[k]) if tape[k] > 1e-6 else 0.0,
            rings.get(spike.name, np.zeros((0, 2))),
        )
        for k, spike in enumerate(spikes)
    )  # fmt: skip


def _rings(surface: Surface, spikes: tuple[Spike, ...], thickness: float) -> dict[str, Floats]:
    ringed = [spike for spike in spikes if spike.ring and len(spike.base_curve)]
    if not ringed:
        return {}
    return dict(zip((s.name for s in ringed), _feet(ringed, surface, thickness), strict=True))


@remembered_each(digest)
def _feet(spikes: Sequence[Spike], surface: Surface, thickness: float) -> list[Floats]:
    """Of each spike the outer foot of its ring, (n, 2) uv."""
    outer = [loops.offset(s.base_curve, surface.normals(s.seat_uv), thickness) for s in spikes]
    uv, _ = patches.project(surface, np.vstack(outer))
    return [frozen_array(part) for part in np.split(uv, np.cumsum([len(points) for points in outer])[:-1])]
