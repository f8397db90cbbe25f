"""True faults of drawings: what no reader can make plates of, each with the place where it is."""

from __future__ import annotations

import random
from dataclasses import dataclass

import numpy as np
import shapely
from planar_nets import PlanarNet
from shapely import LineString

KINDS = ("dangling", "sliver", "crossing", "island", "outside", "askew")


@dataclass(frozen=True, slots=True, eq=False)
class Fault:
    """kind : one of KINDS; lines : to be added, mm on the chart, left half; spots : where it may be; within : mm"""

    kind: str
    lines: tuple[np.ndarray, ...]
    spots: np.ndarray
    within: float

    def drawn(self, lines: list[np.ndarray], *, side: int, mirrored: bool) -> list[np.ndarray]:
        """The drawing with the fault in it; where both halves are drawn, on both, but for what makes them differ."""
        more = [line * (1, side) for line in self.lines]
        return [*lines, *more, *(line * (1, -1) for line in more if mirrored and self.kind != "askew")]


def fault(rng: random.Random, net: PlanarNet, rim: np.ndarray, gap: float, *, mirrored: bool) -> Fault | None:
    """A random one; None where it finds no room."""
    kind = rng.choice(KINDS if mirrored else KINDS[:-1])
    for _ in range(60):
        made = _made(rng, kind, net, rim, gap)
        if made is not None:
            return made
    return None


def _made(rng: random.Random, kind: str, net: PlanarNet, rim: np.ndarray, gap: float) -> Fault | None:
    every = shapely.union_all([LineString(line) for line in (*net.lines, *net.others)])
    cell = rng.choice(net.cells)
    heart = shapely.get_coordinates(shapely.maximum_inscribed_circle(cell, tolerance=0.5))
    middle, room = heart[0], float(np.hypot(*(heart[1] - heart[0])))
    if kind in ("dangling", "askew"):  # from the border of a plate into the middle of it
        foot = shapely.get_coordinates(cell.exterior.interpolate(rng.uniform(0, cell.exterior.length)))[0]
        line = LineString([foot, middle])
        off = every.intersection(line.buffer(0.01)).distance(shapely.Point(foot))
        if room < 3 * gap or off > 0.1 or not cell.buffer(0.1).covers(line):
            return None
        share = np.linspace(0, 1, 5)[:, None]
        points = foot + share * (middle - foot)
        return Fault(kind, (points,), points if kind == "askew" else middle[None], 2 * gap)
    if kind == "sliver":  # a bow beside a line, never as wide as a plate must be
        line = LineString(rng.choice(net.lines))
        run = shapely.get_coordinates(line.interpolate(np.linspace(0.2, 0.8, 25), normalized=True))
        way = run[-1] - run[0]
        if line.length < 90 or LineString(run).length > 1.02 * np.hypot(*way) or np.abs(run[:, 1]).min() < 4 * gap:
            return None
        out = np.array([-way[1], way[0]]) / np.hypot(*way) * rng.uniform(4.8, 6.5)
        bow = run + np.sin(np.linspace(0, np.pi, 25))[:, None] ** 0.5 * out
        clear = shapely.difference(every, line.buffer(1.0))
        return None if clear.distance(LineString(bow)) < 4 * gap else Fault(kind, (bow,), bow, 3 * gap)
    if kind == "crossing":  # two lines on over the rim that cross there
        border = LineString(rim)
        foot = rng.uniform(0.1, 0.9) * border.length
        a, b, between = (shapely.get_coordinates(border.interpolate(foot + d))[0] for d in (-12, 12, 0))
        out = between / np.hypot(*between)
        spot = between + 25 * out
        legs = [np.array([p - 0.3 * (spot - p), spot + 0.6 * (spot - p)]) for p in (a, b)]
        return Fault(kind, tuple(legs), spot[None], 3 * gap) if min(spot[1], a[1], b[1]) > 12 else None
    if kind == "island":
        if room < 9 * gap:
            return None
        turn = np.linspace(0, 2 * np.pi, 25)
        ring = middle + rng.uniform(0.4, 0.6) * room * np.column_stack([np.cos(turn), np.sin(turn)])
        return Fault(kind, (ring,), ring, 3 * gap)
    out = rng.uniform(-0.9, 0.9) * rim[len(rim) // 2][1]
    line = np.array([(out, rim[:, 1].max() + 12.0), (out + 20, rim[:, 1].max() + 12.0)])
    return Fault(kind, (line,), line, 3 * gap)
