"""Reads what drawing programs save as SVG: every shape as a polyline in mm on the page, with the layers it lies in.

References: Scalable Vector Graphics (SVG) 2, W3C: coordinate systems, basic shapes, paths. Layers are groups: their
names are taken from `id`, and from the labels that drawing programs write too.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.plates import _svgtree
from shellgen.plates._sketch import DrawnWords, Sketch, Stroke, Unreadable
from shellgen.plates._svgshapes import NUMBER, PX, length, matrix, moved, polylines, shift, viewport
from shellgen.plates._svgstyle import StyleRules, declared, unseen
from shellgen.plates._svgtree import SvgElement

LARGEST = 2_000_000
"""Bytes. Chosen: an evening of freehand lines is a tenth of it."""
SHAPES, FIGURES, VISITS = 3000, 60_000, 20_000
"""Most shapes, figures in their outlines and elements looked at, copies counted too. Chosen: they take some seconds."""
GUIDES, SPIKES = "guides", "spikes"
RIM, MIDDLE, CROWN = "chart-rim", "chart-middle", "chart-crown"
KNOWN = (RIM, MIDDLE, CROWN)
"""Names of the chart's own lines, by which a drawing is put back on the dome."""

_LABELS = ("id", "inkscape:label", "data-name", "serif:id", "label")
_SHAPES = ("path", "line", "polyline", "polygon", "rect", "circle", "ellipse")
_DRAWN = ("g", "a", "switch", "svg")
_LOOKS = ("display", "visibility", "font-size", "text-anchor", "fill", "stroke", "opacity")
"""Attributes that are properties of style sheets too."""


