"""Further lines over a plate net: meridians, darts, whatever is to be cut but not scored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely
from scipy.spatial.distance import cdist

from shellgen.core.arrays import Floats, Ints
from shellgen.errors import GeometryError
from shellgen.geom.curves import arc_length, resample
from shellgen.model import Layout, Surface
from shellgen.plates._net import MIDLINE, RIM, SEAM, Arc, Chain, HalfNet, check, close, faces

SNAP = 5.0
"""mm. Chosen: half the foam's thickness; a strip narrower than that cannot be glued."""
SPACING = 3.0
"""mm between the points of a further line; chosen, as the other lines' 4 mm."""
EASING = 6.0
"""A line drawn to a node bends over this many times the snap distance to either side, by at most some 14 degrees."""
ON = 1e-9
"""How near (in uv) a curve's end must come to the rim or the midline to lie on it."""


def overlay(
    surface: Surface, layout: Layout, curves: Sequence[Floats], *, snap: float = SNAP
) -> tuple[Layout, tuple[tuple[int, ...], ...]]:
    """The layout with further lines of kind "seam", and for each curve its chain of lines on the left half.

    curves : (n, 2) uv polylines in the left half, v >= 0, or along the midline; mirror images are added. An end may
             lie on the rim, on the midline, on a line or inside a cell (a dart's tip: that line has the same cell on
             both hands).
    snap   : mm; a curve that passes a node this near is led through it, and where it follows a line this closely
             that line (whatever its kind) takes its place in the chain

    Plates stay as they are but may have more cells. GeometryError for a curve that leaves the left half.
    """
    web = _Web(surface, layout, snap)
    chains = [web.draw(np.asarray(curve, float)) for curve in curves]
    kept = [i for i, arc in enumerate(web.arcs) if arc is not None]
    half = HalfNet(np.array(web.nodes), tuple(arc for arc in web.arcs if arc is not None))
    left = sorted(_owned(half, layout, [web.origin[i] for i in kept]))
    nodes, lines, cells = close(half, [face for _, face in left])
    count = len(left)
    new: list[list[int]] = [[] for _ in layout.plates]
    for cell, (old, _) in enumerate(left):
        plate = layout.plates[layout.cell_plate[old]]
        new[layout.cell_plate[old]].append(cell)
        new[plate.mirror].append(cell + count)
    plates = tuple(replace(plate, cells=tuple(sorted(own))) for plate, own in zip(layout.plates, new, strict=True))
    cell_plate = [k for _, k in sorted((cell, k) for k, own in enumerate(new) for cell in own)]
    number = {old: i for i, old in enumerate(kept)}
    chains_now = tuple(tuple(number[i] for part in chain for i in web.pieces(part)) for chain in chains)
    whole = Layout(nodes, lines, cells, plates, tuple(cell_plate), layout.spots)
    check(whole)
    return whole, chains_now


def _owned(half: HalfNet, layout: Layout, origin: Sequence[int]) -> list[tuple[int, Chain]]:
    """Each face of the new half net with the cell it was cut from: read off its old lines, or across seams."""
    found = faces(half)
    owner: dict[int, int] = {}
    hand = {step: f for f, face in enumerate(found) for step in face}
    for (i, turn), f in hand.items():
        if origin[i] >= 0:
            line = layout.lines[origin[i]]
            owner[f] = line.left if turn > 0 else line.right
    while len(owner) < len(found):
        adjacent = ((f, hand.get((i, -turn), -1)) for (i, turn), f in hand.items() if f not in owner)
        owner |= {f: owner[g] for f, g in adjacent if g in owner}
    return [(owner[f], face) for f, face in enumerate(found)]


