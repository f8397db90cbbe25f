"""Sections for the guide: the foam strip round a spike, and the bevel stock on the rim, with their sizes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from shellgen.canvas import Colour, Drawing, Path, Text
from shellgen.canvas.lettering import wrapped
from shellgen.canvas.rule import Rule
from shellgen.core.arrays import Floats
from shellgen.model import SpikeShape
from shellgen.spikes import body
from shellgen.trim import bevel, edging, rings

ACROSS, FIELD, COLUMN, EDGE = 86.0, 42.0, 37.0, 2.0
"""mm: width of a picture, of the section in it and of the words next to it, and its border (chosen: half a page)."""
TALL = 44.0
"""mm that a section is high at most (chosen)."""
LARGEST = 3.0
"""Times its true size at most (chosen)."""
HEIGHT, ROW, APART = 2.5, 4.3, 1.6
"""mm: height of lettering (ISO 3098), from line to line, and between words for different things."""
FOAM, STRIP, SPIKE = (222, 228, 225), (168, 182, 176), (236, 227, 200)
"""Fills that stay apart in black and white (chosen)."""
ARROW = 1.6
Point = tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Called:
    """Words for a place in a section; with `to`, for the distance from there."""

    words: str
    at: Point
    to: Point | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Solids:
    """Filled outlines (n, 2) mm in drawing order; what lies beyond the window (low, high) is broken off."""

    parts: tuple[tuple[Floats, Colour], ...]
    low: Floats
    high: Floats
    scale: float

    def move(self, points: Floats | Point) -> Floats:
        return EDGE + self.scale * (np.asarray(points, float) - self.low)


def ring_section(how: rings.Params, shape: SpikeShape, foam: float, rule: Rule) -> Drawing:
    """One side of a spike with the strip at its foot. foam : thickness of the shell's"""
    side = _side(shape)
    foot, lean = side[0, 0], np.array([0.0, 1.0])
    if how.lies == "flank":
        lean = (side[1] - side[0]) / np.hypot(*(side[1] - side[0]))
    out = np.array([lean[1], -lean[0]])
    cut = how.chamfer if how.chamfer < how.width else 0.0
    over = min(cut, how.thickness)
    thick, uncut = how.thickness, how.width - cut
    rows = ((0, 0), (thick, 0), (thick, uncut), (thick - over, uncut + over), (0, uncut + over))
    strip = np.array([side[0] + a * out + b * lean for a, b in rows])
    scale = min(LARGEST, 16.0 / np.ptp(strip[:, 0]), TALL / (foam + 1.7 * how.width))
    left, gap = strip[:, 0].min() - 15.0 / scale, 3.0 / scale
    right = left + FIELD / scale
    slab = np.array([(left - foam, -foam), (right + foam, -foam), (right + foam, 0.0), (left - foam, 0.0)])
    whole = np.vstack([side, side[::-1] * (-1, 1)])
    solids = Solids(
        ((slab, FOAM), (whole, SPIKE), (strip, STRIP)),
        np.array([left, -foam - gap / 3]), np.array([right, max(1.7 * how.width, strip[:, 1].max() + 2 * gap)]), scale,
    )  # fmt: skip
    top, next_to = strip[4] + gap * lean, strip[1] + gap * out
    called = [
        Called(f"strip, {_size(how.thickness, rule)} thick", tuple(top), tuple(top + how.thickness * out)),
        Called(f"{_size(how.width, rule)} high", tuple(next_to), tuple(next_to + how.width * lean)),
        Called(f"foam of the shell, {_size(foam, rule)}", (foot + how.thickness, -foam / 2)),
    ]
    if cut:
        called.append(Called(f"chamfer, {_size(how.chamfer, rule)} at 45°", tuple((strip[2] + strip[3]) / 2)))
    named = (("spike", (left + 1.5 / scale, 1.5 / scale)),)
    return _drawing("ring-section", solids, called, named, "section through the strip around a spike")


def _size(value: float, rule: Rule) -> str:
    return rule.mm(round(value, 1), None)


def _side(shape: SpikeShape) -> Floats:
    """(n, 2) mm: the side of a spike from its foot up, across the line to which it bends: out from its middle, and up
    from the foam."""
    of = body.make(shape)
    points = of.points(np.unique(np.concatenate([of.rows, [0.0, of.length]])), np.array(np.pi / 2))
    return np.column_stack([points[:, 1], points[:, 2]])


