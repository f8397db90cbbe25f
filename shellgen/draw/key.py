"""The key: every sign on the sheets with its meaning, and the cautions for the work."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType

import numpy as np

from shellgen.canvas import Drawing, Path, Text
from shellgen.canvas.lettering import wrapped
from shellgen.canvas.sign import Sign
from shellgen.core.arrays import Floats
from shellgen.draw import notes

SHEET = (210.0, 297.0)  # ISO 216 A4
BORDER = 15.0
ROW = 10.0
SAMPLE = 26.0
WORDS = {"bevel": "bevel", "stretch here": "stretch", "compress here": "stretch"}
"""Signs that are words."""

Items = list[Path | Text]


def _line(*points: tuple[float, float], layer: str) -> Path:
    return Path(np.array(points), layer)


def _circle(radius: float, middle: tuple[float, float], layer: str, *, share: float = 1.0, start: float = 0.0) -> Path:
    turn = start + np.linspace(0, 2 * np.pi * share, 33)
    points = np.array(middle) + radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    return Path(points[:-1] if share == 1.0 else points, layer, closed=share == 1.0)


EDGE = _line((0, -3), (SAMPLE, -3), layer="cut")
SIGNS: dict[str, Sign] = {
    "cut": Sign("cut", "through the foam", "Cut through the foam, blade upright unless a bevel is given.",
                (_line((0, 0), (SAMPLE, 0), layer="cut"),)),
    "score": Sign(
        "plate line", "burn or carve",
        "Burn or carve this line; do not cut through. In the guides, numbers show the order and arrows the direction.",
        (_line((0, 0), (SAMPLE, 0), layer="score"),),
    ),
    "mark": Sign(
        "mark", "join equal numbers",
        "Registration mark: it meets the mark of the same number on the other edge of the seam.",
        (EDGE, _line((13, -3), (13, 3), layer="mark"), Text("27", (15, 0), 3.5)),
    ),
    "half mark": Sign(
        "mark 27/31", "31 when flipped",
        "On paper that is flipped over: the first number counts as it lies, the second flipped over.",
        (EDGE, _line((9, -3), (9, 3), layer="mark"), Text("27/31", (11, 0), 3.5)),
    ),
    "one side": Sign(
        "mark 5/", "not when flipped",
        "A mark for one side only: 5/ as the paper lies, /5 flipped over.",
        (EDGE, _line((13, -3), (13, 3), layer="mark"), Text("5/", (15, 0), 3.5)),
    ),
    "junction": Sign(
        "arc at a corner", "they make a circle",
        "Arc at a corner where seams meet: glued straight, the arcs form a circle.",
        (_line((0, -4), (13, -4), (SAMPLE, 3), layer="cut"),
         _circle(7.0, (13, -4), "mark", share=(180 - 28.3) / 360, start=np.radians(28.3))),
    ),
    "tip": Sign(
        "end of a dart", "stop the knife",
        "Tip of a dart: stop the knife at the small circle. Close the dart like a seam.",
        (_line((SAMPLE, 3), (10, 0), (SAMPLE, -3), layer="cut"), _circle(1.5, (10, 0), "mark")),
    ),
    "seat": Sign(
        "seat", "a spike stands here", "Seat of a spike: its plate and its master.",
        (_circle(4.0, (11, 0), "seat"),),
    ),
    "turning": Sign(
        "line at a seat", "as on the spike",
        "Line at a seat: it meets the spike's turning line.",
        (_circle(4.0, (11, 0), "seat", share=0.3, start=-0.3 * np.pi), _line((15, 0), (21, 0), layer="label")),
    ),
    "anchor": Sign(
        "anchor of a strap", "prick through",
        "Anchor: prick it through. On the inside it marks the middle of a strap's patch.",
        (_line((8, 0), (14, 0), layer="label"), _line((11, -3), (11, 3), layer="label"),
         Text("hip-L", (17, -1), 2.5)),
    ),
    "symmetry": Sign("midline", "both sides are alike", "Midline: the left half mirrors the right.",
                     (_line((0, 0), (SAMPLE, 0), layer="symmetry"),)),
    "fold": Sign("flip line", "cut the paper, flip it here",
                 "Flip line: cut the paper here, lay it on a line on the foam, draw around it, flip it, draw again.",
                 (_line((0, 0), (SAMPLE, 0), layer="symmetry"), Text("flip", (10, 1.6), 2.5))),
    "guide": Sign("guide line", "do not cut", "Guide line, do not cut: edges of rings, chamfers, folds.",
                  (_line((0, 0), (SAMPLE, 0), layer="guide"),)),
    "bevel": Sign(
        "bevel", "tilt the blade so far",
        "Bevel: tilt the blade by this angle, so that the inner face is shorter than the outer face; below 0, longer.",
        (EDGE, Text("to L-mid-2, bevel 8°", (0, -0.8), 2.5)),
    ),
    "stretch": Sign(
        "stretch or compress", "most here",
        "When you form the piece, stretch or compress the foam most here.",
        (Text("stretch here 2.4 %", (0, 0), 2.5),),
    ),
    "towards": Sign(
        "arrow", "to head or crown", "Towards the crown; on the piece with the crown, towards the head.",
        (_line((2, 0), (22, 0), layer="label"), _line((19, 1.5), (22, 0), (19, -1.5), layer="label"),
         Text("crown", (6, -4), 2.5)),
    ),
    "leader": Sign(
        "thin line", "from words to place", "A thin line leads from a number or a name to its place.",
        (EDGE, _line((9, -3), (15, 0.5), layer="label"), Text("27", (16, 0), 2.5)),
    ),
    "trim": Sign("paper joint", "trim here", "Paper joint: trim here and put it on the next page.",
                 (_line((0, 0), (SAMPLE, 0), layer="trim"),)),
}  # fmt: skip
"""In the order shown, by what `_found` calls them."""


CARD: dict[str, Sign] = {
    "cut": Sign("cut", "through the card", "", SIGNS["cut"].items),
    "score": Sign("fold", "score with a blunt point, fold to the back", "", SIGNS["score"].items),
    "guide": Sign("plate", "only drawn", "", SIGNS["guide"].items),
}
"""What lines mean on card."""


def signs_on(drawings: Sequence[Drawing], other: Mapping[str, Sign] = MappingProxyType({})) -> tuple[Sign, ...]:
    """Every sign that is on one of the drawings; joints of paper are the printer's. other : what some mean there"""
    found = {name for drawing in drawings for item in drawing.items for name in _found(item)}
    return tuple(other.get(name, sign) for name, sign in SIGNS.items() if name in found)


