"""Reads what drawing programs save as SVG: every shape as a polyline in mm on the page, with the layers it lies in.

References: Scalable Vector Graphics (SVG) 2, W3C: coordinate systems, basic shapes, paths. Layers are groups: their
names are taken from `id`, and from the label that drawing programs write beside it.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from math import hypot, isfinite
from typing import Any

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.plates import _svgtree
from shellgen.plates._sketch import Sketch, Stroke, Unreadable, Words
from shellgen.plates._svgtree import SvgElement

LARGEST = 2_000_000
"""Bytes. Chosen: an evening of freehand lines is a tenth of it."""
SHAPES, FIGURES, VISITS = 3000, 60_000, 20_000
"""Most shapes, figures in their outlines and elements looked at, copies counted too. Chosen: they take some seconds."""
FARTHEST = 5000.0
"""mm from the page's corner. Chosen: the largest page that every viewer takes."""
FLAT = 0.02
"""mm by which a polyline may leave its curve. Chosen: a tenth of what the lines must keep to."""
GUIDES, SPIKES = "guides", "spikes"
RIM, MIDDLE, CROWN = "chart-rim", "chart-middle", "chart-crown"
"""Names of the chart's own lines, by which a drawing is laid back on the dome."""

UNITS = {"": 1.0, "px": 1.0, "mm": 96 / 25.4, "cm": 960 / 25.4, "in": 96.0, "pt": 4 / 3, "pc": 16.0, "q": 24 / 25.4,
         "em": 16.0, "ex": 8.0}  # fmt: skip
"""px, of which 96 are an inch (CSS Values and Units 4, section 6.2); em and ex of the usual 16 px."""
PX = 25.4 / 96
_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_LENGTH = re.compile(rf"\s*({_NUMBER.pattern})\s*([a-zA-Z]*|%)\s*")
_CLASS = re.compile(r"((?:\.[\w-]+\s*,?\s*)+)\{([^}]*)\}")
_LABELS = ("id", "inkscape:label", "data-name", "label")
_SHAPES = ("path", "line", "polyline", "polygon", "rect", "circle", "ellipse")
_DRAWN = ("g", "a", "switch", "svg", "symbol")


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """Where an element stands. move : (3, 3) to px of the page; size : of the viewport, for shares of it; copies : how
    many copies it is a part of"""

    move: Floats
    size: tuple[float, float]
    layers: tuple[str, ...]
    style: Mapping[str, str]
    copies: int = 0


def read(data: bytes) -> Sketch:
    """The drawing in a file. Unreadable for what is not sound, or too large."""
    if len(data) > LARGEST:
        raise Unreadable(f"it has {len(data)} bytes; {LARGEST} are allowed")
    return _Reader(_svgtree.parse(data)).sketch()


