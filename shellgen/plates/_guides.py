"""Finds the chart's own lines in its layer of guides by their shape, where a drawing program dropped their names."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
import shapely

from shellgen.core.arrays import Floats
from shellgen.plates._svgfile import CROWN, MIDDLE, RIM

NEAR = 1e-3
"""Of the size of the rim: what counts as one place. Chosen: half a millimetre on an adult's chart."""
ROUND = 0.02
"""Share by which the radii of a circle may differ."""


def recognised(named: Mapping[str, Floats], outlines: Sequence[Floats]) -> dict[str, Floats]:
    """Rim, midline and crown, as far as they are known by name or by shape. outlines : (n, 2) mm on the page, each

    The rim is the outline with the largest box; the midline a straight line between points of the rim about which the
    rim is symmetric, its head up; the crown the smallest circle with its centre on the midline.
    """
    found = dict(named)
    if RIM not in found and (large := [line for line in outlines if len(line) > 16]):
        found[RIM] = max(large, key=lambda line: float(np.ptp(line, axis=0).prod()))
    if RIM in found and MIDDLE not in found and (lines := list(_halving(found[RIM], outlines))):
        middle = max(lines, key=lambda line: abs(line[1, 1] - line[0, 1]))
        found[MIDDLE] = middle[np.argsort(middle[:, 1])]
    if MIDDLE in found and CROWN not in found and (circles := list(_circles(found[MIDDLE], outlines))):
        found[CROWN] = min(circles, key=lambda line: float(np.ptp(line, axis=0).max()))
    return found


def _halving(rim: Floats, outlines: Sequence[Floats]) -> Iterable[Floats]:
    """(2, 2) ends of straight lines that halve the rim, or join its ends."""
    near = NEAR * float(np.hypot(*np.ptp(rim, axis=0)))
    border = shapely.LineString(rim)
    closed = np.hypot(*(rim[0] - rim[-1])) < near
    for line in outlines:
        ends = line[[0, -1]]
        way = ends[1] - ends[0]
        if (long := float(np.hypot(*way))) < 20 * near:
            continue
        across = np.array([-way[1], way[0]]) / long
        if np.abs((line - ends[0]) @ across).max() > near:
            continue
        if not closed:
            if max(min(np.hypot(*(end - tip)) for tip in ends) for end in rim[[0, -1]]) < near:
                yield ends
        elif shapely.distance(shapely.points(ends), border).max() < near:
            image = rim - 2 * ((rim - ends[0]) @ across)[:, None] * across
            if shapely.distance(shapely.points(image), border).max() < near:
                yield ends


def _circles(middle: Floats, outlines: Sequence[Floats]) -> Iterable[Floats]:
    """Circles with their centres on the midline."""
    way = middle[-1] - middle[0]
    across = np.array([-way[1], way[0]]) / np.hypot(*way)
    for line in outlines:
        if len(line) > 8:
            centre = (line.min(axis=0) + line.max(axis=0)) / 2
            radius = np.hypot(*(line - centre).T)
            mean = float(radius.mean())
            if np.ptp(radius) < ROUND * mean and abs((centre - middle[0]) @ across) < 2 * ROUND * mean:
                turn = np.unwrap(np.arctan2(*(line - centre).T))
                if abs(turn[-1] - turn[0]) > 1.9 * np.pi:
                    yield line
