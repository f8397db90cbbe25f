"""Presses a layout together: all shapes slide and turn a little at once, again and again, until nothing gives."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from scipy.optimize import linprog
from scipy.sparse import coo_array, csr_array

from shellgen.core.arrays import Bools, Floats, Ints

STEPS, CALM = 52, 40
"""Steps at most, and after how many of them each moves at most half as far as the one before: what a turn leaves of
overlap is undone by the time they end (chosen)."""
FIRST, LAST = 1 / 40, 1 / 20_000
"""Longest move of the first step and of the last over the strip's height. Chosen: larger first steps gain no more."""
TURN = 0.05
"""rad, most that a shape turns in one step. Chosen: the straight-line model then leaves out 1/800 of its radius."""
GRAVITY = 1e-3
"""Pull of every shape to the strip's start over the pull of its end: the loose ones follow (chosen small)."""

MANY = 100
"""Shapes beyond which half the first move and an interior point method take half the time, for 200 of them."""
SIMPLEX: dict[str, Any] = {"method": "highs-ds", "options": {"presolve": False}}
"""For few shapes: one more pass over programmes this small takes longer than it saves."""
INTERIOR: dict[str, Any] = {"method": "highs-ipm"}

_Point = tuple[float, float]
_Block = tuple[Floats, Ints, Floats]  # (r, e) factors of r constraints, (r, e) their columns, (r,) right sides


@dataclass(frozen=True, slots=True, eq=False)
class Bodies:
    """Shapes as convex parts, all padded to equally many corners by repeating the last.

    corners : (p, k, 2) counter-clockwise, about each shape's own origin
    real    : (p, k) bool, false on repeated corners
    owner   : (p,) the shape that a part belongs to; radius : (n,) of each shape
    """

    corners: Floats
    real: Bools
    owner: Ints
    radius: Floats

    @staticmethod
    def of(shapes: Sequence[Floats]) -> Bodies:
        known = {shape.tobytes(): shape for shape in shapes}  # many copies of few shapes
        split = {key: convex_parts(shape) for key, shape in known.items()}
        parts = [(part, k) for k, shape in enumerate(shapes) for part in split[shape.tobytes()]]
        most = max(len(part) for part, _ in parts)
        corners = np.stack([np.vstack([part, np.repeat(part[-1:], most - len(part), axis=0)]) for part, _ in parts])
        real = np.array([[k < len(part) for k in range(most)] for part, _ in parts])
        radius = np.array([np.hypot(*shape.T).max() for shape in shapes])
        return Bodies(corners, real, np.array([k for _, k in parts]), radius)

    def placed(self, poses: Floats) -> Floats:
        """(p, k, 2) corners of all parts; poses : (n, 3) x, y, angle."""
        x, y, angle = poses[self.owner].T[:, :, None]
        cos, sin = np.cos(angle), np.sin(angle)
        a, b = self.corners[..., 0], self.corners[..., 1]
        return np.stack([cos * a - sin * b + x, sin * a + cos * b + y], axis=-1)


def convex_parts(outline: Floats) -> list[Floats]:
    """Outlines of convex parts, counter-clockwise: triangles, joined as long as they stay convex.

    References: Hertel and Mehlhorn, "Fast triangulation of simple polygons", 1983: at most four times the fewest.
    """
    whole = shapely.Polygon(outline)
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(whole))
    parts = {k: list(t.exterior.coords)[:-1] for k, t in enumerate(shapely.orient_polygons(triangles))}
    sides = {side: k for k, part in parts.items() for side in _sides(part)}
    for start, end in list(sides):
        first, second = sides[start, end], sides.get((end, start))
        if second is None or first == second:
            continue
        one, two = _from(parts[first], end), _from(parts[second], start)  # end ... start, and start ... end
        if min(_turn(one[-2], start, two[1]), _turn(two[-2], end, one[1])) > -1e-9 * whole.area:
            parts[first] = one[:-1] + two[:-1]
            del parts[second]
            sides.update(dict.fromkeys(_sides(two), first))
    return [np.array(part) for part in parts.values()]


def _sides(part: list[_Point]) -> Iterator[tuple[_Point, _Point]]:
    return zip(part, part[1:] + part[:1], strict=True)


def _from(part: list[_Point], first: _Point) -> list[_Point]:
    """The same round, begun at that corner."""
    at = part.index(first)
    return part[at:] + part[:at]


def _turn(before: _Point, corner: _Point, after: _Point) -> float:
    """Twice the area to the left of a corner: negative if it is reflex."""
    (ax, ay), (bx, by), (cx, cy) = before, corner, after
    return (bx - ax) * (cy - by) - (by - ay) * (cx - bx)


def press(bodies: Bodies, poses: Floats, *, height: float, length: float, turning: Floats) -> tuple[Floats, float]:
    """Poses (n, 3) and length of the strip after pressing its end towards its start; no shape passes another.

    Each step is a linear programme: parts stay on their side of the line that parts them best, nothing moves far.
    turning : (n,) bool, which shapes may turn.

    References: Li and Milenkovic, "Compaction and separation algorithms for non-convex polygons and their
    applications", European Journal of Operational Research 84, 1995; here with small turns.
    """
    reach, least = FIRST * height / (1 if len(poses) <= MANY else 2), LAST * height
    for count in range(STEPS):
        rows, right = _constraints(bodies, poses, height, length, reach)
        step = _step(rows, right, reach, np.where(turning, bodies.radius, np.inf), length)
        if step is None:
            reach /= 2
        else:
            moves, shorter = step
            poses, gain, length = poses + moves, length - shorter, shorter
            if gain < 0.05 * reach or count >= CALM:
                reach /= 2
        if reach < least:
            break
    return poses, length