class _Reader:
    def __init__(self, root: SvgElement) -> None:
        self.root = root
        self.named = {e.attributes["id"]: e for e in _all(root) if "id" in e.attributes}
        self.classes: dict[str, str] = {}
        for style in (e for e in _all(root) if e.name == "style"):
            for names, rules in _CLASS.findall(style.text):
                for name in re.findall(r"[\w-]+", names):
                    self.classes[name] = f"{self.classes.get(name, '')};{rules}"
        self.strokes: list[Stroke] = []
        self.dots: list[Stroke] = []
        self.words: list[Words] = []
        self.guides: dict[str, Floats] = {}
        self.shapes = self.figures = self.visits = 0

    def sketch(self) -> Sketch:
        size, move = _viewport(self.root)
        place = _Place(move, size, (), {})
        for child in self.root.children:
            self._visit(child, place)
        page = (size[0] * abs(move[0, 0]) * PX, size[1] * abs(move[1, 1]) * PX)
        return Sketch(tuple(self.strokes), tuple(self.dots), tuple(self.words), self.guides, page)

    def _visit(self, element: SvgElement, outer: _Place) -> None:
        self.visits += 1
        if self.visits > VISITS:
            raise Unreadable(f"it has more than {VISITS} shapes, groups and copies")
        if element.name not in (*_DRAWN, *_SHAPES, "use", "text"):
            return
        place = self._within(element, outer)
        if place.style.get("display") == "none" or place.style.get("visibility") in ("hidden", "collapse"):
            return
        if element.name == "use":
            self._copy(element, place)
        elif element.name in _DRAWN:
            for child in element.children:
                self._visit(child, place)
        elif element.name == "text":
            if not _in(place.layers, GUIDES):
                self._text(element, place)
        else:
            self._shape(element, place)

    def _within(self, element: SvgElement, outer: _Place) -> _Place:
        own = element.attributes
        style = {**outer.style, **{k: v for k, v in own.items() if k in ("display", "visibility", "font-size",
                                                                         "text-anchor")}}  # fmt: skip
        texts = [self.classes.get(name, "") for name in own.get("class", "").split()]
        for rule in ";".join([*texts, own.get("style", "")]).split(";"):
            key, _, value = rule.partition(":")
            style[key.strip().lower()] = value.strip().lower()
        with np.errstate(all="ignore"):
            move = outer.move @ _matrix(own.get("transform", ""), element.line)
        names = tuple(own[label].strip().lower() for label in _LABELS if label in own)
        if element.name == "svg":
            x, y = (_length(own.get(k, "0"), size, element) for k, size in zip("xy", outer.size, strict=True))
            size, inner = _viewport(element, outer.size)
            return replace(outer, move=move @ _shift(x, y) @ inner, size=size, layers=outer.layers + names, style=style)
        return replace(outer, move=move, layers=outer.layers + names, style=style)

    def _copy(self, element: SvgElement, place: _Place) -> None:
        name = element.attributes.get("href", element.attributes.get("xlink:href", ""))
        if not name.startswith("#"):
            raise Unreadable(f"line {element.line}: it refers to another file, which is never opened")
        if place.copies >= 8:
            raise Unreadable(f"line {element.line}: it copies copies of copies")
        if (original := self.named.get(name[1:])) is not None:
            x, y = (_length(element.attributes.get(k, "0"), place.size[i], element) for i, k in enumerate("xy"))
            self._visit(original, replace(place, move=place.move @ _shift(x, y), copies=place.copies + 1))

    def _shape(self, element: SvgElement, place: _Place) -> None:
        own = element.attributes
        guide = own.get("id", "") if _in(place.layers, GUIDES) else ""
        if _in(place.layers, GUIDES) and guide not in (RIM, MIDDLE, CROWN):
            return
        self.shapes += 1
        text = own.get("d", "") + own.get("points", "")
        self.figures += len(_NUMBER.findall(text)) + 8
        if self.shapes > SHAPES or self.figures > FIGURES:
            raise Unreadable(f"it has more than {SHAPES} shapes, or more than {FIGURES} figures in their outlines")
        lines = [line for line in _polylines(element, place) if len(line) > 1]
        if guide:
            for line in lines:
                self.guides[guide] = line
        elif layer := [name for name in place.layers if name.startswith(SPIKES)]:
            self.dots += [Stroke(line, element.line, (layer[-1],)) for line in lines]
        else:
            self.strokes += [Stroke(line, element.line, place.layers) for line in lines]

    def _text(self, element: SvgElement, place: _Place, at: tuple[str, str] = ("0", "0")) -> None:
        """One Words for each part that has a place of its own: drawing programs write lines of text so."""
        own = element.attributes
        at = own.get("x", at[0]), own.get("y", at[1])
        own_text = element.text
        for child in element.children:
            if child.name == "tspan":
                if {"x", "y"} & child.attributes.keys():
                    self._text(child, self._within(child, place), at)
                else:
                    own_text += child.text
            own_text += child.tail
        if not (words := " ".join(own_text.split())):
            return
        x, y = (_length(re.split(r"[\s,]+", part.strip())[0], place.size[i], element) for i, part in enumerate(at))
        height = _length(place.style.get("font-size", "16"), 16.0, element)
        share = {"middle": 0.0, "end": -0.5}.get(place.style.get("text-anchor", ""), 0.5)
        middle = x + share * 0.55 * height * len(words), y - 0.35 * height
        self.words.append(Words(words[:80], _moved(np.array([middle, (x, y)]), place.move, element), element.line))


