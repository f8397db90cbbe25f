"""Random planar nets of plates on a chart, known for certain: cells of a Voronoi diagram, bent, cut at rim and midline,
some of them merged, until nothing is so close together that closing gaps could change it.

Each cell is computed by itself from its own corners; the lines come from the ridges of the diagram. The two are
compared: the lines must enclose exactly the cells.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from scipy.spatial import ConvexHull, Voronoi
from shapely import LineString, Polygon

RIM, MIDLINE = -1, -2
"""What a border of a cell has on its other hand, where that is no cell."""
FINE = 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class PlanarNet:
    """The left half. cells : in mm on the chart; central : whether its mirror image belongs to the same plate

    lines : (n, 2) to be drawn, each from node to node; others : parts of rim and midline between nodes
    """

    cells: tuple[Polygon, ...]
    central: tuple[bool, ...]
    lines: tuple[np.ndarray, ...]
    others: tuple[np.ndarray, ...]

    @property
    def plates(self) -> int:
        """On both halves."""
        return 2 * len(self.cells) - sum(self.central)


def net(rng: random.Random, half: np.ndarray, near: float) -> PlanarNet:
    """A net in the half outline (n, 2), from head to tail. near : mm that are one place to the reader"""
    while True:
        diagram = _Diagram(rng, half, near)
        if diagram.sound() and diagram.settled():
            return diagram.net()


def key(point: np.ndarray) -> tuple[float, float]:
    """A node's name: its place."""
    return round(float(point[0]), 2) + 0.0, round(float(point[1]), 2) + 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Border:
    """A line from node to node. hands : the cells on both sides, or RIM or MIDLINE for the second"""

    line: LineString
    hands: tuple[int, int]

    @property
    def ends(self) -> set[tuple[float, float]]:
        return {key(np.array(self.line.coords[i])) for i in (0, -1)}