def edging_section(how: edging.Params, foam: float, rule: Rule) -> Drawing:
    """The rim's edge with the bevel stock on it, the outer face up. foam : thickness of the shell's"""
    across, out = bevel.section(how).T
    stock = np.column_stack([out, across])
    half = max(how.width, foam) / 2
    scale = min(LARGEST, TALL / (2 * half), (FIELD - 24.0) / how.thickness)
    left, gap = how.thickness + 4.0 / scale - FIELD / scale, 3.0 / scale
    slab = np.array([(left - foam, -foam / 2), (0.0, -foam / 2), (0.0, foam / 2), (left - foam, foam / 2)])
    below, top = -half - gap, max(half, foam / 2 + (HEIGHT + 2.0) / scale)
    solids = Solids(
        ((slab, FOAM), (stock, STRIP)), np.array([left, below - gap]), np.array([left + FIELD / scale, top]), scale
    )
    called = [
        Called(f"edging, {_size(how.width, rule)} wide", (how.thickness + gap, how.width / 2),
               (how.thickness + gap, -how.width / 2)),
        Called(f"{_size(how.thickness, rule)} thick", (0.0, below), (how.thickness, below)),
        Called(f"foam of the shell, {_size(foam, rule)}", (-9.0 / scale, -0.3 * min(foam, how.width))),
    ]  # fmt: skip
    over = (how.width - foam) / 2
    if round(over, 1):
        what = "overhang" if over > 0 else "foam stands out"
        called.append(Called(f"{what}, {_size(abs(over), rule)} on each side", (-gap, foam / 2), (-gap, how.width / 2)))
    named = (("outside", (left, foam / 2 + 1.0 / scale)), ("inside", (left, -foam / 2 - (HEIGHT + 1.0) / scale)))
    return _drawing("edging-section", solids, called, named, "section through the edging of the rim")


def _drawing(
    name: str, solids: Solids, called: Sequence[Called], named: Sequence[tuple[str, Point]], title: str
) -> Drawing:
    """named : words in the section itself"""
    window, frame = shapely.box(*solids.low, *solids.high), 1e-6
    items: list[Path | Text] = []
    for outline, fill in solids.parts:
        seen = shapely.intersection(shapely.polygons(outline), window)
        for part in shapely.get_parts(seen):
            items.append(Path(solids.move(shapely.get_coordinates(part)[:-1]), "fill", closed=True, fill=fill))
        edge = shapely.intersection(shapely.linearrings(outline), shapely.buffer(window, -frame))
        merged = shapely.line_merge(edge) if edge.geom_type == "MultiLineString" else edge
        items += [Path(solids.move(shapely.get_coordinates(line)), "cut") for line in shapely.get_parts(merged)]
    for word, at in named:
        x, y = solids.move(at).tolist()
        items.append(Text(word, (x, y), HEIGHT, layer="note"))
    high = float(solids.move(solids.high)[1])
    words, top = _words(solids, called, high)
    return Drawing(name, ACROSS, top + EDGE, (*items, *words), title)


def _words(solids: Solids, called: Sequence[Called], high: float) -> tuple[list[Path | Text], float]:
    """The words in a column on the right, each with a line to its place, and the height of the sheet."""
    x = ACROSS - EDGE - COLUMN
    spots = [solids.move(one.at) for one in called]
    for k, one in enumerate(called):
        if one.to is not None:
            spots[k] = (spots[k] + solids.move(one.to)) / 2
    order = sorted(range(len(called)), key=lambda k: (-spots[k][1], spots[k][0]))
    lines = [wrapped(called[k].words, COLUMN, HEIGHT) for k in order]
    tall = [ROW * len(of) + APART for of in lines]
    room = max(high - EDGE, sum(tall))
    items: list[Path | Text] = []
    top = EDGE + room
    for n, k in enumerate(order):
        wanted = spots[k][1] + tall[n] / 2
        top = max(min(top, wanted), EDGE + sum(tall[n:]))
        items += _leader(solids, called[k], spots[k], (x - 1.5, top - tall[n] / 2))
        for line in lines[n]:
            items.append(Text(line, (x, top - APART / 2 - HEIGHT), HEIGHT, layer="note"))
            top -= ROW
        top -= APART
    return items, EDGE + room


def _leader(solids: Solids, one: Called, spot: Floats, end: Point) -> list[Path | Text]:
    """A line from the words to their place: to a dot, or to the middle of a distance between two arrows."""
    line = Path(np.array([spot, end]), "note")
    if one.to is None:
        return [line, _dot(spot)]
    a, b = solids.move(one.at), solids.move(one.to)
    ahead = (b - a) / np.hypot(*(b - a))
    barb = np.array([-ahead[1], ahead[0]]) * ARROW / 3
    heads = [Path(np.array([tip + ARROW * way + barb, tip, tip + ARROW * way - barb]), "note")
             for tip, way in ((a, ahead), (b, -ahead))]  # fmt: skip
    return [Path(np.array([a, b]), "note"), *heads, line]


def _dot(at: Floats) -> Path:
    turn = np.linspace(0, 2 * np.pi, 12, endpoint=False)
    return Path(at + 0.5 * np.column_stack([np.cos(turn), np.sin(turn)]), "note", closed=True, fill=(23, 41, 43))
