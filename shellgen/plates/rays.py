"""Ribs that spread from one point: from the rim at neck or tail as in a scallop, from the crown as in a limpet.

At the point lies a hub, because lines that ran together would leave points of foam. In a scallop the first and the last
plate are its ears. Counts of living animals: the great scallop has 12 to 17 ribs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.fields.params import choice, count, ratio
from shellgen.geom.curves import arc_length
from shellgen.model import Layout, Surface
from shellgen.plates._draft import Draft
from shellgen.plates._narrowest import wide_enough
from shellgen.plates._net import MIDLINE, PLATE, RIM, PlateLabel

ORDER = ("hub", "rib", "ear")
SAMPLES = 401
"""Points on rim and hub. Chosen: about 2 mm apart on an adult's shell."""
STEP, LEAST = 4.0, 8
"""mm between the points of a line, and its fewest steps. Chosen, as in `_curves`."""
FAN = 0.7
"""Share of the hub's border that the ribs of a fan take. Chosen by eye: 63 degrees to each side, as in a scallop."""
EARS = 0.1
"""Share that an ear takes of the rim between the hub and the far end. Chosen by eye: about as broad as it is long."""
MOST, DEEPER = 0.35, 1.25
"""Most of the rim that a hub takes, and its depth at least over the rise of the rim across it. Chosen for high domes,
where its border would else leave the disc."""
SQUARE = 0.6
"""How far edges turn from straight to square where they meet the rim. Chosen by eye: no plate ends in a feather."""

ROUNDING = 1e-12
"""What counts as on the midline, in uv."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    origin: str = choice("tail", ("tail", "neck", "crown"), "Where the ribs begin: on the rim, or on the crown.")
    ribs: int = count(9, 4, 40, "Ribs; if their number is odd, one lies along the midline.")
    hub: float = ratio(
        0.3, 0.1, 0.6, "Radius of the plate at which the ribs begin, as a share of the way from crown to rim."
    )


def expected(params: Params, area: float) -> float:
    """How many plates there are to be, whatever the dome's area."""
    return params.ribs + (1 if params.origin == "crown" else 3)


