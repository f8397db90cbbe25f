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
PAST = 2.9
"""mm by which a line may run past the outline: the reader of drawings cuts that off."""
LEAST = 5.0
"""mm: shorter pieces go."""
ALONG = 12.0
"""mm: a line that is within PAST of the midline for longer than this is meant to lie on it."""


def snapped(lines: Sequence[Floats], outline: Floats, middle: Floats) -> tuple[Floats, ...]:
    """The lines within the outline (n, 2), a ring. What runs along the midline, from head to tail (2, 2), lies on it.
    Loose ends are lengthened along themselves to the outline or to another line; to head or tail first of all."""
    inside = shapely.Polygon(outline)
    kept = [_on_midline(part, middle) for line in lines for part in _clipped(line, inside.buffer(PAST))]
    use = Counter(_key(end) for line in kept for end in (line[0], line[-1]))
    around = [inside.exterior, *map(shapely.LineString, kept)]
    done = []
    for number, line in enumerate(kept):
        others = shapely.MultiLineString([shape for k, shape in enumerate(around) if k != number + 1])
        for turn in (1, -1):
            line = line[::turn]
            loose = use[_key(line[0])] == 1 and inside.covers(shapely.Point(line[0]))
            if loose and (end := _reached(line, others, inside.exterior, middle)) is not None:
                line = np.concatenate([end[None], line])
            line = line[::turn]
        done.append(line)
    return tuple(done)


def _key(point: Floats) -> tuple[float, float]:
    return round(float(point[0]), 3), round(float(point[1]), 3)


def _clipped(line: Floats, inside: shapely.Polygon) -> list[Floats]:
    parts = shapely.get_parts(shapely.intersection(shapely.LineString(line), inside))
    return [shapely.get_coordinates(part) for part in parts if part.geom_type == "LineString" and part.length > LEAST]


def _on_midline(line: Floats, middle: Floats) -> Floats:
    near = np.abs(line[:, 0] - middle[0, 0]) < PAST
    turns = np.flatnonzero(np.diff(np.concatenate([[False], near, [False]]).astype(int)))
    done = line.copy()
    for first, last in turns.reshape(-1, 2).tolist():
        if np.abs(np.diff(line[first:last, 1])).sum() > ALONG:
            done[first:last, 0] = middle[0, 0]
    return done


def _reached(
    line: Floats, others: shapely.MultiLineString, outline: shapely.LinearRing, middle: Floats
) -> Floats | None:
    """Where the line meets another or the outline, straight on from its first point; None if not within REACH."""
    away = np.linalg.norm(middle - line[0], axis=1)
    if away.min() < REACH:
        return np.asarray(middle[np.argmin(away)]) if away.min() > 1e-6 else None
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
