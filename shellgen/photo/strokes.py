"""Strokes of a pen as curves: thinned, freed of what the width of the pen adds, and smoothed.

A skeleton has short whiskers, splits a crossing into two forks and bends towards each junction, all within about the
width of the pen; a line drawn twice has narrow holes. Each is undone by a rule in pen widths.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from scipy import ndimage

from shellgen.core.arrays import Floats
from shellgen.geom.thinning import Chain, skeleton, traced
from shellgen.photo.ink import Mask

HOLE = 0.8
"""Holes that hold no circle of this many pen widths across are between two strokes of one line."""
CROSSING, WHISKER, FORK = 1.3, 1.6, 8.0
"""Longest, in pen widths, of the piece between the forks of a crossing, of a whisker, and of the split end of a line
drawn twice, whose ends lie within NEAR of each other."""
NEAR = 3.0
SMOOTH = 0.6
"""Standard deviation of the smoothing along a line, in pen widths."""


@dataclass(frozen=True, slots=True, eq=False)
class Strokes:
    """lines : (n, 2) points of each, pixels from the upper left; where lines meet they share an end. rings : closed
    lines that meet no other; width : of the pen, pixels"""

    lines: tuple[Floats, ...]
    rings: tuple[Floats, ...]
    width: float


def strokes(ink: Mask) -> Strokes:
    """The lines of the ink."""
    width = pen_width(ink)
    solid = _filled(ink, width)
    found = traced(skeleton(solid))
    reach = ndimage.distance_transform_edt(np.pad(solid, 1))[1:-1, 1:-1]
    net = _contracted(_Net(found.nodes, found.chains), reach, width)
    net = _trimmed(net, width)
    places = _places(net, width)
    lines, rings = [], []
    for chain in net.chains:
        if chain.start == chain.end == -1:
            rings.append(_smoothed(chain.points, SMOOTH * width, closed=True)[:, ::-1] + 0.5)
        else:
            lines.append(_line(chain, places, net, width)[:, ::-1] + 0.5)
    return Strokes(tuple(lines), tuple(rings), width)


def pen_width(ink: Mask) -> float:
    """Twice the usual distance from the middle of a stroke to its edge, pixels."""
    reach = ndimage.distance_transform_edt(ink)
    thin = skeleton(ink)
    return 2 * float(np.median(reach[thin])) if thin.any() else 1.0


def explained(ink: Mask, found: Strokes, slack: float) -> tuple[float, tuple[float, float] | None]:
    """Share of the ink that is more than `slack` pixels off every stroke, and a place with the most of it."""
    canvas = np.zeros(ink.shape, np.uint8)
    thick = max(1, round(found.width + 2 * slack))
    for points, closed in [(p, False) for p in found.lines] + [(p, True) for p in found.rings]:
        cv2.polylines(canvas, [np.round(points).astype(np.int32)], closed, 1, thick)
    left = ink & (canvas == 0)
    if not left.any():
        return 0.0, None
    labels, count = ndimage.label(left)
    largest = 1 + int(np.argmax(ndimage.sum_labels(left, labels, range(1, count + 1))))
    row, column = ndimage.center_of_mass(labels == largest)
    return float(left.sum() / ink.sum()), (column + 0.5, row + 0.5)


def _filled(ink: Mask, width: float) -> Mask:
    """Without the holes between two strokes of one line."""
    size = 2 * max(1, round(0.25 * width)) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    closed = cv2.morphologyEx(ink.astype(np.uint8), cv2.MORPH_CLOSE, disc) > 0
    holes, _ = ndimage.label(~closed)
    deepest = ndimage.maximum(ndimage.distance_transform_edt(~closed), holes, np.arange(holes.max() + 1))
    narrow = np.asarray(deepest) < 0.5 * HOLE * width
    narrow[0] = False
    return np.asarray(closed | narrow[holes])


@dataclass(frozen=True, slots=True, eq=False)
class _Net:
    nodes: Floats
    chains: tuple[Chain, ...]

    def degree(self) -> Counter[int]:
        return Counter(node for chain in self.chains for node in (chain.start, chain.end) if node >= 0)


def _length(chain: Chain) -> float:
    return float(np.linalg.norm(np.diff(chain.points, axis=0), axis=1).sum())


def _contracted(net: _Net, reach: Floats, width: float) -> _Net:
    """Forks of one crossing as one node, at their middle."""
    degree, into = net.degree(), list(range(len(net.nodes)))

    def top(node: int) -> int:
        while into[node] != node:
            node = into[node]
        return node

    kept = []
    for chain in net.chains:
        ends = [node for node in (chain.start, chain.end) if node >= 0 and degree[node] > 2]
        wide = max([width, *(2 * reach[tuple(np.round(net.nodes[node]).astype(int))] for node in ends)])
        if len(ends) == 2 and _length(chain) < CROSSING * wide:
            into[top(chain.end)] = top(chain.start)
        else:
            kept.append(chain)
    groups: dict[int, list[int]] = {}
    for node in range(len(net.nodes)):
        groups.setdefault(top(node), []).append(node)
    nodes = net.nodes.copy()
    for first, members in groups.items():
        nodes[first] = net.nodes[members].mean(axis=0)
    moved = (replace(c, start=top(c.start), end=top(c.end)) if c.start >= 0 else c for c in kept)
    return _Net(nodes, tuple(c for c in moved if c.start != c.end or c.start < 0 or _length(c) > 4 * width))


def _trimmed(net: _Net, width: float) -> _Net:
    """Without whiskers and split ends; what meets at a node of two is one line. Specks are gone too."""
    while True:
        degree = net.degree()
        ends = {c: _free(c, degree) for c in net.chains}
        gone = {c for c, free in ends.items() if free == 1 and _length(c) < WHISKER * width}
        gone |= {c for c, free in ends.items() if free == 2 and _length(c) < NEAR * width}
        split = _split_ends([c for c, free in ends.items() if free == 1 and c not in gone], net, degree, width)
        if not gone and split is None:
            return net
        net = _joined(_Net(net.nodes, tuple(c for c in net.chains if c not in gone and c is not split)))


def _free(chain: Chain, degree: Counter[int]) -> int:
    return sum(node >= 0 and degree[node] == 1 for node in (chain.start, chain.end))


def _split_ends(loose: Sequence[Chain], net: _Net, degree: Counter[int], width: float) -> Chain | None:
    """The shorter of two loose chains from one node that end close to each other."""
    for i, a in enumerate(loose):
        for b in loose[:i]:
            (node_a, end_a), (node_b, end_b) = (
                (c.end, c.start) if degree[c.start] == 1 else (c.start, c.end) for c in (a, b)
            )
            near = float(np.linalg.norm(net.nodes[end_a] - net.nodes[end_b])) < NEAR * width
            if node_a == node_b and near and max(_length(a), _length(b)) < FORK * width:
                return min(a, b, key=_length)
    return None


def _joined(net: _Net) -> _Net:
    """Chains that meet at a node of two as one; a line that ends at itself there is a ring."""
    chains = list(net.chains)
    for node, count in net.degree().items():
        if count != 2:
            continue
        both = [c for c in chains if node in (c.start, c.end)]
        chains = [c for c in chains if all(c is not b for b in both)]
        if len(both) == 1:
            chains.append(Chain(-1, -1, both[0].points))
            continue
        a, b = both
        a = a if a.end == node else Chain(a.end, a.start, a.points[::-1])
        b = b if b.start == node else Chain(b.end, b.start, b.points[::-1])
        chains.append(Chain(a.start, b.end, np.concatenate([a.points, b.points])))
    return _Net(net.nodes, tuple(chains))


def _places(net: _Net, width: float) -> Floats:
    """Of each junction, the place nearest to all its lines as they run beyond the width of the pen."""
    places = net.nodes.copy()
    tangents: dict[int, list[tuple[Floats, Floats]]] = {}
    for chain in net.chains:
        for node, points in ((chain.start, chain.points), (chain.end, chain.points[::-1])):
            if node >= 0:
                away = np.linalg.norm(points - net.nodes[node], axis=1)
                part = points[(away > 0.8 * width) & (away < 3 * width)]
                if len(part) > 3:
                    middle = part.mean(axis=0)
                    tangents.setdefault(node, []).append((middle, np.linalg.svd(part - middle)[2][0]))
    for node, lines in tangents.items():
        if len(lines) < 3:
            continue
        across = [np.eye(2) - np.outer(along, along) for _, along in lines]
        weak = 0.05 * np.eye(2)  # holds the place where all lines are nearly parallel
        right = sum((p @ at for p, (at, _) in zip(across, lines, strict=True)), weak @ net.nodes[node])
        place = np.linalg.solve(sum(across, weak), right)
        if np.linalg.norm(place - net.nodes[node]) < 1.2 * width:
            places[node] = place
    return places


def _line(chain: Chain, places: Floats, net: _Net, width: float) -> Floats:
    """A chain, smooth, from one place to the other; a loose end is lengthened by what thinning took off."""
    degree = net.degree()
    points = chain.points
    for turn, node in ((1, chain.start), (-1, chain.end)):
        points = points[::turn]
        if degree[node] > 1:
            away = np.linalg.norm(points - net.nodes[node], axis=1)
            first = int(np.argmax(away > 0.7 * width)) if (away > 0.7 * width).any() else len(points) - 1
            points = np.concatenate([places[node][None], points[first:]])
        elif len(points) > 2:
            along = points[0] - points[min(len(points) - 1, round(1.5 * width) + 1)]
            points = np.concatenate([(points[0] + 0.5 * width * along / np.linalg.norm(along))[None], points])
        points = points[::turn]
    return _smoothed(points, SMOOTH * width)


def _smoothed(points: Floats, sigma: float, *, closed: bool = False) -> Floats:
    """The polyline at steps of a pixel, weighted along itself; its ends stay."""
    ring = np.concatenate([points, points[:1]]) if closed else points
    step = np.concatenate([[True], np.linalg.norm(np.diff(ring, axis=0), axis=1) > 1e-9])
    ring = ring[step]
    run = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(ring, axis=0), axis=1))])
    if len(ring) < 2 or run[-1] < 2:
        return points
    at = np.linspace(0, run[-1], max(3, round(run[-1]) + 1))
    even = np.column_stack([np.interp(at, run, ring[:, axis]) for axis in (0, 1)])
    if closed:
        return np.asarray(ndimage.gaussian_filter1d(even[:-1], sigma, axis=0, mode="wrap"))
    # Mirrored about its ends, both stay where they are.
    return np.asarray(_odd_filter(even, min(sigma, run[-1] / 6)))


def _odd_filter(even: Floats, sigma: float) -> Floats:
    head, tail = 2 * even[0] - even[:0:-1], 2 * even[-1] - even[-2::-1]
    whole = np.concatenate([head, even, tail])
    count = len(even)
    return np.asarray(ndimage.gaussian_filter1d(whole, sigma, axis=0)[count - 1 : 2 * count - 1])
