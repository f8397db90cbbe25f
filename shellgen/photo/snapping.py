"""Lines of a hand brought to the outline of the chart and to each other: its pen stops a bit short, or runs past.

The reader of drawings joins what misses by a millimetre or two; on a sheet printed at a third, a hand misses by more.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
import shapely

from shellgen.core.arrays import Floats

REACH = 7.0
"""mm on the chart by which a loose end may miss what it is drawn to (chosen: 2 to 3 mm on paper at a third to 40 %)."""
LEAST = 5.0
"""mm: shorter pieces outside the outline, or cut off by it, go."""


def snapped(lines: Sequence[Floats], outline: Floats) -> tuple[Floats, ...]:
    """The lines within the outline (n, 2), a ring, loose ends lengthened along themselves to it or to another line."""
    inside = shapely.Polygon(outline)
    kept = [part for line in lines for part in _clipped(line, inside)]
    use = Counter(_key(end) for line in kept for end in (line[0], line[-1]))
    around = [inside.exterior, *map(shapely.LineString, kept)]
    done = []
    for number, line in enumerate(kept):
        others = shapely.MultiLineString([shape for k, shape in enumerate(around) if k != number + 1])
        for turn in (1, -1):
            line = line[::turn]
            if use[_key(line[0])] == 1 and (end := _reached(line, others, inside.exterior)) is not None:
                line = np.concatenate([end[None], line])
            line = line[::turn]
        done.append(line)
    return tuple(done)


def _key(point: Floats) -> tuple[float, float]:
    return round(float(point[0]), 3), round(float(point[1]), 3)


def _clipped(line: Floats, inside: shapely.Polygon) -> list[Floats]:
    parts = shapely.get_parts(shapely.intersection(shapely.LineString(line), inside))
    return [shapely.get_coordinates(part) for part in parts if part.geom_type == "LineString" and part.length > LEAST]


def _reached(line: Floats, others: shapely.MultiLineString, outline: shapely.LinearRing) -> Floats | None:
    """Where the line meets another or the outline, straight on from its first point; None if not within REACH."""
    start, back = line[0], line[np.argmax(np.linalg.norm(line - line[0], axis=1) > 3.0)]
    if outline.distance(shapely.Point(start)) < 1e-6 or np.allclose(start, back):
        return None
    ahead = start + REACH * (start - back) / np.linalg.norm(start - back)
    met = shapely.get_coordinates(shapely.intersection(shapely.LineString([start, ahead]), others))
    met = met[np.linalg.norm(met - start, axis=1) > 1e-6]
    if len(met):
        return np.asarray(met[np.argmin(np.linalg.norm(met - start, axis=1))])
    near = outline.interpolate(outline.project(shapely.Point(start)))
    return np.array([near.x, near.y]) if near.distance(shapely.Point(start)) < REACH else None
