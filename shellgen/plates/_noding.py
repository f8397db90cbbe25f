"""Lines drawn by hand made into a plane net: crossings become nodes, ends that nearly meet are joined, what reaches too
far is trimmed, and lines drawn twice become one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from shapely import LineString, Point, Polygon

from shellgen.core.arrays import Bools, Floats
from shellgen.geom.curves import arc_length
from shellgen.plates._net import MIDLINE, PLATE, RIM

GRID = 1e-4
"""mm to which coordinates are rounded, so that every crossing is found. Chosen: far below what a pen can draw."""
ON = 20 * GRID
"""mm within which a line lies on rim or midline."""
ROUNDS = 40
"""Most rounds of joining and trimming. Chosen: drawings of the tests need one to ten."""
NARROW = 8.0
"""mm across a plate at its widest, below which it is taken for a mistake. Chosen: less holds no glue on 10 mm foam."""
Key = tuple[float, float]


class Misdrawn(Exception):
    """Something in a drawing that makes no net. spot : (2,) mm on the chart; remedy : what to do instead"""

    def __init__(self, problem: str, spot: Sequence[float] | Floats, remedy: str = "") -> None:
        super().__init__(problem)
        self.problem, self.spot, self.remedy = problem, np.array(spot, float), remedy


@dataclass(slots=True, eq=False)
class Edge:
    """A line of the net between two nodes; a drawn part of the midline is a plate line."""

    points: Floats
    kind: str

    @property
    def start(self) -> Key:
        return _key(self.points[0])

    @property
    def end(self) -> Key:
        return _key(self.points[-1])

    @property
    def length(self) -> float:
        return float(arc_length(self.points)[-1])


def _key(point: Floats) -> Key:
    return round(float(point[0]), 4) + 0.0, round(float(point[1]), 4) + 0.0


@dataclass(slots=True, eq=False)
class Web:
    """The left half while it is cleaned.

    rim    : from the head's end of the midline to the tail's
    drawn  : lines within; gap : mm up to which ends are joined and lines are one
    shapes : those of the edges
    """

    rim: LineString
    drawn: list[LineString]
    gap: float
    edges: list[Edge] = field(default_factory=list)
    shapes: list[LineString] = field(default_factory=list)

    @property
    def corners(self) -> tuple[Key, Key]:
        """The two ends of the midline."""
        return _key(np.array(self.rim.coords[0])), _key(np.array(self.rim.coords[-1]))

    def settle(self) -> None:
        """Misdrawn where no sound net comes of it."""
        self.drawn = _gathered(self.drawn, self.rim, self.gap)
        for _ in range(ROUNDS):
            self._node()
            if not (self._trimmed() or self._joined() or self._contracted() or self._thinned()):
                break
        else:
            spots = [edge.points[0] for edge in self.edges if edge.kind == PLATE]
            raise Misdrawn("the lines around here are too close together to tell apart", spots[0] if spots else (0, 0))
        self._check()

    def _node(self) -> None:
        """Cuts all lines at each other, and finds out which lie on rim and midline."""
        middle = LineString([self.rim.coords[0], self.rim.coords[-1]])
        lines = [line for line in self.drawn if line.length > 10 * GRID]
        merged = shapely.union_all([self.rim, middle, *lines], grid_size=GRID)
        parts = [shapely.get_coordinates(part) for part in shapely.get_parts(merged) if part.length > 0]
        own = shapely.STRtree(lines)
        probes = np.array([_between(points) for points in parts])
        rim = (shapely.distance(shapely.points(probes), self.rim) < ON).all(axis=1)
        flat = (np.abs(probes[:, :, 1]) < ON).all(axis=1) & (
            np.ptp(probes[:, :, 0], axis=1) > np.ptp(probes[:, :, 1], axis=1)
        )
        found = own.query(shapely.points(probes[flat].reshape(-1, 2)), predicate="dwithin", distance=ON)[0]
        covered = np.zeros(5 * int(flat.sum()), bool)
        covered[found] = True
        kinds = np.where(rim, RIM, PLATE).astype(object)
        kinds[np.flatnonzero(flat)[~covered.reshape(-1, 5).all(axis=1)]] = MIDLINE
        for points in (parts[i] for i in np.flatnonzero(flat)):
            points[:, 1] = 0.0
        self.edges = _dissolved([Edge(points, kind) for points, kind in zip(parts, kinds.tolist(), strict=True)])
        self.shapes = [LineString(edge.points) for edge in self.edges]

    def at(self) -> dict[Key, list[Edge]]:
        """The edges at each node; one that begins and ends there twice."""
        found: dict[Key, list[Edge]] = {}
        for edge in self.edges:
            found.setdefault(edge.start, []).append(edge)
            found.setdefault(edge.end, []).append(edge)
        return found

    def _keep(self, kept: Bools, more: Iterable[LineString] = ()) -> bool:
        """The drawn lines for the next round; True."""
        pairs = zip(self.edges, self.shapes, kept.tolist(), strict=True)
        self.drawn = [*(shape for edge, shape, keep in pairs if keep and edge.kind == PLATE), *more]
        return True

    def _loose(self) -> list[tuple[Key, int]]:
        number = {id(edge): i for i, edge in enumerate(self.edges)}
        return [(key, number[id(edges[0])]) for key, edges in self.at().items() if len(edges) == 1]

    def _trimmed(self) -> bool:
        """Short stubs cut off; whether there were any."""
        stubs = [i for _, i in self._loose() if self.edges[i].length < self.gap]
        return bool(stubs) and self._keep(~np.isin(np.arange(len(self.edges)), stubs))

    def _joined(self) -> bool:
        """Loose ends led to the nearest node, or else to the nearest line; whether there were any."""
        nodes = np.array(list(self.at()))
        tree, known = shapely.STRtree(self.shapes), shapely.STRtree(shapely.points(nodes))
        longer = dict[int, Floats]()
        for key, i in self._loose():
            points = longer.get(i, self.edges[i].points)
            points = points if _key(points[-1]) == key else points[::-1]
            if (foot := self._nearest(np.array(key), i, nodes, known, tree)) is not None:
                longer[i] = np.concatenate([points, foot])
        kept = ~np.isin(np.arange(len(self.edges)), list(longer))
        return bool(longer) and self._keep(kept, map(LineString, longer.values()))

    def _nearest(
        self, end: Floats, own: int, nodes: Floats, known: shapely.STRtree, tree: shapely.STRtree
    ) -> Floats | None:
        """(k, 2) the way from a loose end to what it is joined to; a little beyond it if that is a line, so that they
        cross."""
        spot, edge = Point(end), self.edges[own]
        points = edge.points if edge.start == _key(end) else edge.points[::-1]
        near = nodes[known.query(spot, predicate="dwithin", distance=self.gap)]
        near = near[(np.abs(near - end).max(axis=1) > GRID / 2) & (np.abs(near - points[-1]).max(axis=1) > GRID / 2)]
        if len(near):
            return np.asarray(near[[np.hypot(*(near - end).T).argmin()]])
        lines = [self.shapes[i] for i in tree.query(spot, predicate="dwithin", distance=self.gap) if i != own]
        far = arc_length(points) > 3 * self.gap
        lines += [LineString(points[far])] if far.sum() > 1 else []
        lines = [line for line in lines if line.distance(spot) <= self.gap]
        if not lines:
            return None
        nearest = min(lines, key=spot.distance)
        foot = shapely.get_coordinates(nearest.interpolate(nearest.project(spot)))[0]
        way = foot - end if np.abs(foot - end).max() > GRID else end - points[1]
        return np.array([foot, foot + 10 * GRID * way / np.hypot(*way)])

    def _rank(self, rim: set[Key], key: Key) -> int:
        """Which of two nodes stays where they are drawn together."""
        return 3 if key in self.corners else 2 if key in rim else 1 if key[1] == 0 else 0

    def _contracted(self) -> bool:
        """Edges below the gap drawn together to a point, the shortest first; whether there were any."""
        rim = {key for edge in self.edges if edge.kind == RIM for key in (edge.start, edge.end)}
        moves: dict[Key, Key] = {}
        touched: set[Key] = set()
        for edge in sorted(self.edges, key=lambda e: e.length):
            if edge.length >= self.gap or edge.start == edge.end or touched & {edge.start, edge.end}:
                continue
            gone, stays = sorted((edge.start, edge.end), key=lambda key: self._rank(rim, key))
            if self._rank(rim, gone) < 3:
                moves[gone] = stays
                touched |= {gone, stays}
        if not moves:
            return False
        moved = []
        for edge in self.edges:
            points = edge.points.copy()
            points[0], points[-1] = moves.get(edge.start, points[0]), moves.get(edge.end, points[-1])
            short = edge.length < self.gap and np.abs(points[0] - points[-1]).max() < GRID
            if edge.kind == PLATE and not short:
                moved.append(LineString(points))
        self.drawn = moved
        return True

    def _thinned(self) -> bool:
        """The longest side of each plate that is nearly nothing taken away; whether there were any."""
        gone: set[int] = set()
        touched: set[int] = set()
        flat: list[LineString] = []
        for face in shapely.get_parts(shapely.polygonize(self.shapes)):
            if face.area > self.gap * face.length or _width(face) >= self.gap:
                continue
            sides = self._sides(face)
            drawn = [i for i in sides if self.edges[i].kind == PLATE and self.edges[i].points[:, 1].any()]
            if not drawn or touched & set(sides):
                continue
            touched |= set(sides)
            gone.add(longest := max(drawn, key=lambda i: self.edges[i].length))
            if self.edges[longest].start == self.edges[longest].end:  # two lines that end in one place, in mid-air
                points = self.edges[longest].points
                flat.append(LineString(points[: max(2, 1 + int(np.hypot(*(points - points[0]).T).argmax()))]))
            flat += [self.shapes[i] for i in sides if self.edges[i].kind == MIDLINE]
        return bool(gone) and self._keep(~np.isin(np.arange(len(self.edges)), list(gone)), flat)

    def _sides(self, face: Polygon) -> list[int]:
        """The edges around a face."""
        probes = shapely.points(np.array([_between(edge.points) for edge in self.edges]))
        return np.flatnonzero((shapely.distance(probes, face.exterior) < ON).all(axis=1)).tolist()

    def _check(self) -> None:
        at = self.at()
        for key, edges in at.items():
            stops = len(edges) == 2 and {edge.kind for edge in edges} == {PLATE, MIDLINE}  # drawn along the midline
            if len(edges) == 1 or stops:
                raise Misdrawn(
                    f"a line ends here, more than {self.gap:g} mm from any other",
                    key,
                    "Draw it on to a line, or erase it.",
                )
        known = [self.corners[0]]
        for key in known:
            known += {k for edge in at[key] for k in (edge.start, edge.end)} - set(known)
        for edge in self.edges:
            if edge.start not in known:
                problem = "a closed line touches no other here, so the plate around it would have a hole"
                raise Misdrawn(problem, edge.points[0], "Join it to another line.")
        for face in self.faces():
            runs = [i for i in self._sides(face) if self.edges[i].kind == MIDLINE]
            whole = shapely.union_all([face, shapely.transform(face, lambda p: p * (1, -1))]) if runs else face
            if len(runs) > 1 or whole.geom_type != "Polygon":
                problem = "the plate around here reaches the midline twice, so it would enclose others"
                raise Misdrawn(problem, face.representative_point().coords[0], "Draw a line through it.")
            if (width := _width(whole)) < NARROW:
                spot = shapely.get_coordinates(shapely.maximum_inscribed_circle(whole))[0]
                problem = f"a plate is only {width:.1f} mm wide here, and {NARROW:g} mm is the least"
                raise Misdrawn(problem, spot, "Draw its lines further apart, or erase one.")

    def faces(self) -> list[Polygon]:
        """The cells of the left half."""
        return list(shapely.get_parts(shapely.polygonize(self.shapes)))


def _gathered(lines: list[LineString], rim: LineString, gap: float) -> list[LineString]:
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


def _width(face: Polygon) -> float:
    """Of the widest circle within."""
    return float(2 * shapely.maximum_inscribed_circle(face, tolerance=0.05).length)


def _between(points: Floats) -> Floats:
    """(5, 2) points along a polyline, its ends left out."""
    along = arc_length(points)
    where = along[-1] * np.array([0.1, 0.3, 0.5, 0.7, 0.9])
    return np.column_stack([np.interp(where, along, points[:, k]) for k in (0, 1)])


def _dissolved(edges: list[Edge]) -> list[Edge]:
    """Without nodes at which only two edges of the same kind meet, but for a closed line's, and for those on the
    midline of a line that leaves it."""
    edges = list(edges)
    at: dict[Key, list[Edge]] = {}
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
        whole = Edge(np.concatenate([a, b[1:]]), first.kind)
        for edge in pair:
            edges.remove(edge)
            for end in {edge.start, edge.end}:
                at[end] = [e for e in at[end] if e is not edge]
        edges.append(whole)
        for end in (whole.start, whole.end):
            at[end].append(whole)
    return edges
