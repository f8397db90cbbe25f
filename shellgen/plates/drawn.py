"""Plates between the lines of a drawing: an SVG file, drawn with any program on the chart of the dome.

The command chart writes that chart. Lines may be paths and shapes of every kind. Whole or only the left half; ends that
nearly meet are joined, what reaches too far is trimmed. A word inside a plate is its name. The drawing is laid on the
dome rim to rim, so it follows a dome of another size or shape.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import shapely

from shellgen.canvas import Drawing, Path, Text
from shellgen.canvas.lettering import wrapped
from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError, PresetError
from shellgen.fields import params as field
from shellgen.fields.values import slug_of
from shellgen.geom.equidistant_chart import EquidistantChart, chart
from shellgen.model import Layout, SpikePlace, Surface
from shellgen.plates import _curves as curves
from shellgen.plates import _drawing, _svgfile
from shellgen.plates._drawing import AUTO, LEFT, RIGHT, Plan, Undrawn
from shellgen.plates._net import RIM, Arc, Chain, HalfNet, PlateLabel, assemble, faces, outline
from shellgen.plates._noding import Misdrawn
from shellgen.plates._sketch import Unreadable

STEP = 3.0
"""mm between the points of a line. Chosen: the chord of an arc of 60 mm radius then deviates by 0.02 mm."""
MOST = 9999
DRAWN = "drawn"
"""The word that stands for every circle in a layer for spikes."""
MARGIN, MARK = 15.0, 6.0
"""mm around a picture of a mistake, and radius of the ring around the spot."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    file: field.File = field.file(
        field.REQUIRED, (".svg",), _svgfile.LARGEST, "The drawing: an SVG file, drawn on the chart of the dome."
    )
    half: str = field.choice(
        AUTO, (AUTO, LEFT, RIGHT), "The half that is mirrored; auto takes both if they are mirror images."
    )
    gap: float = field.length(
        3.0, 0.2, 10, "Ends that miss a line by less are joined to it; shorter stubs are cut off."
    )


def expected(params: Params, area: float) -> float:
    """How many plates the drawing has, whatever the dome's area."""
    return _plan(params).plates


def build(surface: Surface, params: Params) -> Layout:
    """The layout. PresetError for a drawing that cannot be read or makes no plates, with a picture of the place."""
    plan = _plan(params)
    laid = _ChartToDome(chart(surface), plan.rim)
    half = _net(surface, laid, plan)
    try:
        found = faces(half)
        return _with_spots(assemble(half, _named(half, found, laid, plan)), laid, plan)
    except (Misdrawn, GeometryError) as error:
        drawn = error if isinstance(error, Misdrawn) else _tangled(half, plan)
        raise _shown(params, Undrawn(drawn, plan.rim, tuple(edge.points for edge in plan.edges))) from error


