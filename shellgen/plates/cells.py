"""Irregular cells, scattered at random and relaxed as far as you like, as in a dried pond or on a giraffe.

The same seed gives the same cells. They are smaller or larger at the rim than at the crown, as you say.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, replace

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError, PresetError
from shellgen.fields.params import count, ratio
from shellgen.geom.patches import area
from shellgen.model import Layout, Surface
from shellgen.plates import _honeycomb as honeycomb
from shellgen.plates import _mosaic as mosaic
from shellgen.plates import _voronoi as voronoi
from shellgen.plates._narrowest import NARROWEST, narrowest

KINDS = ("cell", "marginal")
MOST = 50
"""Rounds of Lloyd's rule of fully relaxed cells. Chosen: their shape changes little after that."""
TRIES = 8
"""Scatters that are tried until every plate is wide enough. Chosen: with the usual figures the first mostly is."""
FEWEST, LEAST = 12, 2.4
"""Fewest cells, and least width of a cell over the narrowest place that may be. Chosen: a cell is about half as wide
in its narrowest place as on average, and no scatter of smaller ones was found sound."""
SHORT, ROOM = 0.25, 1.3
"""Least side of a cell over its width, and over the narrowest that may be. Chosen: a side of a regular hexagon measures
0.58 of its width."""
EASE = 0.5
"""How far lines bend to meet at even angles. Chosen by eye: corners stay open, sides nearly straight."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    cells: int = count(60, FEWEST, 240, "Cells on the whole shell, about.")
    relaxed: float = ratio(0.3, 0.0, 1.0, "How even the cells are: 0 as scattered, 1 nearly a honeycomb.")
    grading: float = ratio(0.7, 0.4, 2.5, "Width of the cells at the rim over their width at the crown, about.")
    seed: int = count(1, 1, 9999, "Any number; another one scatters the cells in another way.")


def expected(params: Params, area: float) -> float:
    """How many plates there are to be, about, whatever the dome's area."""
    return params.cells


def build(surface: Surface, params: Params) -> Layout:
    """The layout. PresetError if the cells are too small to be made."""
    usual = float(np.sqrt(area(surface) / params.cells * 2 / np.sqrt(3)))
    mesh = honeycomb.fine(surface, usual * min(1.0, params.grading))
    size = _sizes(mesh, params)
    hint = f"No plate may be narrower than {NARROWEST:g} mm."
    if (width := float(size.min())) < LEAST * NARROWEST:
        problem = f"{params.cells} cells are down to {width:.0f} mm wide, and some are half as wide in places."
        most = int(params.cells * (width / (LEAST * NARROWEST)) ** 2)
        remedy = (
            f"Use {most} or fewer, or a grading nearer to 1." if most >= FEWEST else "Use a layout with larger plates."
        )
        raise PresetError("plates.cells", problem, remedy, hint=hint)
    for attempt in range(TRIES):
        with contextlib.suppress(GeometryError):
            layout = _tried(surface, params, mesh, size, np.random.default_rng([params.seed, attempt]))
            if not narrowest(surface, layout)[1]:
                return layout
    problem = f"{TRIES} scatters of {params.cells} cells were tried, and all are too narrow somewhere."
    remedy = "Use fewer cells, relax them more, or choose a grading nearer to 1 or another seed."
    raise PresetError("plates.cells", problem, remedy, hint=hint)


def _tried(surface: Surface, params: Params, mesh: honeycomb.Fine, size: Floats, rng: np.random.Generator) -> Layout:
    """One scatter. GeometryError if its cells do not make a net."""
    centres = voronoi.scattered(mesh, size, params.cells, rng)
    # cells of width h come to rest where the density is h^-4 (Du, Faber & Gunzburger, SIAM Review 41(4), 1999)
    dense = replace(mesh, weight=mesh.weight * (size.min() / size) ** 4)
    centres = honeycomb.spread(dense, centres, rounds=round(MOST * params.relaxed**2))
    found = honeycomb.contacts(mesh, centres.nearest(mesh))
    rings = found.rings()
    uv = voronoi.sharpened(surface, found, centres, limit=float(size.min()) / 4)
    least = max(SHORT * float(size.min()), ROOM * NARROWEST)
    uv = voronoi.lengthened(surface, uv, found, rings, centres.middle, least)
    draft = mosaic.drafted(surface, found, rings, centres.middle, uv, kinds=KINDS)
    return draft.finish(surface, ease=EASE, yielding=0.0, order=KINDS)


def _sizes(mesh: honeycomb.Fine, params: Params) -> Floats:
    """(vertices,) mm: the width of a regular hexagon there, so that all cells together fill the dome."""
    size = 1 + (params.grading - 1) * np.linalg.norm(mesh.uv, axis=1)
    half = float((mesh.weight / size**2).sum())
    return np.asarray(size * np.sqrt(2 * half / params.cells * 2 / np.sqrt(3)))
