"""Paper strips that wrap along the score lines of the built dome, laid flat."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from shellgen.canvas import frozen_array
from shellgen.core.arrays import Floats, Ints
from shellgen.geom.geodesics import angle_between, developed
from shellgen.geom.trails import Trail, trails
from shellgen.model import Layout, Surface

LONGEST = 230.0
"""mm of a wrap strip: it goes on one sheet of paper, and one hand holds it down (chosen)."""
WRAP_TURN = np.radians(75.0)
"""A wrap strip follows the net round corners up to this; those of a honeycomb turn by 60 degrees."""
STEP = 2.0
"""mm between the points at which a strip is developed."""


@dataclass(frozen=True, slots=True, eq=False)
class Stop:
    """A corner that a strip passes. at : (2,) mm; branches : (k,) direction on the flat strip of each line that leaves
    it there"""

    corner: str
    at: Floats
    branches: Floats


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Wrap:
    """One strip. centre : (n, 2) mm, the score line laid flat; seen from outside"""

    name: str
    centre: Floats
    stops: tuple[Stop, ...]


def between_plates(layout: Layout) -> list[int]:
    """The lines between plates."""
    return [k for k, line in enumerate(layout.lines) if line.kind == "plate"]


def wraps(surface: Surface, layout: Layout, names: dict[int, str]) -> tuple[Wrap, ...]:
    """Strips along all plate lines, none longer than LONGEST.

    names : of the corners, by their nodes
    """
    lines = between_plates(layout)
    curves = [surface.points(layout.lines[k].uv) for k in lines]
    ends = np.array([(layout.lines[k].start, layout.lines[k].end) for k in lines])
    leaving = np.array([(c[1] - c[0], c[-2] - c[-1]) for c in curves])
    leaving /= np.linalg.norm(leaving, axis=2, keepdims=True)
    size = np.array([np.linalg.norm(np.diff(c, axis=0), axis=1).sum() for c in curves])
    result: list[Wrap] = []
    for trail in _mirrored_trails(layout, lines, ends, leaving, size):
        for part in _parts(trail, size, [names.get(int(ends[e, 0 if d > 0 else 1]), "") for e, d in trail]):
            uv = np.vstack([_walked(layout.lines[lines[e]].uv, d)[int(i > 0) :] for i, (e, d) in enumerate(part)])
            nodes = [int(ends[part[0][0], 0 if part[0][1] > 0 else 1])]
            nodes += [int(ends[e, 1 if d > 0 else 0]) for e, d in part]
            used = {(int(e), int(node)) for e, _ in part for node in ends[e]}
            result += _strips(surface, uv, layout.nodes[nodes], nodes, names, ends, leaving, used)
    return _told_apart(result)


def _told_apart(found: list[Wrap]) -> tuple[Wrap, ...]:
    """Strips between the same two corners are named by a corner between them, too, or numbered."""
    times, seen = Counter(wrap.name for wrap in found), Counter[str]()
    result = []
    for wrap in found:
        seen[wrap.name] += 1
        by = f"by {wrap.stops[1].corner}" if len(wrap.stops) > 2 else f"no. {seen[wrap.name]}"
        result.append(replace(wrap, name=f"{wrap.name} {by}") if times[wrap.name] > 1 else wrap)
    return tuple(result)


def _mirrored_trails(layout: Layout, lines: list[int], ends: Ints, leaving: Floats, size: Floats) -> list[Trail]:
    """Trails of the left half and their mirror images, joined where they meet on the midline between two plates."""
    place = {line: k for k, line in enumerate(lines)}
    mirror = np.array([place[layout.lines[line].mirror] for line in lines])
    height = np.array([layout.lines[line].uv[:, 1].mean() for line in lines])
    degree = np.bincount(ends.ravel(), minlength=len(layout.nodes))
    half = np.flatnonzero(height > 1e-9)
    result: list[Trail] = [((int(k), 1),) for k in np.flatnonzero(np.abs(height) <= 1e-9)]
    for short in trails(ends[half], leaving[half], most_turn=WRAP_TURN):
        left = tuple((int(half[e]), d) for e, d in short)
        right = tuple((int(mirror[e]), d * _same_way(layout, lines[e])) for e, d in left)
        back = tuple((e, -d) for e, d in reversed(right))
        first, last = _start(left[0], ends), _start((left[-1][0], -left[-1][1]), ends)
        meets = [abs(layout.nodes[node, 1]) < 1e-9 and degree[node] == 2 for node in (first, last)]
        if sum(meets) == 1 and 2 * size[[e for e, _ in left]].sum() <= LONGEST:
            result.append((*left, *back) if meets[1] else (*back, *left))
            continue
        if meets[1]:  # what crosses the midline on a strip of its own, so that the halves are equal
            result.append((left[-1], back[0]))
            left, right = left[:-1], right[:-1]
        if meets[0] and left:
            result.append((back[-1], left[0]))
            left, right = left[1:], right[1:]
        result += [left, right] if left else []
    return result


def _start(step: tuple[int, int], ends: Ints) -> int:
    return int(ends[step[0], 0 if step[1] > 0 else 1])


def _same_way(layout: Layout, line: int) -> int:
    """+1 where a line's mirror image runs from the mirrored start, -1 where from the mirrored end."""
    of = layout.lines[line]
    mate = layout.lines[of.mirror]
    return 1 if np.abs(mate.uv[0] - of.uv[0] * [1, -1]).max() < np.abs(mate.uv[0] - of.uv[-1] * [1, -1]).max() else -1


