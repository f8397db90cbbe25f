"""Lines drawn by hand made into a plane net: crossings become nodes, ends that nearly meet are joined, what reaches too
far is trimmed, and lines drawn twice become one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import LineString, Point, Polygon

from shellgen.core.arrays import Bools, Floats
from shellgen.geom.curves import arc_length
from shellgen.plates._net import MIDLINE, PLATE, RIM
from shellgen.plates._web_edges import GRID, ON, Key, WebEdge, between, dissolved, gathered, key_of, straightened

ROUNDS = 40
"""Most rounds of joining and trimming. Chosen: drawings of the tests need one to ten."""
NARROW = 8.0
"""mm across a plate at its widest, below which it is taken for a mistake. Chosen: less holds no glue on 10 mm foam."""


class Misdrawn(Exception):
    """Something in a drawing that makes no net. spot : (2,) mm on the chart; remedy : what to do instead"""

    def __init__(self, problem: str, spot: Sequence[float] | Floats, remedy: str = "") -> None:
        super().__init__(problem)
        self.problem, self.spot, self.remedy = problem, np.array(spot, float), remedy


@dataclass(slots=True, eq=False)
class DrawnWeb:
    """The left half while it is cleaned.

    rim    : from the head's end of the midline to the tail's
    drawn  : lines within; gap : mm up to which ends are joined and lines are one
    shapes : those of the edges
    """

    rim: LineString
    drawn: list[LineString]
    gap: float
    edges: list[WebEdge] = field(default_factory=list)
    shapes: list[LineString] = field(default_factory=list)

    @property
    def corners(self) -> tuple[Key, Key]:
        """The two ends of the midline."""
        return key_of(np.array(self.rim.coords[0])), key_of(np.array(self.rim.coords[-1]))

    def settle(self) -> None:
        """Misdrawn where no sound net comes of it."""
        self.drawn = gathered(self.drawn, self.rim, self.gap)
        for _ in range(ROUNDS):
            self._node()
            if not (self._trimmed() or self._joined() or self._contracted() or self._thinned()):
                break
        else:
            still = {shape.wkb for shape in self.shapes}
            spot = next((line.coords[-1] for line in self.drawn if line.wkb not in still), self.corners[0])
            raise Misdrawn("the lines around here are too close together to tell apart", spot)
        self.edges = [straightened(edge, self.gap) if edge.kind == PLATE else edge for edge in self.edges]
        self.shapes = [LineString(edge.points) for edge in self.edges]
        self._check()

    def _node(self) -> None:
        """Cuts all lines at each other, and finds out which lie on rim and midline."""
        middle = LineString([self.rim.coords[0], self.rim.coords[-1]])
        lines = [line for line in self.drawn if line.length > 10 * GRID]
        merged = shapely.union_all([self.rim, middle, *lines], grid_size=GRID)
        parts = [shapely.get_coordinates(part) for part in shapely.get_parts(merged) if part.length > 0]
        own = shapely.STRtree(lines)
        probes = np.array([between(points) for points in parts])
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
        self.edges = dissolved([WebEdge(points, kind) for points, kind in zip(parts, kinds.tolist(), strict=True)])
        self.shapes = [LineString(edge.points) for edge in self.edges]

    def at(self) -> dict[Key, list[WebEdge]]:
        """The edges at each node; one that begins and ends there twice."""
        found: dict[Key, list[WebEdge]] = {}
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
        """Short stubs and small loops cut off; whether there were any."""
        stubs = [i for _, i in self._loose() if self.edges[i].length < self.gap]
        stubs += [i for i, e in enumerate(self.edges) if e.start == e.end and _reach(e.points).max() < self.gap]
        return bool(stubs) and self._keep(~np.isin(np.arange(len(self.edges)), stubs))

    def _joined(self) -> bool:
        """Loose ends led to the nearest node, or else to the nearest line; whether there were any."""
        nodes = np.array(list(self.at()))
        tree, known = shapely.STRtree(self.shapes), shapely.STRtree(shapely.points(nodes))
        longer = dict[int, Floats]()
        for key, i in self._loose():
            points = longer.get(i, self.edges[i].points)
            points = points if key_of(points[-1]) == key else points[::-1]
            if (foot := self._nearest(np.array(key), i, nodes, known, tree)) is not None:
                longer[i] = np.concatenate([points, foot])
        kept = ~np.isin(np.arange(len(self.edges)), list(longer))
        more = [*longer.values(), *(() if longer else self._bridges())]
        return bool(more) and self._keep(kept, map(LineString, more))

    def _bridges(self) -> Iterable[Floats]:
        """From lines that come nearer to rim or midline than the gap, a little beyond it: ends that meet there are
        meant to meet on it."""
        border = shapely.MultiLineString(
            [shape for shape, edge in zip(self.shapes, self.edges, strict=True) if edge.kind != PLATE]
        )
        for edge in self.edges:
            if edge.kind != PLATE:
                continue
            run = arc_length(edge.points)
            inner = edge.points[(run > 2 * self.gap) & (run < run[-1] - 2 * self.gap)]
            away = shapely.distance(border, shapely.points(inner)) if len(inner) else np.array([np.inf])
            if ON < away.min() < self.gap:
                end = inner[away.argmin()]
                foot = shapely.get_coordinates(border.interpolate(border.project(Point(end))))[0]
                yield np.array([end, foot + 10 * GRID * (foot - end) / np.hypot(*(foot - end))])

    def _nearest(
        self, end: Floats, own: int, nodes: Floats, known: shapely.STRtree, tree: shapely.STRtree
    ) -> Floats | None:
        """(k, 2) the way from a loose end to what it is joined to; a little beyond it if that is a line, so that they
        cross."""
        spot, edge = Point(end), self.edges[own]
        points = edge.points if edge.start == key_of(end) else edge.points[::-1]
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
            short = _reach(points).max() < self.gap and np.abs(points[0] - points[-1]).max() < GRID
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
                flat.append(LineString(points[: 1 + int(_reach(points).argmax())]))
            flat += [self.shapes[i] for i in sides if self.edges[i].kind == MIDLINE]
        return bool(gone) and self._keep(~np.isin(np.arange(len(self.edges)), list(gone)), flat)

    def _sides(self, face: Polygon) -> list[int]:
        """The edges around a face."""
        probes = shapely.points(np.array([between(edge.points) for edge in self.edges]))
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


def _reach(points: Floats) -> Floats:
    """(n,) mm from where a line begins."""
    return np.asarray(np.hypot(*(points - points[0]).T))


def _width(face: Polygon) -> float:
    """Of the widest circle within."""
    return float(2 * shapely.maximum_inscribed_circle(face, tolerance=0.05).length)
