"""How each layer of a drawing looks, the same in every format.

References: ISO 128 line types: continuous, dashed (12 d, gap 3 d), long-dashed dotted (24 d, 3 d, 0.5 d, 3 d),
dotted (0.5 d, 3 d), wide to narrow 2 : 1 (from memory). Colours: the set of Okabe and Ito, "Color Universal Design"
(2008), which colour-blind readers can tell apart; they only repeat what line and label say.
"""

from __future__ import annotations

import struct
from collections.abc import Hashable, Iterator
from dataclasses import dataclass

from shellgen.canvas import LAYERS, Colour, Drawing, Path, Text, lettering
from shellgen.core.arrays import Floats

BLACK, GREY = (0, 0, 0), (130, 130, 130)
VERMILION, BLUE, GREEN, PURPLE, SKY = (213, 94, 0), (0, 114, 178), (0, 158, 115), (204, 121, 167), (86, 180, 233)

WIDE, NARROW = 0.5, 0.25
_FIGURES = struct.Struct("<4d").pack


@dataclass(frozen=True, slots=True, eq=False)
class Pen:
    """width : mm; 0 draws no line. dashes : mm on, off, on, off ...; empty is continuous."""

    width: float
    colour: Colour
    dashes: tuple[float, ...] = ()


def _dashes(width: float, *lengths: float) -> tuple[float, ...]:
    return tuple(round(width * n, 4) for n in lengths)


PENS = {
    "fill": Pen(0.0, BLACK),
    "guide": Pen(NARROW, SKY),
    "symmetry": Pen(NARROW, PURPLE, _dashes(NARROW, 24, 3, 0.5, 3)),
    "seat": Pen(NARROW, GREEN, _dashes(NARROW, 0.5, 3)),
    "score": Pen(NARROW, VERMILION, _dashes(NARROW, 12, 3)),
    "mark": Pen(0.35, BLUE),
    "label": Pen(NARROW, BLACK),
    "cut": Pen(WIDE, BLACK),
    "trim": Pen(NARROW, GREY, _dashes(NARROW, 12, 12)),
    "note": Pen(NARROW, BLACK),
}


def in_layers(drawing: Drawing) -> Iterator[tuple[str, list[Path | Text]]]:
    """The layers that hold something, in drawing order, with their items."""
    for layer in LAYERS:
        items = [item for item in drawing.items if item.layer == layer]
        if items:
            yield layer, items


def lines(item: Path | Text) -> tuple[Floats, ...]:
    """Polylines of an item, (n, 2) mm; a closed path repeats its first point."""
    if isinstance(item, Text):
        return lettering.lay(item)
    return (item.line,)


def key(item: Path | Text) -> Hashable:
    """The same for two items only if they are drawn equally to the last digit; so figures go by their bytes."""
    data = tuple(item.data.items())
    if isinstance(item, Text):
        return item.text, _FIGURES(*item.at, item.height, item.angle), item.anchor, item.layer, data
    return item.points.tobytes(), item.layer, item.closed, data, item.fill


def width(item: Path | Text) -> float:
    """Width of the line that draws an item, mm."""
    return lettering.pen(item.height) if isinstance(item, Text) else PENS[item.layer].width