def _walked(uv: Floats, direction: int) -> Floats:
    return uv if direction > 0 else uv[::-1]


def _parts(trail: tuple[tuple[int, int], ...], size: Floats, names: list[str]) -> list[list[tuple[int, int]]]:
    """The trail in parts of even length, cut only at corners, as long as they may be."""
    total = sum(size[e] for e, _ in trail)
    goal = total / np.ceil(total / LONGEST)
    parts: list[list[tuple[int, int]]] = [[]]
    run = 0.0
    for (e, d), name in zip(trail, names, strict=True):
        if parts[-1] and name and (run + size[e] > LONGEST or run + size[e] / 2 > goal):
            parts.append([])
            run = 0.0
        parts[-1].append((e, d))
        run += size[e]
    return parts


def _strips(
    surface: Surface, uv: Floats, at_nodes: Floats, nodes: list[int], names: dict[int, str], ends: Ints,
    leaving: Floats, used: set[tuple[int, int]],
) -> list[Wrap]:  # fmt: skip
    """One strip, or several where a single line is longer than a strip may be."""
    dense, where = _dense(surface, uv, at_nodes)
    points, normals = surface.points(dense), surface.normals(dense)
    flat = developed(points, normals)
    along = np.concatenate([[0.0], np.linalg.norm(np.diff(flat, axis=0), axis=1).cumsum()])
    stops = []
    for node, k in zip(nodes, where, strict=True):
        if node not in names:
            continue
        ahead = min(k, len(points) - 2)
        heading = np.arctan2(*(flat[ahead + 1] - flat[ahead])[::-1])
        others = [(e, s) for e, s in zip(*np.nonzero(ends == node), strict=True) if (int(e), node) not in used]
        turns = [angle_between(points[ahead + 1] - points[ahead], leaving[e, s], normals[k]) for e, s in others]
        stops.append((k, Stop(names[node], frozen_array(flat[k]), frozen_array(heading + np.array(turns)))))
    count = int(np.ceil(along[-1] / (1.15 * LONGEST)))
    cuts = np.searchsorted(along, along[-1] * np.arange(1, count) / count)
    bounds = [0, *cuts.tolist(), len(flat) - 1]
    first, last = (names.get(nodes[i], "") for i in (0, -1))
    name = f"{first} to {last}"
    return [
        Wrap(
            name if count == 1 else f"{name}, part {i + 1} of {count}",
            frozen_array(flat[a : b + 1]),
            tuple(stop for k, stop in stops if a <= k <= b),
        )
        for i, (a, b) in enumerate(pairwise(bounds))
    ]


def _dense(surface: Surface, uv: Floats, at_nodes: Floats) -> tuple[Floats, list[int]]:
    """The line with no step over STEP, and where its nodes are on it."""
    size = np.linalg.norm(np.diff(surface.points(uv), axis=0), axis=1)
    count = np.maximum(1, np.ceil(size / STEP).astype(int))
    rows = [a + np.arange(n)[:, None] / n * (b - a) for a, b, n in zip(uv[:-1], uv[1:], count, strict=True)]
    start = np.concatenate([[0], np.cumsum(count)])
    vertex, found = 0, list[int]()
    for node in at_nodes:  # in order along the line; a closed one ends where it began
        vertex += int(np.abs(uv[vertex:] - node).max(axis=1).argmin()) if found else 0
        if found and found[-1] == start[vertex]:
            vertex += 1 + int(np.abs(uv[vertex + 1 :] - node).max(axis=1).argmin())
        found.append(int(start[vertex]))
    return np.vstack([*rows, uv[-1:]]), found