class _Diagram:
    def __init__(self, rng: random.Random, half: np.ndarray, near: float) -> None:
        self.rng, self.near = rng, near
        self.half, self.region = LineString(half), Polygon(half)
        self.middle = LineString(half[[0, -1]])
        self.bends = [(rng.uniform(0, 12), rng.uniform(0, 12), rng.uniform(60, 140), rng.uniform(0, 6)) for _ in "ab"]
        self.bends = self.bends if rng.random() < 0.6 else []
        points, far = self._scattered(), 4000 * np.array([(1, 0), (-1, 0), (0, 1), (0, -1)])
        found = Voronoi(np.concatenate([points, far]))
        self.cells = [self._cell(found.vertices[found.regions[found.point_region[i]]]) for i in range(len(points))]
        self.central = [y == 0 for _, y in points]
        ridges = (found.vertices[pair] for pair in found.ridge_vertices if min(pair) >= 0)
        lines = [self._bent(LineString(ridge)).intersection(self.region) for ridge in ridges]
        net = shapely.union_all([self.half, self.middle, *lines], grid_size=FINE)
        self.parts = [part for part in shapely.get_parts(net) if part.length > 10 * FINE]
        self.hands = [self._hands(part) for part in self.parts]

    def _scattered(self) -> np.ndarray:
        """Points with room between them; those near the midline on it."""
        rng, (x0, _, x1, y1) = self.rng, self.region.bounds
        apart, points = rng.uniform(50, 120), list[np.ndarray]()
        for _ in range(300):
            point = np.array([rng.uniform(x0, x1), rng.uniform(0, y1)])
            point[1] *= point[1] >= 0.35 * apart
            if self.region.buffer(1).contains(shapely.Point(point)) and all(
                np.hypot(*(point - other)) > apart for other in points
            ):
                points.append(point)
        return np.array(points)

    def _bent(self, line: shapely.Geometry) -> shapely.Geometry:
        def bend(points: np.ndarray) -> np.ndarray:
            for along, aside, wave, phase in self.bends:
                x, y = points.T
                points = np.column_stack([x + along * np.sin(y / wave + phase),
                                          y + aside * np.sin(x / wave + phase) * np.tanh(y / 80)])  # fmt: skip
            return points

        return shapely.transform(shapely.segmentize(line, 4.0), bend) if self.bends else line

    def _cell(self, corners: np.ndarray) -> shapely.Geometry:
        return self._bent(Polygon(corners[ConvexHull(corners).vertices])).intersection(self.region)

    def _hands(self, part: LineString) -> tuple[int, int]:
        """The cells next to the middle of a line."""
        spot = part.interpolate(0.5, normalized=True)
        near = np.flatnonzero(shapely.distance(self.cells, spot) < 0.01).tolist()
        if len(near) == 1:
            near.append(MIDLINE if spot.y < 0.01 else RIM)
        return (near[0], near[1]) if len(near) == 2 else (-9, -9)

    def sound(self) -> bool:
        """Whether the lines enclose just the cells: two constructions of one net."""
        if (-9, -9) in self.hands or not all(cell.geom_type == "Polygon" for cell in self.cells):
            return False
        faces = shapely.get_parts(shapely.polygonize(self.parts))
        apart = [min(shapely.area(shapely.symmetric_difference(face, self.cells)), default=1e9) for face in faces]
        return len(faces) == len(self.cells) and max(apart) < 1.0

    def borders(self) -> list[_Border]:
        """Between the cells as they are, merged where they go on."""
        runs: dict[tuple[int, int], list[LineString]] = {}
        for part, hands in zip(self.parts, self.hands, strict=True):
            if hands[0] != hands[1]:
                runs.setdefault(hands, []).append(part)
        merged = {hands: shapely.line_merge(shapely.MultiLineString(run)) for hands, run in runs.items()}
        return [_Border(line, hands) for hands, run in merged.items() for line in shapely.get_parts(run)]

    def settled(self) -> bool:
        """Cells merged until nothing is too close; False if that cannot be."""
        for _ in range(self.rng.choice((0, 0, 3))):
            borders = [b.hands for b in self.borders() if min(b.hands) >= 0]
            if borders:
                self._merge(*self.rng.choice(borders))
        while (pairs := next(self._close(), None)) is not None:
            if not any(self._merge(*pair) for pair in pairs if min(pair) >= 0):
                return False
        return True

    def _merge(self, a: int, b: int) -> bool:
        """Two cells made one, if that leaves all cells without holes and each on the midline in one piece."""
        whole = shapely.union_all([self.cells[a], self.cells[b]], grid_size=FINE)
        on_middle = [cell.intersection(self.middle).length > 0.1 for cell in (self.cells[a], self.cells[b])]
        flat = shapely.line_merge(whole.intersection(self.middle))
        if (
            whole.geom_type != "Polygon" or len(whole.interiors)
            or (self.central[a] != self.central[b] and all(on_middle))
            or (any(on_middle) and flat.geom_type != "LineString")
        ):  # fmt: skip
            return False
        self.cells[a], self.central[a] = whole, self.central[a] or self.central[b]
        self.cells[b] = Polygon()
        self.hands = [(hands[0], hands[1]) if b not in hands else self._renamed(hands, a, b) for hands in self.hands]
        return True

    def _renamed(self, hands: tuple[int, int], a: int, b: int) -> tuple[int, int]:
        first, second = (a if hand == b else hand for hand in hands)
        return (first, second) if second < 0 or first < second else (second, first)

    def _close(self) -> Iterator[list[tuple[int, int]]]:
        """Cells to merge, for each place where something is too close to be sure of."""
        borders, near = self.borders(), self.near
        at = Counter(end for border in borders for end in border.ends)

        def around(*some: _Border) -> list[tuple[int, int]]:
            ends = set().union(*(border.ends for border in some))
            return [b.hands for b in (*some, *(b for b in borders if b.ends & ends)) if min(b.hands) >= 0]

        for border in borders:
            if border.line.length < 3.5 * near or (len(border.ends) < 2 and at[next(iter(border.ends))] < 3):
                yield around(border)
        for one, other in combinations(borders, 2):
            shared = one.ends & other.ends
            if one.line.distance(other.line) > 3 * near:
                continue
            if not shared or len(shared) > 1 or not self._parted(one.line, other.line, next(iter(shared))):
                yield around(one, other)
        for i, cell in enumerate(self.cells):
            image = shapely.transform(cell, lambda p: p * (1, -1))
            whole = shapely.union_all([cell, image], grid_size=FINE) if self.central[i] else cell
            if not cell.is_empty and 2 * shapely.maximum_inscribed_circle(whole, tolerance=0.1).length < 18:
                yield [b.hands for b in sorted(borders, key=lambda b: -b.line.length) if i in b.hands]

    def _parted(self, one: LineString, other: LineString, node: tuple[float, float]) -> bool:
        """Whether two lines that meet leave each other at 40 degrees or more, and for good."""
        spot = shapely.Point(node)
        rays = []
        for line in (one, other):
            ahead = line if spot.distance(shapely.Point(line.coords[0])) < 0.1 else line.reverse()
            rays.append(np.array(ahead.interpolate(6.0).coords[0]) - node)
        away = [line.difference(spot.buffer(6 * self.near)) for line in (one, other)]
        cosine = rays[0] @ rays[1] / np.hypot(*rays[0]) / np.hypot(*rays[1])
        return cosine < np.cos(np.radians(40)) and min(away[0].distance(other), away[1].distance(one)) > 3 * self.near

    def net(self) -> PlanarNet:
        """What has come of it."""
        kept = [i for i, cell in enumerate(self.cells) if not cell.is_empty]
        drawn, others = list[np.ndarray](), list[np.ndarray]()
        for border in self.borders():
            hidden = border.hands[1] == RIM or (border.hands[1] == MIDLINE and self.central[border.hands[0]])
            (others if hidden else drawn).append(shapely.get_coordinates(border.line))
        cells, central = (tuple(of[i] for i in kept) for of in (self.cells, self.central))
        return PlanarNet(cells, central, tuple(drawn), tuple(others))
