"""A honeycomb fitted to the dome: cells of near-equal area, six-sided but where the dome's curvature asks for five.

Inside the net three lines meet at every corner. What cannot be a hexagon lies where it is least seen: the honeycomb
starts regular at the crown and gives way towards the rim.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from shellgen.core.arrays import Bools, Floats
from shellgen.errors import GeometryError
from shellgen.fields.params import choice, length, ratio
from shellgen.geom.patches import area
from shellgen.model import Layout, Surface
from shellgen.plates import _honeycomb as honeycomb
from shellgen.plates._draft import Draft
from shellgen.plates._evening import NetCorners, evened
from shellgen.plates._net import MIDLINE, PLATE, RIM, PlateLabel

FEWEST, MOST = 7, 400
"""Fewest and most cells of a honeycomb. Chosen: one ring round a middle one; as many plates as `bounds` lets a preset
ask for."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    size: float = length(75.0, 15, 300, "Width of a cell from edge to edge, along the outer face.")
    midline: str = choice(
        "cells", ("cells", "edges"), "What lies along the ridge: a row of cells, or cells and edges in turn."
    )
    waviness: float = ratio(0.5, 0.0, 1.0, "0 for straight lines; 1 for lines that bend to meet at even angles.")


def graded(params: Params, scale: float) -> Params:
    """The same net on a dome `scale` times as large across: as many cells, so each is that much larger."""
    return replace(params, size=round(scale * params.size, 1))


def _cell(params: Params) -> float:
    return float(params.size**2 * np.sqrt(3) / 2)


def expected(params: Params, area: float) -> float:
    """How many plates a dome of so many mm2 comes to, about."""
    return area / _cell(params)


def count(surface: Surface, params: Params) -> int:
    """How many plates `build` makes, in a third of its time. GeometryError as it."""
    middle = _centres(surface, params)[1].middle
    return int(middle.sum() + 2 * (~middle).sum())


def build(surface: Surface, params: Params) -> Layout:
    """The layout. GeometryError where the cells are too large or too small for the dome to hold a net of them."""
    mesh, centres = _centres(surface, params)
    found = honeycomb.contacts(mesh, centres.nearest(mesh))
    rings = found.rings()
    uv = evened(surface, _wanted(found, rings, centres.middle, float(mesh.weight.sum())))
    return _drawn(surface, params, found, rings, centres.middle, uv)


def _centres(surface: Surface, params: Params) -> tuple[honeycomb.Fine, honeycomb.Centres]:
    cell = _cell(params)
    if (cells := expected(params, area(surface))) > MOST:
        least = np.ceil(params.size * np.sqrt(cells / MOST))
        raise GeometryError(
            f"plates.size: {params.size:g} mm makes {cells:.0f} cells, more than {MOST}. Use {least:.0f} mm or more."
        )
    mesh = honeycomb.fine(surface, params.size)
    if mesh.weight.sum() < FEWEST / 2 * cell:
        raise GeometryError(f"cells of {params.size:g} mm leave fewer than {FEWEST} on the dome; ask for smaller ones")
    return mesh, honeycomb.best(mesh, params.size, edges_along=params.midline == "edges")


def _walks(rings: list[list[int]]) -> dict[tuple[int, int], int]:
    """The cell on the left of each step from corner to corner."""
    return {step: cell for cell, ring in enumerate(rings) for step in pairwise([*ring, ring[0]])}


def _wanted(found: honeycomb.Contacts, rings: list[list[int]], central: Bools, area: float) -> NetCorners:
    """The net with equal areas and, for each side, the mean of what regular polygons of its two cells would have."""
    share = np.where(central, 0.5, 1.0)
    each = area / share.sum()
    middle, ends, crossed = set(found.middle), {found.rim[0], found.rim[-1]}, found.crossed(central)
    corners = found.sides(rings, central)
    regular = np.sqrt(4 * each * np.tan(np.pi / corners) / corners)
    left = _walks(rings)
    if not left.keys() >= set(pairwise(found.rim)):
        raise GeometryError("the cells along the rim do not stand in one row; ask for another size")
    inside = {(a, b) for a, b in left if a < b and (b, a) in left}
    sides = sorted(inside | {(a, b) for a, b in left if {a, b} <= middle and not central[left[a, b]]})
    wanted = [
        (0.5 if {a, b} & crossed else 1.0) * (regular[left[a, b]] + regular[left.get((b, a), left[a, b])]) / 2
        for a, b in sides
    ]
    border = np.array(
        [regular[left[a, b]] * (0.5 if {a, b} & ends and central[left[a, b]] else 1.0) for a, b in pairwise(found.rim)]
    )
    return NetCorners(
        found.uv, found.rim, found.middle[1:-1], rings, each * share, np.array(sides), np.array(wanted), border
    )


def _drawn(
    surface: Surface, params: Params, found: honeycomb.Contacts, rings: list[list[int]], central: Bools, uv: Floats
) -> Layout:
    left = _walks(rings)
    if not left.keys() >= set(pairwise(found.rim)):
        raise GeometryError("the cells along the rim do not stand in one row; ask for another size")
    rim = {step for a, b in pairwise(found.rim) for step in ((a, b), (b, a))}
    middle = {step for a, b in pairwise(found.middle) for step in ((a, b), (b, a))}
    names = _named(surface.points(uv), rings, left, [not rim.isdisjoint(_walks([ring])) for ring in rings])
    draft = Draft()
    draft.add(uv)
    for (a, b), cell in left.items():
        if a < b or (b, a) not in left:
            kind = RIM if (a, b) in rim else MIDLINE if (a, b) in middle and central[cell] else PLATE
            across = left.get((b, a), -1)
            draft.link(a, b, left=names[cell], right=names[across] if across >= 0 else None, kind=kind)
    return draft.finish(surface, ease=params.waviness, yielding=0.0, order=("hex", "marginal"))


def _named(
    points: Floats, rings: list[list[int]], left: dict[tuple[int, int], int], outer: list[bool]
) -> list[PlateLabel]:
    """A name for each cell, numbered ring by ring from the crown and from neck to tail in each."""
    centre = np.array([points[ring].mean(axis=0) for ring in rings])
    neighbours: list[set[int]] = [set() for _ in rings]
    for (a, b), cell in left.items():
        neighbours[cell].add(left.get((b, a), cell))
    distance = {int(centre[:, 2].argmax()): 0}
    for cell in (queue := list(distance)):
        fresh = sorted(neighbours[cell] - distance.keys())
        distance |= dict.fromkeys(fresh, distance[cell] + 1)
        queue += fresh
    angle = np.arctan2(centre[:, 1], centre[:, 0])
    order = sorted(range(len(rings)), key=lambda c: (distance[c], angle[c]))
    count = {False: 0, True: 0}
    names = [PlateLabel("")] * len(rings)
    for cell in order:
        count[outer[cell]] += 1
        names[cell] = PlateLabel("marginal" if outer[cell] else "hex", count[outer[cell]])
    return names