def _step(rows: csr_array, right: Floats, reach: float, radius: Floats, length: float) -> tuple[Floats, float] | None:
    """The moves (n, 3) of one step and the length that follows; None if the constraints leave nothing."""
    count = len(radius)
    cost = np.zeros(3 * count + 1)
    cost[-1], cost[0:-1:3] = 1.0, GRAVITY / count
    limit = np.full(3 * count + 1, reach)
    limit[2:-1:3] = np.minimum(reach / radius, TURN)
    low, high = -limit, limit.copy()
    low[-1], high[-1] = length - 2 * reach, length + reach  # beyond, corners not looked at might meet the end
    how = SIMPLEX if count <= MANY else INTERIOR
    found = linprog(cost, A_ub=rows, b_ub=right, bounds=np.stack([low, high], axis=1), **how)
    if found.x is None:
        return None
    return found.x[:-1].reshape(count, 3), float(found.x[-1])


def _constraints(bodies: Bodies, poses: Floats, height: float, length: float, reach: float) -> tuple[csr_array, Floats]:
    """Rows and right sides of `rows @ (moves, length) <= right`."""
    corners = bodies.placed(poses)
    arms = corners - poses[bodies.owner][:, None, :2]
    blocks = [_apart(bodies, corners, poses, reach), *_inside(bodies, corners, arms, height, length, reach)]
    data, columns = (np.concatenate([block[k].ravel() for block in blocks]) for k in (0, 1))
    right = np.concatenate([block[2] for block in blocks])
    entries = np.concatenate([np.full(len(block[0]), block[0].shape[1]) for block in blocks])
    rows = np.repeat(np.arange(len(right)), entries)
    return coo_array((data, (rows, columns)), shape=(len(right), 3 * len(poses) + 1)).tocsr(), right


def _apart(bodies: Bodies, corners: Floats, poses: Floats, reach: float) -> _Block:
    """Every corner of a part stays beyond that edge of its neighbour from which it is furthest."""
    low, high = corners.min(axis=1) - 2.5 * reach, corners.max(axis=1) + 2.5 * reach
    near = ((low[:, None] <= high[None]) & (low[None] <= high[:, None])).all(axis=2)
    first, second = np.nonzero(near & (bodies.owner[:, None] != bodies.owner[None]))
    edges = np.roll(corners, -1, axis=1) - corners
    normals = np.stack([edges[..., 1], -edges[..., 0]], axis=-1)
    size = np.linalg.norm(normals, axis=2, keepdims=True)
    flat = size[..., 0] < 1e-12
    normals = normals / np.where(flat[..., None], 1.0, size)
    beyond = normals[first] @ corners[second].transpose(0, 2, 1)
    beyond -= (normals * corners).sum(axis=2)[first][:, :, None]
    gaps = np.where(flat[first], -np.inf, beyond.min(axis=2))
    edge = gaps.argmax(axis=1)
    pair = np.arange(len(first))
    gap, beyond, normal = gaps[pair, edge], beyond[pair, edge], normals[first, edge]
    # of the two ways to part a pair, the better one; ties go to the lower index
    table = np.full((len(corners), len(corners)), -np.inf)
    table[first, second] = gap
    other = table.T[first, second]
    better = (gap > other) | ((gap == other) & (first < second))
    chosen, corner = np.nonzero(better[:, None] & (beyond < 5 * reach) & bodies.real[second])
    at, normal = corners[second[chosen], corner], normal[chosen]
    fixed, moved = bodies.owner[first[chosen]], bodies.owner[second[chosen]]
    data = np.column_stack(
        [normal, _lever(normal, at - poses[fixed, :2]), -normal, -_lever(normal, at - poses[moved, :2])]
    )
    columns = np.column_stack([3 * fixed, 3 * fixed + 1, 3 * fixed + 2, 3 * moved, 3 * moved + 1, 3 * moved + 2])
    return data, columns, np.maximum(beyond[chosen, corner], -reach / 4)  # an overlap is undone a little at a time


def _lever(normal: Floats, arm: Floats) -> Floats:
    """How fast a point at `arm` moves along `normal` as it turns."""
    return normal[:, 1] * arm[:, 0] - normal[:, 0] * arm[:, 1]


def _inside(bodies: Bodies, corners: Floats, arms: Floats, height: float, length: float, reach: float) -> list[_Block]:
    """Every corner stays on the strip, whose end may move."""
    blocks, end = [], 3 * len(bodies.radius)
    for axis, sign, room, free in ((0, -1, 0.0, 0), (1, -1, 0.0, 0), (1, 1, height, 0), (0, 1, length, 1)):
        left = room - sign * corners[..., axis]
        part, corner = np.nonzero((left < 5 * reach) & bodies.real)
        own, arm = bodies.owner[part], arms[part, corner]
        turn = sign * (arm[:, 0] if axis else -arm[:, 1])
        data = np.column_stack([np.full(len(own), sign), turn, np.full(len(own), -free)])
        columns = np.column_stack([3 * own + axis, 3 * own + 2, np.full(len(own), end)])
        blocks.append((data, columns, np.maximum(left[part, corner], -reach / 4) - free * length))
    return blocks
