"""The lines of a drawn net between its nodes, and what can be said of their ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from shapely import LineString

from shellgen.core.arrays import Floats
from shellgen.geom.curves import arc_length

GRID = 1e-4
"""mm to which coordinates are rounded, so that every crossing is found. Chosen: far below what a pen can draw."""
ON = 20 * GRID
"""mm within which a line lies on rim or midline."""
Key = tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class WebEdge:
    """A line of the net between two nodes; a drawn part of the midline is a plate line."""

    points: Floats
    kind: str

    @property
    def start(self) -> Key:
        return key_of(self.points[0])

    @property
    def end(self) -> Key:
        return key_of(self.points[-1])

    @property
    def length(self) -> float:
        return float(arc_length(self.points)[-1])


def key_of(point: Floats) -> Key:
    return round(float(point[0]), 4) + 0.0, round(float(point[1]), 4) + 0.0


def gathered(lines: list[LineString], rim: LineString, gap: float) -> list[LineString]:
    """The lines with ends that lie within the gap of each other in one place, their middle, or on the rim or the
    midline if one of them is there."""
    if not lines:
        return []
    points = [shapely.get_coordinates(line) for line in lines]
    ends = np.array([p[i] for p in points for i in (0, -1)])
    pairs = cKDTree(ends).query_pairs(gap, output_type="ndarray")
    graph = coo_array((np.ones(len(pairs)), pairs.T), shape=(len(ends), len(ends)))
    count, group = connected_components(graph, directed=False)
    size = np.bincount(group, minlength=count)
    middle = np.stack([np.bincount(group, axis, minlength=count) / size for axis in ends.T], axis=1)
    flat = np.bincount(group, ends[:, 1] == 0, minlength=count) > 0
    middle[flat, 1] = 0.0
    border = np.bincount(group, shapely.distance(shapely.points(ends), rim) < ON, minlength=count) > 0
    middle[border] = shapely.get_coordinates(
        shapely.line_interpolate_point(rim, shapely.line_locate_point(rim, shapely.points(middle[border])))
    )
    found = []
    for i, line in enumerate(points):
        a, b = group[2 * i : 2 * i + 2]
        if a == b and arc_length(line)[-1] < 3 * gap:
            continue
        line[0], line[-1] = (middle[k] if size[k] > 1 else line[end] for k, end in ((a, 0), (b, -1)))
        found.append(LineString(line))
    return found


def straightened(edge: WebEdge, gap: float) -> WebEdge:
    """An edge that does not turn back on itself within the gap of its ends, where it was joined: there it is led
    straight."""
    points = edge.points
    for _ in range(2):
        away = np.hypot(*(points - points[0]).T)
        near = int(np.argmax(away > gap))
        if near and (np.diff(away[: near + 1]) <= 0).any():
            points = np.concatenate([points[:1], points[near:]])
        points = points[::-1]
    return WebEdge(points, edge.kind)


def between(points: Floats) -> Floats:
    """(5, 2) points along a polyline, its ends left out."""
    along = arc_length(points)
    where = along[-1] * np.array([0.1, 0.3, 0.5, 0.7, 0.9])
    return np.column_stack([np.interp(where, along, points[:, k]) for k in (0, 1)])


def dissolved(edges: list[WebEdge]) -> list[WebEdge]:
    """Without nodes at which only two edges of the same kind meet, but for a closed line's, and for those on the
    midline of a line that leaves it."""
    edges = list(edges)
    at: dict[Key, list[WebEdge]] = {}
    for edge in edges:
        at.setdefault(edge.start, []).append(edge)
        at.setdefault(edge.end, []).append(edge)
    for key in list(at):
        pair = at[key]
        flat = [not edge.points[:, 1].any() for edge in pair]
        if len(pair) != 2 or pair[0] is pair[1] or pair[0].kind != pair[1].kind or flat[0] != flat[1]:
            continue
        first, second = pair
        a = first.points if first.end == key else first.points[::-1]
        b = second.points if second.start == key else second.points[::-1]
        whole = WebEdge(np.concatenate([a, b[1:]]), first.kind)
        for edge in pair:
            edges.remove(edge)
            for end in {edge.start, edge.end}:
                at[end] = [e for e in at[end] if e is not edge]
        edges.append(whole)
        for end in (whole.start, whole.end):
            at[end].append(whole)
    return edges