def _all(element: SvgElement) -> Iterator[SvgElement]:
    yield element
    for child in element.children:
        yield from _all(child)


def _in(layers: tuple[str, ...], name: str) -> bool:
    return any(re.fullmatch(rf"{name}(?:[_\- ]?\d+_?)?", layer) for layer in layers)


def _viewport(element: SvgElement, outer: tuple[float, float] | None = None) -> tuple[tuple[float, float], Floats]:
    """The size of a viewport in its own units, and the way to the units outside (px on the page).

    References: SVG 2, section 8.2, The viewport; preserveAspectRatio, 8.5: the whole drawing in the middle, unless it
    is "none" or names an edge.
    """
    own = element.attributes
    box = [float(n) for n in _NUMBER.findall(own.get("viewBox", ""))]
    sides = outer or (box[2:] if len(box) == 4 else [300.0, 150.0])
    width, height = (
        _length(own.get(name, "100%"), side, element) for name, side in zip(("width", "height"), sides, strict=True)
    )
    if len(box) != 4:
        return (width, height), np.eye(3)
    if min(box[2:]) <= 0 or min(width, height) <= 0:
        raise Unreadable(f"line {element.line}: its page has no size")
    across, up = width / box[2], height / box[3]
    how = own.get("preserveAspectRatio", "xMidYMid")
    x = y = 0.0
    if not how.startswith("none"):
        scale = max(across, up) if "slice" in how else min(across, up)
        share = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
        x, y = (
            next((s for word, s in share.items() if axis + word in how), 0.5) * (size - scale * own_size)
            for axis, size, own_size in (("x", width, box[2]), ("Y", height, box[3]))
        )
        across = up = scale
    move = np.array([[across, 0, x - across * box[0]], [0, up, y - up * box[1]], [0, 0, 1]])
    return (box[2], box[3]), move


def _length(text: str, whole: float, element: SvgElement) -> float:
    """px; a share is one of `whole`."""
    found = _LENGTH.fullmatch(text)
    if found is None or found[2].lower() not in (*UNITS, "%"):
        raise Unreadable(f"line {element.line}: {text[:30]!r} is not a length")
    return float(found[1]) * (whole / 100 if found[2] == "%" else UNITS[found[2].lower()])


def _shift(x: float, y: float) -> Floats:
    return np.array([[1, 0, x], [0, 1, y], [0, 0, 1.0]])


def _matrix(text: str, line: int) -> Floats:
    if not text.strip():
        return np.eye(3)
    from svgpathtools.parser import parse_transform  # brings scipy.optimize and more, which takes a second

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return np.asarray(parse_transform(text), float)
    except Exception as error:
        raise Unreadable(f"line {line}: {text[:40]!r} is not a transform") from error


def _moved(points: Floats, move: Floats, element: SvgElement) -> Floats:
    """mm on the page."""
    with np.errstate(all="ignore"):
        moved = PX * (points @ move[:2, :2].T + move[:2, 2])
    if not np.isfinite(moved).all() or np.abs(moved).max(initial=0) > FARTHEST:
        raise Unreadable(f"line {element.line}: it reaches more than {FARTHEST:g} mm beyond its page")
    return np.asarray(moved, float)


def _polylines(element: SvgElement, place: _Place) -> Iterator[Floats]:
    """The outlines of a shape, (n, 2) mm on the page; a closed one ends where it begins."""
    text = _outline(element, place.size)
    from svgpathtools import parse_path

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            segments = list(parse_path(text))
    except Exception as error:
        raise Unreadable(f"line {element.line}: the outline of a shape is broken ({str(error)[:80]})") from error
    scale = PX * float(np.abs(place.move[:2, :2]).sum(axis=1).max())
    if not isfinite(scale):
        raise Unreadable(f"line {element.line}: a transform without a size")
    run: list[Floats] = []
    last = None
    for segment in segments:
        line = _flat(segment, scale)
        if last is not None and segment.start == last:
            run.append(line[1:])
        else:
            if run:
                yield _moved(np.concatenate(run), place.move, element)
            run = [line]
        last = segment.end
    if run:
        yield _moved(np.concatenate(run), place.move, element)