@dataclass(frozen=True, slots=True, eq=False)
class _SvgPlace:
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
        self.rules = StyleRules("".join(e.text for e in _all(root) if e.name == "style"))
        self.strokes: list[Stroke] = []
        self.dots: list[Stroke] = []
        self.words: list[DrawnWords] = []
        self.guides: dict[str, Floats] = {}
        self.unnamed: list[Floats] | None = None
        self.shapes = self.figures = self.visits = 0

    def sketch(self) -> Sketch:
        size, move = viewport(self.root)
        place = _SvgPlace(move, size, (), {})
        for child in self.root.children:
            self._visit(child, place)
        if len(self.guides) < len(KNOWN):
            self.unnamed = []
            again = _Reader(self.root)
            again.unnamed = self.unnamed
            for child in self.root.children:
                again._visit(child, place)
        page = (size[0] * abs(move[0, 0]) * PX, size[1] * abs(move[1, 1]) * PX)
        others = tuple(self.unnamed or ())
        return Sketch(tuple(self.strokes), tuple(self.dots), tuple(self.words), self.guides, others, page)

    def _visit(self, element: SvgElement, outer: _SvgPlace) -> None:
        self.visits += 1
        if self.visits > VISITS:
            raise Unreadable(f"it has more than {VISITS} shapes, groups and copies")
        if element.name not in (*_DRAWN, *_SHAPES, "use", "text"):
            return
        place = self._within(element, outer)
        guides = _in(place.layers, GUIDES)  # may be hidden
        if not guides and (place.style.get("display") == "none" or place.style.get("opacity") in ("0", "0%")):
            return
        if element.name == "use":
            self._copy(element, place)
        elif element.name in _DRAWN:
            for child in element.children:
                self._visit(child, place)
        elif element.name == "text":
            if not guides and not unseen(place.style):
                self._text(element, place)
        elif guides or not unseen(place.style):
            self._shape(element, place)

    def _within(self, element: SvgElement, outer: _SvgPlace) -> _SvgPlace:
        own = element.attributes
        looks = {key: own[key].strip().lower() for key in _LOOKS if key in own}
        style = {**outer.style} | looks | self.rules.of(element) | declared(own.get("style", ""))
        if (height := style.get("font-size", "16")) != outer.style.get("font-size", "16"):
            before = float(outer.style.get("font-size", "16"))
            style["font-size"] = str(
                length(height, before, element, em=before) if height[0] in ".0123456789" else before
            )
        with np.errstate(all="ignore"):
            move = outer.move @ matrix(own.get("transform", ""), element.line)
        names = tuple(_plain(own[label]) for label in _LABELS if label in own)
        size = outer.size
        if element.name == "svg":
            x, y = (length(own.get(k, "0"), whole, element) for k, whole in zip("xy", outer.size, strict=True))
            size, inner = viewport(element, outer.size)
            move = move @ shift(x, y) @ inner
        return replace(outer, move=move, size=size, layers=outer.layers + names, style=style)

    def _copy(self, element: SvgElement, place: _SvgPlace) -> None:
        name = element.attributes.get("href", element.attributes.get("xlink:href", ""))
        if not name.startswith("#"):
            raise Unreadable(f"line {element.line}: it refers to another file, which is never opened")
        if place.copies >= 8:
            raise Unreadable(f"line {element.line}: it copies copies of copies")
        if (original := self.named.get(name[1:])) is not None:
            own = element.attributes
            x, y = (length(own.get(k, "0"), place.size[i], element) for i, k in enumerate("xy"))
            copy = replace(place, move=place.move @ shift(x, y), copies=place.copies + 1)
            if original.name in ("svg", "symbol"):  # takes the size of the copy
                size = {key: own[key] for key in ("width", "height") if key in own}
                original = replace(original, name="svg", attributes=original.attributes | size)
            self._visit(original, copy)

    def _shape(self, element: SvgElement, place: _SvgPlace) -> None:
        own = element.attributes
        guides = _in(place.layers, GUIDES)
        guide = next((name for name in KNOWN if _in((_plain(own.get("id", "")),), name)), "") if guides else ""
        if guides and not guide and self.unnamed is None:
            return
        self.shapes += 1
        text = own.get("d", "") + own.get("points", "")
        self.figures += len(NUMBER.findall(text)) + 8
        if self.shapes > SHAPES or self.figures > FIGURES:
            raise Unreadable(f"it has more than {SHAPES} shapes, or more than {FIGURES} figures in their outlines")
        lines = [line for line in polylines(element, place.move, place.size) if len(line) > 1]
        if guide:
            for line in lines:
                self.guides[guide] = line
        elif self.unnamed is not None and guides:
            self.unnamed += lines
        elif layer := [name for name in place.layers if name.startswith(SPIKES)]:
            self.dots += [Stroke(line, element.line, (layer[-1],)) for line in lines]
        else:
            self.strokes += [Stroke(line, element.line, place.layers) for line in lines]

    def _text(self, element: SvgElement, place: _SvgPlace, at: tuple[str, str] = ("0", "0")) -> None:
        """One DrawnWords for each part that has a place of its own: drawing programs write lines of text so."""
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
        x, y = (length(re.split(r"[\s,]+", part.strip())[0], place.size[i], element) for i, part in enumerate(at))
        height = float(place.style.get("font-size", "16"))
        share = {"middle": 0.0, "end": -0.5}.get(place.style.get("text-anchor", ""), 0.5)
        middle = x + share * 0.55 * height * len(words), y - 0.35 * height
        self.words.append(DrawnWords(words[:80], moved(np.array([middle, (x, y)]), place.move, element), element.line))


def _all(element: SvgElement) -> Iterator[SvgElement]:
    yield element
    for child in element.children:
        yield from _all(child)


def _plain(label: str) -> str:
    """A name as it was typed: some programs write "_x5F_" for an underscore."""
    return re.sub(r"_x([0-9a-f]{2,4})_", lambda found: chr(int(found[1], 16)), label.strip().lower())


def _in(layers: tuple[str, ...], name: str) -> bool:
    return any(re.fullmatch(rf"{name}(?:[_\- ]?\d+_?)?", layer) for layer in layers)
