"""How narrow the narrowest place of a layout is, and the limit that foam sets."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from scipy.spatial import cKDTree

from shellgen.core.arrays import Bools
from shellgen.errors import GeometryError, PresetError
from shellgen.geom.curves import arc_length, at_arc_length
from shellgen.model import Layout, Line, Surface

NARROWEST = 10.0
"""mm. Chosen: no plate is narrower anywhere than the usual foam is thick, or it can be neither glued nor grooved."""
STEP = 1.0
"""mm between the points that are compared. Chosen: distances are then right within 0.05 mm at the limit."""


def wide_enough(surface: Surface, make: Callable[[], Layout], *, where: str, what: str, remedy: str) -> Layout:
    """The layout that `make` returns.

    where, what, remedy : the field of the preset, what it asks for, in the plural, and what to change

    PresetError if a plate is narrower than NARROWEST anywhere, or if lines cross.
    """
    hint = f"No plate may be narrower than {NARROWEST:g} mm."
    try:
        layout = make()
    except GeometryError as error:
        raise PresetError(where, f"{what} leave a plate no room at all.", remedy, hint=hint) from error
    found, name = narrowest(surface, layout)
    if name:
        raise PresetError(where, f"{what} make {name} {found:.1f} mm wide where it is narrowest.", remedy, hint=hint)
    return layout


def narrowest(surface: Surface, layout: Layout, *, below: float = NARROWEST) -> tuple[float, str]:
    """The least distance between two lines of a plate that do not meet, and the name of the plate; (`below`, "") if
    none is shorter than that. A short side counts, because the lines at its ends do not meet."""
    shown = [line for line in layout.lines if line.kind != "midline"]
    dense = []
    for line in shown:
        points = surface.points(line.uv)
        along = arc_length(points)
        dense.append(at_arc_length(points, np.linspace(0, along[-1], max(2, int(along[-1] / STEP) + 1))))
    owner = np.repeat(np.arange(len(shown)), [len(points) for points in dense])
    place = np.concatenate(dense)
    pair = cKDTree(place).query_pairs(below, output_type="ndarray")
    pair = pair[~_meeting(shown, len(layout.nodes))[*owner[pair].T]]
    gap = np.linalg.norm(place[pair[:, 0]] - place[pair[:, 1]], axis=1)
    for k in np.argsort(gap):
        sides = [{line.left, line.right} - {-1} for line in (shown[i] for i in owner[pair[k]])]
        plates = [{layout.cell_plate[cell] for cell in cells} for cells in sides]
        shared = sorted(plates[0] & plates[1]) or sorted(plates[0])
        return float(gap[k]), layout.plates[shared[0]].name
    return below, ""


def _meeting(lines: Sequence[Line], nodes: int) -> Bools:
    """(lines, lines) whether two lines are one, or meet in a node; lines that run on into each other count as one."""
    ends = np.zeros((len(lines), nodes), dtype=int)
    for k, line in enumerate(lines):
        ends[k, [line.start, line.end]] = 1
    through = ends[:, ends.sum(axis=0) == 2]
    whole = np.minimum(ends + through @ through.T @ ends, 1)
    return np.asarray(whole @ whole.T > 0)