def build(surface: Surface, params: Params) -> Layout:
    """The layout. PresetError if the ribs are too narrow to be made."""
    ribs = (_round if params.origin == "crown" else _fan)(surface, params)
    draft = _drafted(surface, ribs, origin=params.origin)
    return wide_enough(
        surface,
        lambda: draft.finish(surface, ease=0.0, yielding=0.0, order=ORDER),
        where="plates.ribs",
        what=f"{params.ribs} ribs",
        remedy="Use fewer ribs. A larger hub makes them wider where they begin.",
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Ribs:
    """Half a net of ribs.

    hub    : (edges + 1) lines of uv: its border from the midline past each edge to its end, on the midline or the rim
    edges  : the edges between ribs, from the hub to the rim, in the order of the hub's border; those on the midline
             left out
    labels : of the plates before, between and after the edges
    split  : whether an edge between two ribs lies on the midline
    """

    hub: Sequence[Floats]
    edges: Sequence[Floats]
    labels: Sequence[PlateLabel]
    split: bool


def _round(surface: Surface, params: Params) -> _Ribs:
    """All round the crown: a rib over the neck, and over the tail a rib or, if their number is odd, an edge."""
    rim = _arc(np.linspace(0, np.pi, SAMPLES))
    share = np.arange(1, params.ribs, 2) / params.ribs
    t = np.linspace(0, 1, SAMPLES)
    inner, outer = (np.arctan2(*_evenly(surface, k * rim, share).T[::-1]) for k in (params.hub, 1.0))
    edges = [
        (params.hub + (1 - params.hub) * t)[:, None] * _arc(a + (b - a) * t) for a, b in zip(inner, outer, strict=True)
    ]
    stops = pairwise([0.0, *inner, np.pi])
    labels = [PlateLabel("rib", 1 + k) for k in range(len(edges) + 1)]
    return _Ribs([params.hub * _arc(a + (b - a) * t) for a, b in stops], edges, labels, params.ribs % 2 == 1)


def _fan(surface: Surface, params: Params) -> _Ribs:
    """From the rim at neck or tail: a rib along the midline or, if their number is even, an edge; ears at the ends."""
    side = 1.0 if params.origin == "neck" else -1.0
    rim = _arc(np.linspace(0, np.pi, SAMPLES)) * (side, 1)
    share = np.arange(1 if params.ribs % 2 else 2, params.ribs + 1, 2) / params.ribs
    oval, taken = _oval(surface, rim, params.hub)
    ends = _evenly(surface, rim, 1 - (1 - EARS) * (1 - taken) * share)
    edges = []
    for start, end in zip(_evenly(surface, oval, FAN * share), ends, strict=True):
        reach = np.linalg.norm(end - start)
        out = (1 - SQUARE) * (end - start) / reach + SQUARE * end
        way = (start - rim[0]) / np.linalg.norm(start - rim[0])
        edges.append(_bezier(np.stack([start, start + way * reach / 3, end - out * reach / 3, end])))
    stops = pairwise([0.0, *FAN * share, 1.0])
    hub = [_evenly(surface, oval, np.linspace(a, b, SAMPLES)) for a, b in stops]
    labels = [*(PlateLabel("rib", 1 + k) for k in range(len(edges))), PlateLabel("ear")]
    return _Ribs(hub, edges, labels, params.ribs % 2 == 0)


def _oval(surface: Surface, rim: Floats, radius: float) -> tuple[Floats, float]:
    """(n, 2) the border of a hub round the first point of the rim, from the midline to the rim: as far along the ridge
    as along the rim, a share `radius` of the way to the crown. And the share of the rim that it takes.
    """
    ridge = rim[:1] * np.linspace(1, 0, SAMPLES)[:, None]
    to_crown, around = arc_length(surface.points(ridge)), arc_length(surface.points(rim))
    far = min(radius * to_crown[-1], MOST * around[-1])
    end = np.array([np.interp(far, around, rim[:, axis]) for axis in (0, 1)])
    end /= np.linalg.norm(end)
    back = abs(end[0] - rim[0, 0])
    depth = max(abs(np.interp(far, to_crown, ridge[:, 0]) - rim[0, 0]), DEEPER * back)
    last = np.arccos(back / depth)
    turn = np.linspace(0, last, SAMPLES)
    oval = rim[0] + np.column_stack([-rim[0, 0] * depth * np.cos(turn), end[1] / np.sin(last) * np.sin(turn)])
    oval[-1] = end
    return oval, float(far / around[-1])


def _drafted(surface: Surface, ribs: _Ribs, *, origin: str) -> Draft:
    draft = Draft()
    neck, tail = draft.add(np.array([[1.0, 0], [-1, 0]]))
    hub = np.array([ribs.hub[0][0], *(line[-1] for line in ribs.hub)])
    hub[np.abs(hub) < ROUNDING] = 0.0
    chain = draft.add(hub)
    ends = draft.add(np.array([edge[-1] / np.linalg.norm(edge[-1]) for edge in ribs.edges]))
    clockwise = origin == "neck"

    def link(line: Floats, a: int, b: int, left: PlateLabel, right: PlateLabel) -> None:
        left, right = (right, left) if clockwise else (left, right)
        draft.link(a, b, left=left, right=right, along=_evenly_spaced(surface, line))

    for (a, b), line, label in zip(pairwise(chain), ribs.hub, ribs.labels, strict=True):
        link(line, a, b, PlateLabel("hub"), label)
    for a, b, edge, (before, after) in zip(chain[1:-1], ends, ribs.edges, pairwise(ribs.labels), strict=True):
        link(edge, a, b, after, before)
    last = PLATE if ribs.split else MIDLINE
    if origin == "crown":
        middle = [(neck, chain[0], MIDLINE), (chain[0], chain[-1], MIDLINE), (chain[-1], tail, last)]
        border = ends
    else:
        pole, opposite = (neck, tail) if origin == "neck" else (tail, neck)
        middle = [(pole, chain[0], MIDLINE), (chain[0], opposite, last)]
        border = [chain[-1], *ends[::-1]] if origin == "neck" else [*ends, chain[-1]]
    for a, b, kind in middle:
        draft.link(a, b, kind=kind)
    for a, b in pairwise([neck, *border, tail]):
        draft.link(a, b, kind=RIM)
    return draft


def _evenly(surface: Surface, uv: Floats, share: Floats) -> Floats:
    """(n, 2) places at shares of the length of the line."""
    along = arc_length(surface.points(uv))
    return np.column_stack([np.interp(share * along[-1], along, uv[:, axis]) for axis in (0, 1)])


def _bezier(corners: Floats) -> Floats:
    """(SAMPLES, 2) the cubic curve with these four corners (Farin, Curves and Surfaces for CAGD)."""
    t = np.linspace(0, 1, SAMPLES)[:, None]
    weight = np.hstack([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3])
    return np.asarray(weight @ corners)


def _arc(angle: Floats) -> Floats:
    return np.column_stack([np.cos(angle), np.sin(angle)])


def _evenly_spaced(surface: Surface, uv: Floats) -> Floats:
    span = arc_length(surface.points(uv))[-1]
    return _evenly(surface, uv, np.linspace(0, 1, max(LEAST, int(span / STEP)) + 1))