def _outline(element: SvgElement, size: tuple[float, float]) -> str:
    """The path data of a shape (SVG 2, section 10, with its equivalent paths)."""
    own = element.attributes
    if element.name == "path":
        return own.get("d", "")
    if element.name in ("polyline", "polygon"):
        figures = _NUMBER.findall(own.get("points", ""))
        return f"M {' '.join(figures[: len(figures) // 2 * 2])}{' Z' * (element.name == 'polygon')}" if figures else ""
    mean = hypot(*size) / 2**0.5
    axis = {"x": 0, "1": 0, "h": 1, "y": 1, "2": 1}

    def side(name: str) -> float:
        key = "x" if "x" in name or name == "width" else "y"
        return _length(own.get(name, "0"), mean if name == "r" else size[axis[key]], element)

    if element.name == "line":
        return f"M{side('x1')} {side('y1')} {side('x2')} {side('y2')}"
    if element.name == "rect":
        return _rectangle(side, own)
    x, y = side("cx"), side("cy")
    rx, ry = (side("r"),) * 2 if element.name == "circle" else (side("rx"), side("ry"))
    if min(rx, ry) <= 0:
        return ""
    return f"M{x - rx} {y}A{rx} {ry} 0 0 1 {x + rx} {y}A{rx} {ry} 0 0 1 {x - rx} {y}Z"


def _rectangle(side: Any, own: Mapping[str, str]) -> str:
    x, y, w, h = (side(name) for name in ("x", "y", "width", "height"))
    if min(w, h) <= 0:
        return ""
    rx = min(side("rx" if "rx" in own else "ry"), w / 2)
    ry = min(side("ry" if "ry" in own else "rx"), h / 2)
    if min(rx, ry) <= 0:
        return f"M{x} {y}h{w}v{h}h{-w}Z"
    turn = f"A{rx} {ry} 0 0 1"
    return (
        f"M{x + rx} {y}H{x + w - rx}{turn} {x + w} {y + ry}V{y + h - ry}{turn} {x + w - rx} {y + h}"
        f"H{x + rx}{turn} {x} {y + h - ry}V{y + ry}{turn} {x + rx} {y}Z"
    )


def _flat(segment: Any, scale: float) -> Floats:
    """(n, 2) points of a segment, so many that the polyline leaves it by FLAT / scale at most.

    References: Wang's formula for Bezier curves (G. Wang, 1984, from memory); the sagitta for arcs.
    """
    name = type(segment).__name__
    if name == "Arc":
        radius = max(abs(segment.radius.real), abs(segment.radius.imag), 1e-12)
        step = 2 * np.arccos(max(1 - FLAT / (scale * radius), -1.0)) if scale * radius > FLAT else np.pi
        count = int(np.clip(np.ceil(abs(np.radians(segment.delta)) / max(step, 1e-3)), 2, 4000))
        turn = np.radians(segment.theta + segment.delta * np.linspace(0, 1, count + 1))
        ring = segment.radius.real * np.cos(turn) + 1j * segment.radius.imag * np.sin(turn)
        found = segment.center + segment.rot_matrix * ring
    else:
        control = np.array(segment.bpoints())
        with np.errstate(all="ignore"):
            bend = np.abs(np.diff(control, 2)).max(initial=0) * (len(control) - 1) * (len(control) - 2) / 8
            wanted = np.sqrt(scale * bend / FLAT)
        count = int(np.clip(np.ceil(wanted), 1, 4000)) if isfinite(wanted) else 1
        t, control = np.linspace(0, 1, count + 1), np.repeat(control[:, None], count + 1, axis=1)
        with np.errstate(all="ignore"):
            while len(control) > 1:  # de Casteljau's algorithm
                control = (1 - t) * control[:-1] + t * control[1:]
        found = control[0]
    found[0], found[-1] = segment.start, segment.end
    return np.column_stack([found.real, found.imag])