def _tangled(half: HalfNet, plan: Plan) -> Misdrawn:
    """Where lines come so close to each other that they cross on the dome."""
    lines = [shapely.LineString(arc.uv) for arc in half.arcs]
    pairs = shapely.STRtree(lines).query(lines, predicate="crosses").T.tolist()
    first = next((i for i, line in enumerate(lines) if not line.is_simple), pairs[0][0] if pairs else 0)
    middle = plan.edges[first].points[len(plan.edges[first].points) // 2]
    return Misdrawn("a line comes too close to itself or to another on the dome", middle, "Draw them further apart.")


def _plan(params: Params) -> Plan:
    try:
        data = params.file.path.read_bytes()
        return _drawing.plan(data, params.half, params.gap)
    except OSError as error:
        raise _refused(error.strerror or "it cannot be opened", "Look for the file.") from error
    except Unreadable as error:
        raise _refused(str(error), error.remedy) from error
    except Undrawn as error:
        raise _shown(params, error) from error


def _refused(reason: str, remedy: str) -> PresetError:
    return PresetError("plates.file", f"The drawing cannot be used: {reason}.", remedy)


def _shown(params: Params, error: Undrawn) -> PresetError:
    """The error, with its place in words and as a picture for the drawing's folder."""
    problem = f"{params.file.written}: {error.problem}, {place(error.spot)}."
    picture = (params.file.path.with_name(f"{params.file.path.stem}-problem.svg"), _picture(error))
    return PresetError("plates.file", problem, error.remedy or "Correct the drawing there.", picture=picture)


def place(spot: Floats) -> str:
    """A place on the chart as one measures it there: "120 mm ahead of the crown and 45 mm left of the midline"."""
    along, aside = (round(float(n)) for n in spot)
    way = f"{abs(along)} mm {'ahead of' if along > 0 else 'behind'} the crown" if along else "level with the crown"
    side = f"{abs(aside)} mm {'left' if aside > 0 else 'right'} of the midline" if aside else "on the midline"
    return f"{way} and {side} on the chart"


def _picture(error: Undrawn) -> Drawing:
    """The drawing on the outline of its chart, head up, the spot ringed."""
    mirrored = any(line[:, 1].min() < -0.1 * error.rim[:, 1].max() for line in error.lines) or error.spot[1] < 0
    rim = np.concatenate([error.rim, error.rim[::-1] * (1, -1)]) if mirrored else error.rim
    turn = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    ring = error.spot + MARK * np.column_stack([np.cos(turn), np.sin(turn)])
    every = np.concatenate([rim, ring, *error.lines])
    low = np.array([-every[:, 1].max(), every[:, 0].min()]) - MARGIN
    high = np.array([-every[:, 1].min(), every[:, 0].max()]) + MARGIN

    def page(points: Floats) -> Floats:
        return np.column_stack([-points[:, 1], points[:, 0]]) - low

    width, height = (high - low).tolist()
    paths = [Path(page(rim), "guide", closed=True), *(Path(page(line), "cut") for line in error.lines)]
    marks = [Path(page(error.spot + k * (ring - error.spot)), "score", closed=True) for k in (1.0, 0.9, 0.8)]
    said = f"{error.problem}, {place(error.spot)}"
    lines = wrapped(said, width - MARGIN, 5.0)
    words = [Text(line, (MARGIN / 2, height + 8.0 * k), 5.0, layer="note") for k, line in enumerate(lines[::-1])]
    return Drawing("problem", width, height + 8.0 * len(lines), (*paths, *marks, *words), said)


class _ChartToDome:
    """From a drawing's chart to the dome, by shares of the way from crown to rim: its own rim becomes the dome's."""

    def __init__(self, of: EquidistantChart, rim: Floats) -> None:
        self.chart, self.rim = of, rim
        self.bearing = np.arctan2(rim[:, 1], rim[:, 0])

    def __call__(self, xy: Floats) -> Floats:
        """(n, 2) uv of points of the left half."""
        bearing = np.arctan2(xy[:, 1], xy[:, 0])
        first = np.clip(np.searchsorted(self.bearing, bearing, side="right") - 1, 0, len(self.rim) - 2)
        step = self.rim[first + 1] - self.rim[first]
        own = (self.rim[first, 0] * step[:, 1] - self.rim[first, 1] * step[:, 0]) / (
            np.cos(bearing) * step[:, 1] - np.sin(bearing) * step[:, 0]
        )
        return self.chart.uv(xy * (self.chart.rim(bearing) / own)[:, None])


def _net(surface: Surface, laid: _ChartToDome, plan: Plan) -> HalfNet:
    """The lines on the dome."""
    ends = list(dict.fromkeys(key for edge in plan.edges for key in (edge.start, edge.end)))
    number = {key: i for i, key in enumerate(ends)}
    nodes = laid(np.array(ends))
    on_rim = {key for edge in plan.edges if edge.kind == RIM for key in (edge.start, edge.end)}
    for key, i in number.items():
        if key in on_rim:
            nodes[i] /= np.hypot(*nodes[i])
        if key[1] == 0:
            nodes[i] = np.sign(nodes[i, 0]) if key in on_rim else nodes[i, 0], 0.0
    arcs = []
    for edge in plan.edges:
        a, b = number[edge.start], number[edge.end]
        if edge.kind == RIM:
            uv = curves.along_rim(surface, nodes[a], nodes[b])
        elif not edge.points[:, 1].any():
            uv = curves.along_middle(surface, nodes[a], nodes[b])
        else:
            line = shapely.segmentize(shapely.simplify(shapely.LineString(edge.points), 0.01), STEP)
            uv = laid(shapely.get_coordinates(line))
            uv[:, 1] = np.maximum(uv[:, 1], 0)
            uv[0], uv[-1] = nodes[a], nodes[b]
        arcs.append(Arc(a, b, uv, edge.kind))
    return HalfNet(nodes, tuple(arcs))


def _named(half: HalfNet, found: tuple[Chain, ...], laid: _ChartToDome, plan: Plan) -> list[tuple[PlateLabel, Chain]]:
    """Each face with its name: the word that is written in it, or "plate" with a number. First those with words, in the
    order in which these stand in the file, so that a chart keeps the order of its plates; then from head to tail."""
    shapes = shapely.polygons([shapely.linearrings(outline(face, half.arcs)) for face in found])
    words: dict[int, tuple[str, int]] = {}
    tree = shapely.STRtree(shapes)
    for text, spots in plan.names:
        uv = laid(np.column_stack([spots[:, 0], np.abs(spots[:, 1])]))
        inside = np.hypot(*uv.T) < 1 - 1e-9
        uv[:, 1] = np.maximum(uv[:, 1], 1e-6)  # a name on the midline lies in a half plate
        hit = [int(k) for spot in uv[inside] for k in tree.query(shapely.Point(spot), predicate="within")[:1]]
        if hit:
            label = _label(text, spots[0])
            if words.setdefault(hit[0], label) != label:
                raise Misdrawn(f"a plate has two names, one of them {text!r}", spots[0], "Erase one.")
    centre = shapely.get_coordinates(shapely.centroid(shapes))
    place = sorted(range(len(found)), key=lambda i: (-round(centre[i, 0], 3), centre[i, 1]))
    named = _numbered(place, words, centre)
    return [(named[i], found[i]) for i in (*words, *(i for i in place if i not in words))]


def _numbered(order: list[int], words: dict[int, tuple[str, int]], centre: Floats) -> dict[int, PlateLabel]:
    """Names with a number keep it; of several without one, each gets the next that is free."""
    kinds = {i: words.get(i, ("plate", 0)) for i in order}
    taken: dict[tuple[str, int], int] = {}
    for i in order:
        kind, number = kinds[i]
        if number and taken.setdefault((kind, number), i) != i:
            raise Misdrawn(f"two plates are named {kind} {number}", centre[i], "Give one another number.")
    alone = {kind for kind, _ in kinds.values() if sum(k == kind for k, _ in kinds.values()) == 1}
    named = {}
    for i in order:
        kind, number = kinds[i]
        if not number and (kind not in alone or kind == "plate"):
            number = next(n for n in range(1, MOST + 1) if (kind, n) not in taken)
            taken[kind, number] = i
        named[i] = PlateLabel(kind, number)
    return named


def _label(text: str, spot: Floats) -> tuple[str, int]:
    """Kind and number of a name: "Pleural 2" is pleural and 2."""
    plain = re.sub(r"-[lrc](?=-|$)", "", slug_of(text))
    found = re.fullmatch(r"([a-z].*?)(?:-?([1-9]\d{0,3}))?", plain)
    if found is None or found[1] in ("all", DRAWN) or found[1].startswith(_svgfile.SPIKES) or len(plain) > 40:
        raise Misdrawn(f"{text!r} cannot name a plate", spot, "Use a word of letters, and a number if you like.")
    return found[1], int(found[2] or 0)


def _with_spots(layout: Layout, laid: _ChartToDome, plan: Plan) -> Layout:
    """The layout with the places that the circles mark, each with its mirror image."""
    if not plan.dots:
        return layout
    uv = laid(np.array([dot.at for dot in plan.dots]))
    grown = float((laid.chart.rim(laid.bearing) / np.hypot(*laid.rim.T)).mean())
    spots = []
    for dot, at in zip(plan.dots, uv, strict=True):
        spots += [
            SpikePlace(at * side, round(grown * dot.size, 1), dot.layer)
            for side in ((1, 1), (1, -1))[: 2 if at[1] else 1]
        ]
    return Layout(layout.nodes, layout.lines, layout.cells, layout.plates, layout.cell_plate, tuple(spots))
