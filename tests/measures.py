"""Measures on layouts, made without the library's own nets: shapely in the disc, quadrature on the dome."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
import shapely
from numpy.typing import NDArray

from shellgen.dome.surfaces import plan
from shellgen.model import Layout, Line, Surface

HEMISPHERE = plan.Params(length=500, width=500, height=250, taper=0, squareness=0, fullness=0, crown=0, keel=0, flare=0)
DOMES = {
    "adult": plan.Params(),
    "child": plan.Params(length=380, width=320, height=130, keel=0, flare=0),
    "long": plan.Params(length=750, width=380, height=200),
    "tapered": plan.Params(length=560, width=440, height=180, taper=-0.35),
    "hemisphere": HEMISPHERE,
}


def outline(layout: Layout, cell: int) -> NDArray:
    """(n, 2) closed polygon of a cell in uv, by walking its lines."""
    walk = [layout.lines[i].uv if turn > 0 else layout.lines[i].uv[::-1] for i, turn in layout.cells[cell]]
    for part, following in zip(walk, walk[1:] + walk[:1], strict=True):
        assert np.array_equal(part[-1], following[0])
    return np.concatenate([part[:-1] for part in walk])


@cache
def plate_areas(surface: Surface, layout: Layout, *, depth: int = 16) -> NDArray:
    """(plates,) mm2: the area element by Simpson's rule over each cell's polygon, shrunk to its centre in steps."""
    areas = []
    for cell in range(len(layout.cells)):
        polygon = outline(layout, cell)
        centre = polygon.mean(axis=0)
        edge = np.roll(polygon, -1, axis=0) - polygon
        middle = polygon + edge / 2 - centre
        sector = (middle[:, 0] * edge[:, 1] - middle[:, 1] * edge[:, 0]) / 2
        radius = np.linspace(0, 1, 2 * depth + 1)
        weight = np.full(len(radius), 2.0)
        weight[1::2] = 4
        weight[[0, -1]] = 1
        tangent = surface.tangents((centre + radius[:, None, None] * middle).reshape(-1, 2))
        element = np.linalg.norm(np.cross(tangent[:, :, 0], tangent[:, :, 1]), axis=1).reshape(len(radius), -1)
        areas.append((weight * radius / (6 * depth)) @ element @ (2 * sector))
    return np.array([sum(areas[cell] for cell in plate.cells) for plate in layout.plates])


def line_length(surface: Surface, line: Line) -> float:
    return float(np.linalg.norm(np.diff(surface.points(line.uv), axis=0), axis=1).sum())


def side_lengths(surface: Surface, layout: Layout) -> NDArray:
    """mm of every side of a plate: plate and rim lines, taken together where they only meet at the midline."""
    shown = [i for i, line in enumerate(layout.lines) if line.kind in ("plate", "rim")]
    at: dict[int, list[int]] = {}
    for i in shown:
        for node in (layout.lines[i].start, layout.lines[i].end):
            at.setdefault(node, []).append(i)
    joined = {i: i for i in shown}
    for pair in at.values():
        if len(pair) == 2:
            a, b = (joined[i] for i in pair)
            joined = {i: a if k == b else k for i, k in joined.items()}
    total: dict[int, float] = {}
    for i in shown:
        total[joined[i]] = total.get(joined[i], 0.0) + line_length(surface, layout.lines[i])
    return np.array(list(total.values()))


def polygonized(layout: Layout, kinds: Sequence[str]) -> list[shapely.Polygon]:
    """The faces that the lines of these kinds enclose in the disc, as shapely finds them from coordinates alone."""
    lines = [shapely.LineString(line.uv) for line in layout.lines if line.kind in kinds]
    return list(shapely.get_parts(shapely.polygonize(lines)))
