"""A honeycomb fitted to the dome: cells of near-equal area, six-sided but where the dome's curvature asks for five.

Inside the net three lines meet at every corner. What cannot be a hexagon lies where it is least seen: the honeycomb
starts regular at the crown and gives way towards the rim.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from shellgen.core.arrays import Bools
from shellgen.errors import GeometryError
from shellgen.fields.params import choice, length, ratio
from shellgen.geom.patches import area
from shellgen.model import Layout, Surface
from shellgen.plates import _honeycomb as honeycomb
from shellgen.plates import _mosaic as mosaic
from shellgen.plates._evening import NetCorners, evened

KINDS = ("hex", "marginal")
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
    draft = mosaic.drafted(surface, found, rings, centres.middle, uv, kinds=KINDS)
    return draft.finish(surface, ease=params.waviness, yielding=0.0, order=KINDS)


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


def _wanted(found: honeycomb.Contacts, rings: list[list[int]], central: Bools, area: float) -> NetCorners:
    """The net with equal areas and, for each side, the mean of what regular polygons of its two cells would have."""
    share = np.where(central, 0.5, 1.0)
    each = area / share.sum()
    middle, ends, crossed = set(found.middle), {found.rim[0], found.rim[-1]}, found.crossed(central)
    corners = found.sides(rings, central)
    regular = np.sqrt(4 * each * np.tan(np.pi / corners) / corners)
    left = mosaic.walks(found, rings)
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
