"""A drawing on the chart made into half a net in mm on the chart: which half counts, what the lines enclose, what is
named and where spikes stand. The dome is not asked, so a drawing fits every dome, rim to rim."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LineString

from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.geom.curves import at_arc_length
from shellgen.plates import _svgfile
from shellgen.plates._guides import recognised
from shellgen.plates._net import MIDLINE, PLATE
from shellgen.plates._noding import DrawnWeb, Misdrawn
from shellgen.plates._sketch import Sketch, Stroke, Unreadable
from shellgen.plates._web_edges import WebEdge

CROWN_SIZE = 6.0
"""mm across the circle that marks the crown on the chart: what a drawing's scale is read from."""
SPILL = 0.2
"""Share of the longer half's lines that the other may have if only one half is drawn: what reaches over the midline."""
LONG = 4.0
"""Gaps. Chosen: a line then meets rim or midline at 7 degrees or less."""
ROUNDED = 0.01
"""mm from the midline that count as on it: drawing programs round."""
AUTO, LEFT, RIGHT = "auto", "left", "right"
FLIP = np.array([1.0, -1.0])
MOST = 200
"""Circles on one half. Chosen: as many spikes as a preset may ask for."""
DOT = (3.0, 300.0)
"""Least and greatest mm across a circle for a spike. Chosen: a speck, and more than any base."""


@dataclass(frozen=True, slots=True, eq=False)
class Dot:
    """A circle for a spike. at : (2,) mm on the chart; size : mm across; layer : its name, such as "spikes\""""

    at: Floats
    size: float
    layer: str


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """The left half. rim : (n, 2) from head to tail; names : text and the (k, 2) places that it covers

    plates : how many there are on both halves
    """

    rim: Floats
    edges: tuple[WebEdge, ...]
    plates: int
    names: tuple[tuple[str, Floats], ...]
    dots: tuple[Dot, ...]


class Undrawn(Misdrawn):
    """With what has been understood so far, for the picture. rim : (n, 2); lines : of the drawing, mm on the chart"""

    def __init__(self, of: Misdrawn, rim: Floats, lines: tuple[Floats, ...]) -> None:
        super().__init__(of.problem, of.spot, of.remedy)
        self.rim, self.lines = rim, lines


@remembered
def plan(data: bytes, half: str, gap: float) -> Plan:
    """Unreadable for what is no drawing on a chart, Undrawn for lines that make no net."""
    sketch = _svgfile.read(data)
    sketch = replace(sketch, guides=recognised(sketch.guides, sketch.others))
    to_chart = PageToChart(sketch)
    rim = _rim(to_chart(sketch.guides[_svgfile.RIM]))
    lines = tuple(to_chart(stroke.points) for stroke in sketch.strokes)
    try:
        own, side = _half(lines, rim, half, gap)
        web = DrawnWeb(LineString(rim), own, gap)
        web.settle()
        edges = _in_order(web.edges, own)
        dots = tuple(_dots(sketch, to_chart, rim, side))
    except Misdrawn as error:
        raise Undrawn(error, rim, lines) from error
    names = tuple((words.text, to_chart(words.spots)) for words in sketch.words)
    halved = sum(edge.kind == MIDLINE for edge in web.edges)
    return Plan(rim, edges, 2 * len(web.faces()) - halved, names, dots)


class PageToChart:
    """From mm on the page to mm on the chart: x to the head, y to the wearer's left, from the crown."""

    def __init__(self, sketch: Sketch) -> None:
        missing = [name for name in _svgfile.KNOWN if name not in sketch.guides]
        if missing:
            what = f"{' and '.join(missing)} in its layer" if sketch.guides or sketch.others else "the layer"
            raise Unreadable(
                f"it misses {what} {_svgfile.GUIDES}, by which lines are placed on the dome",
                "Draw on the chart that shellgen chart writes, or copy that layer into this file, together with the "
                "lines, so that both keep their place and size. You may hide it.",
            )
        circle, middle = sketch.guides[_svgfile.CROWN], sketch.guides[_svgfile.MIDDLE]
        size, along = np.ptp(circle, axis=0).mean(), middle[0] - middle[-1]
        if size <= 0 or np.hypot(*along) <= 0:
            raise Unreadable(f"{_svgfile.CROWN} or {_svgfile.MIDDLE} in its layer {_svgfile.GUIDES} has no size")
        self.crown = (circle.min(axis=0) + circle.max(axis=0)) / 2
        self.head = along / np.hypot(*along)
        self.scale = CROWN_SIZE / float(size)
        self.scale = 1.0 if abs(self.scale - 1) < 2e-3 else self.scale  # rounded figures

    def __call__(self, points: Floats) -> Floats:
        away = self.scale * (points - self.crown)
        left = np.array([self.head[1], -self.head[0]])
        aside = away @ left
        return np.column_stack([away @ self.head, np.where(np.abs(aside) < ROUNDED, 0.0, aside)])