class _Web:
    """The left half of a layout while lines are added. `arcs[i]` is None once it has been split into `_parts[i]`;
    `origin[i]` is the line of the layout it is (a part of), or -1.
    """

    def __init__(self, surface: Surface, layout: Layout, snap: float) -> None:
        self.surface, self.snap = surface, snap
        self.origin = [i for i, line in enumerate(layout.lines) if (line.uv[:, 1] >= 0).all()]
        number = {int(old): new for new, old in enumerate(np.flatnonzero(layout.nodes[:, 1] >= 0))}
        self.nodes: list[Floats] = list(layout.nodes[list(number)])
        lines = [layout.lines[i] for i in self.origin]
        self.arcs: list[Arc | None] = [Arc(number[x.start], number[x.end], x.uv, x.kind) for x in lines]
        self._parts: dict[int, list[int]] = {}

    def pieces(self, arc: int) -> list[int]:
        """What has become of an arc."""
        return [p for part in self._parts[arc] for p in self.pieces(part)] if arc in self._parts else [arc]

    def draw(self, curve: Floats) -> list[int]:
        """Adds one curve; its chain of arcs."""
        if curve[:, 1].min() < -ON or np.linalg.norm(curve, axis=1).max() > 1 + ON:
            raise GeometryError("a further line must lie in the left half of the shell")
        curve = np.where(np.abs(curve) < ON, 0.0, curve)
        curve = resample(curve, max(9, int(arc_length(self.surface.points(curve))[-1] / SPACING) + 1))
        ends = self._end(curve[0]), self._end(curve[-1])
        if not curve[:, 1].any():
            return self._along_middle(*ends)
        curve, stops = self._led(curve, *ends)
        return [arc for (i, a), (k, b) in pairwise(stops) for arc in self._stretch(curve[i : k + 1], a, b)]

    def _live(self) -> list[tuple[int, Arc]]:
        return [(i, arc) for i, arc in enumerate(self.arcs) if arc is not None]

    def _gap(self, first: Floats, second: Floats) -> Floats:
        """Distances in mm between points given by uv, (n, 2) and (m, 2): (n, m)."""
        return np.asarray(cdist(self.surface.points(first), self.surface.points(second)))

    def _end(self, uv: Floats) -> int:
        """The node at which a curve that ends at `uv` shall end: one that is near, or a new one."""
        away = self._gap(uv[None], np.array(self.nodes))[0]
        if away.min() < self.snap:
            return int(away.argmin())
        rim, middle = np.linalg.norm(uv) > 1 - ON, uv[1] == 0
        live = [(i, a) for i, a in self._live() if (a.kind == RIM if rim else a.middle if middle else True)]
        lines = shapely.linestrings([p for _, a in live for p in a.uv], indices=_owners([a for _, a in live]))
        at = shapely.line_locate_point(lines, shapely.Point(uv))
        foot = shapely.get_coordinates(shapely.line_interpolate_point(lines, at))
        away = self._gap(uv[None], foot)[0]
        best = int(away.argmin())
        if rim or middle or away[best] < self.snap:
            return self._split(live[best][0], [(float(at[best]), uv if rim or middle else foot[best])])[0]
        self.nodes.append(uv)
        return len(self.nodes) - 1

    def _split(self, arc: int, cuts: list[tuple[float, Floats]]) -> list[int]:
        """Splits an arc at (distance in uv along it, point), in rising order; the new nodes."""
        whole = self.arcs[arc]
        assert whole is not None
        along = arc_length(whole.uv)
        new = list(range(len(self.nodes), len(self.nodes) + len(cuts)))
        self.nodes += [self._sound(whole, point) for _, point in cuts]
        stops = [(0.0, whole.start), *zip([at for at, _ in cuts], new, strict=True), (along[-1], whole.end)]
        self._parts[arc] = []
        for (s, a), (t, b) in pairwise(stops):
            inner = (along > s + ON) & (along < t - ON)
            uv = np.concatenate([self.nodes[a][None], whole.uv[inner], self.nodes[b][None]])
            self._parts[arc].append(self._add(Arc(a, b, uv, whole.kind), self.origin[arc]))
        self.arcs[arc] = None
        return new

    @staticmethod
    def _sound(arc: Arc, point: Floats) -> Floats:
        """The point exactly on rim or midline if the arc is."""
        if arc.kind == RIM:
            return point / np.linalg.norm(point)
        return point * (1, 0) if arc.middle else point

    def _add(self, arc: Arc, origin: int) -> int:
        self.arcs.append(arc)
        self.origin.append(origin)
        return len(self.arcs) - 1

    def _along_middle(self, start: int, end: int) -> list[int]:
        low, high = sorted((self.nodes[start][0], self.nodes[end][0]))
        chain = []
        for i, arc in self._live():
            if arc.middle and low - ON < arc.uv[:, 0].min() and arc.uv[:, 0].max() < high + ON:
                chain.append(i)
                if arc.kind == MIDLINE:
                    self.arcs[i] = replace(arc, kind=SEAM)
        return chain

    def _led(self, curve: Floats, start: int, end: int) -> tuple[Floats, list[tuple[int, int]]]:
        """The curve drawn through the nodes it passes closely, and its stops: (index on the curve, node)."""
        gap = self._gap(np.array(self.nodes), curve)
        reach = self.snap / SPACING * 2
        stops = [(0, start), (len(curve) - 1, end)]
        for node in np.argsort(gap.min(axis=1)).tolist():
            at = int(gap[node].argmin())
            if gap[node, at] < self.snap and all(abs(at - i) > reach and node != n for i, n in stops):
                stops.append((at, node))
        stops.sort()
        step = np.arange(len(curve))
        led = curve.copy()
        for k, (at, node) in enumerate(stops):
            sides = [abs(stops[j][0] - at) for j in (k - 1, k + 1) if 0 <= j < len(stops)]
            half = max(1.0, min(min(sides), EASING * reach / 2))
            window = np.where(np.abs(step - at) < half, np.cos(np.pi / 2 * (step - at) / half) ** 2, 0)
            led += window[:, None] * (self.nodes[node] - curve[at])
            led[at] = self.nodes[node]
        led[:, 1] = np.maximum(led[:, 1], 0)
        return led / np.maximum(np.linalg.norm(led, axis=1, keepdims=True), 1), stops

    def _stretch(self, part: Floats, a: int, b: int) -> list[int]:
        """One stretch between two stops: split where it crosses lines, laid over lines that it follows."""
        part = self._clear(part, a, b)
        if (line := self._followed(part, a, b)) >= 0:
            return [line]
        hits = self._crossings(part, a, b)
        met: list[tuple[float, int]] = []
        for arc in sorted({arc for _, arc, _, _ in hits}):
            own = sorted((on, t, point) for t, i, on, point in hits if i == arc)
            new = self._split(arc, [(on, point) for on, _, point in own])
            met += [(t, node) for (_, t, _), node in zip(own, new, strict=True)]
        along = arc_length(part)
        chain = []
        for (s, p), (t, q) in pairwise([(0.0, a), *sorted(met), (along[-1], b)]):
            inner = (along > s + ON) & (along < t - ON)
            uv = np.concatenate([self.nodes[p][None], part[inner], self.nodes[q][None]])
            line = self._followed(uv, p, q)
            chain.append(line if line >= 0 else self._add(Arc(p, q, uv, SEAM), -1))
        return chain

    def _followed(self, uv: Floats, p: int, q: int) -> int:
        """The line from p to q that the stretch runs along within snapping distance, or -1."""
        for i, arc in self._live():
            if {arc.start, arc.end} == {p, q}:
                gap = self._gap(uv, arc.uv)
                if max(gap.min(axis=0).max(), gap.min(axis=1).max()) < self.snap:
                    return i
        return -1

    def _crossings(self, part: Floats, a: int, b: int) -> list[tuple[float, int, float, Floats]]:
        """Where the stretch crosses lines off its own ends: (uv distance along it, arc, along the arc, point)."""
        live = self._live()
        lines = shapely.linestrings([p for _, x in live for p in x.uv], indices=_owners([x for _, x in live]))
        whole = shapely.LineString(part)
        ends = shapely.MultiPoint([self.nodes[a], self.nodes[b]])
        hits = []
        for k in shapely.STRtree(lines).query(whole, predicate="intersects").tolist():
            for point in shapely.get_parts(shapely.extract_unique_points(shapely.intersection(whole, lines[k]))):
                if point.distance(ends) > ON:
                    place = np.array(point.coords[0])
                    hits.append((whole.project(point), live[k][0], lines[k].project(point), place))
        return hits

    def _clear(self, part: Floats, a: int, b: int) -> Floats:
        """The stretch without crossings of the lines at its own ends close by those ends: led straight there."""
        for node, back in ((a, False), (b, True)):
            part = part[::-1] if back else part
            whole = arc_length(self.surface.points(part))
            uv_along = arc_length(part)
            near = [
                t
                for t, i, _, _ in self._crossings(part, a, b)
                if (arc := self.arcs[i]) is not None
                and node in (arc.start, arc.end)
                and np.interp(t, uv_along, whole) < 2 * self.snap
            ]
            if near:
                far = whole > np.interp(max(near), uv_along, whole) + self.snap
                far[-1] = True
                part = np.concatenate([part[:1], part[far]])
            part = part[::-1] if back else part
        return part


def _owners(arcs: Sequence[Arc]) -> Ints:
    return np.repeat(np.arange(len(arcs)), [len(arc.uv) for arc in arcs])