def _found(item: Path | Text) -> Iterator[str]:
    """Which signs an item of a template is part of."""
    if isinstance(item, Text):
        yield from (sign for word, sign in WORDS.items() if word in item.text)
    elif item.layer in ("cut", "score", "seat", "guide"):
        yield item.layer
    elif item.layer == "symmetry":
        yield "fold" if "fold" in item.data else "symmetry"
    elif "mark" in item.data:
        number = item.data["mark"]
        yield "mark" if "/" not in number else "half mark" if all(number.split("/")) else "one side"
    else:
        yield from (name for name in ("junction", "tip", "turning", "anchor", "towards", "leader") if name in item.data)


def key(name: str) -> Drawing:
    """One A4 sheet."""
    items: Items = [Text(f"{name}: what the signs mean", (BORDER, SHEET[1] - BORDER - 5), 5.0, layer="note")]
    y = SHEET[1] - BORDER - 17.0
    for sign in SIGNS.values():
        items += [_placed(item, np.array([BORDER, y])) for item in sign.items]
        lines = wrapped(sign.meaning, SHEET[0] - 2 * BORDER - SAMPLE - 8, 3.5)
        top = y - 1.75 + 2.9 * (len(lines) - 1)
        items += [Text(line, (BORDER + SAMPLE + 8, top - 5.8 * k), 3.5, layer="note") for k, line in enumerate(lines)]
        y -= ROW
    y -= 2.0
    for caution in (notes.KNIFE, notes.HEAT, notes.BURN, notes.GLUE, notes.SPRAY):
        for line in wrapped(caution, SHEET[0] - 2 * BORDER, 3.5):
            items.append(Text(line, (BORDER, y), 3.5, layer="note"))
            y -= 5.4
        y -= 2.0
    return Drawing("key", *SHEET, tuple(items), f"{name} key")


def _placed(item: Path | Text, at: Floats) -> Path | Text:
    if isinstance(item, Path):
        return Path(item.points + at, item.layer, item.closed)
    return Text(item.text, (item.at[0] + float(at[0]), item.at[1] + float(at[1])), item.height)