def _rim(points: Floats) -> Floats:
    """The left half of the rim, from head to tail, its ends on the midline."""
    points = points[np.concatenate([[True], np.abs(np.diff(points, axis=0)).max(axis=1) > 1e-6])]
    left = points[points[:, 1] > 0.05]
    bearing = np.arctan2(left[:, 1], left[:, 0])
    order = np.argsort(bearing, kind="stable")
    ends = points[np.abs(points[:, 1]) <= 0.05]
    if len(left) < 8 or not len(ends) or not ends[:, 0].max() > 0 > ends[:, 0].min():
        raise Unreadable(f"{_svgfile.RIM} in its layer {_svgfile.GUIDES} is not the outline of a chart any more")
    head, tail = ends[:, 0].max(), ends[:, 0].min()
    ring = np.concatenate([[[head, 0.0]], left[order], [[tail, 0.0]]])
    if not shapely.Polygon(ring).is_valid or np.diff(np.arctan2(ring[:, 1], ring[:, 0])).min() <= 0:
        raise Unreadable(f"{_svgfile.RIM} in its layer {_svgfile.GUIDES} is not the outline of a chart any more")
    return np.asarray(np.round(ring, 4))


def _half(lines: tuple[Floats, ...], rim: Floats, half: str, gap: float) -> tuple[list[LineString], str]:
    """The lines of the half that counts, as on the left, cut at rim and midline; and which half that is."""
    drawn = [LineString(line) for line in lines if np.ptp(line, axis=0).max() > 0]
    region = shapely.Polygon(rim)
    outside = shapely.union_all([region, shapely.Polygon(rim * FLIP)]).buffer(gap)
    for line in drawn:
        if not line.intersects(outside):
            raise Misdrawn("a line lies outside the rim", line.coords[0], "Move it inside, or erase it.")
    _crossing_outside([shapely.difference(line, outside) for line in drawn])
    mirrored = [shapely.transform(line, lambda p: p * FLIP) for line in drawn]
    left, right = (_cut(_led_along(own, rim, gap), region) for own in (drawn, mirrored))
    if half == AUTO:
        whole = [sum(line.length for line in own if line.bounds[3] > gap) for own in (left, right)]
        if min(whole) > SPILL * max(whole):
            _same(left, right, rim, gap)
        half = RIGHT if whole[0] <= SPILL * whole[1] and whole[1] else LEFT
    return (left if half == LEFT else right), half


def _in_order(edges: list[WebEdge], drawn: list[LineString]) -> tuple[WebEdge, ...]:
    """The midline and the rim from head to tail, then the lines in the order and direction in which they were drawn: so
    a small change of the drawing leaves all else as it is, the search for seams too."""
    tree = shapely.STRtree(drawn)
    found = []
    for edge in edges:
        if edge.kind != PLATE:
            flip = edge.points[0, 0] < edge.points[-1, 0]
            key = (0 if edge.kind == MIDLINE else 1, 0, -float(edge.points[:, 0].max()))
        else:
            start, middle, end = (
                shapely.Point(p) for p in at_arc_length(edge.points, edge.length * np.array([0.4, 0.5, 0.6]))
            )
            of = int(tree.nearest(middle))
            flip = drawn[of].project(start) > drawn[of].project(end)
            key = (2, of, float(drawn[of].project(middle)))
        found.append((key, WebEdge(edge.points[::-1], edge.kind) if flip else edge))
    return tuple(edge for _, edge in sorted(found, key=lambda pair: pair[0]))


def _cut(lines: list[LineString], region: shapely.Polygon) -> list[LineString]:
    parts = [part for line in lines for part in shapely.get_parts(line.intersection(region))]
    return [line for line in parts if line.geom_type == "LineString" and line.length > 0.01]


def _led_along(lines: list[LineString], rim: Floats, gap: float) -> list[LineString]:
    """The lines without what runs along the rim, which is a line anyway, and with what runs along the midline laid on
    it: how far, is a matter of LONG gaps, so that lines that only end there stay as they are."""
    border, middle = LineString(rim).buffer(gap / 2), LineString(rim[[0, -1]]).buffer(gap / 2)
    found = []
    for line in lines:
        rest = line
        for band, laid in ((border, False), (middle, True)):
            for part in shapely.get_parts(line.intersection(band)):
                if part.geom_type == "LineString" and part.length > LONG * gap and part.within(band.buffer(1e-6)):
                    rest = rest.difference(part.buffer(1e-6, cap_style="flat"))
                    if laid:
                        ends = np.sort(shapely.get_coordinates(part)[:, 0])[[0, -1]]
                        found.append(LineString([(x, 0.0) for x in ends]))
        found += [part for part in shapely.get_parts(rest) if part.geom_type == "LineString" and part.length > 0.01]
    return found


def _crossing_outside(parts: list[shapely.Geometry]) -> None:
    found = np.array([part for part in parts if not part.is_empty], object)
    first, second = shapely.STRtree(found).query(found, predicate="intersects")
    for i, k in zip(first.tolist(), second.tolist(), strict=True):
        if i < k:
            spot = shapely.get_coordinates(shapely.intersection(found[i], found[k]))[0]
            raise Misdrawn("two lines cross outside the rim", spot, "End them at the rim.")


def _same(left: list[LineString], right: list[LineString], rim: Floats, gap: float) -> None:
    """Misdrawn unless the halves are mirror images of each other."""
    border = LineString([*rim, rim[0]])
    whole = [shapely.union_all(own) for own in (left, right)]
    for own, other, side in ((left, whole[1], 1), (right, whole[0], -1)):
        spots = shapely.get_coordinates(shapely.segmentize(own, 2.0))
        away = shapely.distance(shapely.points(spots), shapely.union_all([other, border]))
        if away.max() > gap:
            spot = spots[away.argmax()] * (1, side)
            raise Misdrawn(
                f"the two halves differ by {away.max():.0f} mm here, and a shell is its own mirror image", spot,
                "Write half: left or half: right below plates for the half to mirror.",
            )  # fmt: skip


def _dots(sketch: Sketch, to_chart: PageToChart, rim: Floats, side: str) -> list[Dot]:
    """The circles for spikes as on the left half, without the other half's images of them."""
    region, found = shapely.Polygon(rim).buffer(1e-6), list[Dot]()
    for stroke in sketch.dots:
        at, size = _circle(stroke, to_chart)
        if (at[1] if side == LEFT else -at[1]) < -0.25 * size:
            continue  # mirrored from the half that counts
        at = np.array([at[0], 0.0 if abs(at[1]) < 0.25 * size else abs(at[1])])
        if not region.contains(shapely.Point(at)):
            raise Misdrawn("a circle for a spike lies outside the rim", at, "Move it inside, or erase it.")
        if not DOT[0] <= size <= DOT[1]:
            problem = f"a circle for a spike is {size:.1f} mm across, and {DOT[0]:g} to {DOT[1]:g} mm are allowed"
            raise Misdrawn(problem, at, "Draw another.")
        if len(found) == MOST:
            raise Misdrawn(f"there are more than {MOST} circles for spikes", at, "Erase some.")
        if all(np.hypot(*(at - dot.at)) > 1.0 for dot in found):  # drawn twice
            found.append(Dot(at, size, re.sub(r"[_\- ]?\d+_?$", "", stroke.layers[-1]) or stroke.layers[-1]))
    return found


def _circle(stroke: Stroke, to_chart: PageToChart) -> tuple[Floats, float]:
    """Centre and size of an outline: that of a circle of the same area."""
    outline = to_chart(stroke.points)
    area = shapely.Polygon(outline) if len(outline) > 3 else shapely.Polygon()
    if not area.is_valid or area.area < 0.1:
        raise Misdrawn("a line in a layer for spikes encloses nothing", outline[0], "Draw circles there.")
    return shapely.get_coordinates(area.centroid)[0], 2 * float(np.sqrt(area.area / np.pi))
