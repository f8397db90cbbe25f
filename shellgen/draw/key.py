"""The key: every sign on the sheets with its meaning, and the cautions for the work."""

from __future__ import annotations

import numpy as np

from shellgen.canvas import Drawing, Path, Text
from shellgen.canvas.lettering import wrapped
from shellgen.core.arrays import Floats
from shellgen.draw import notes

SHEET = (210.0, 297.0)  # ISO 216 A4
BORDER = 15.0
ROW = 12.5
SAMPLE = 26.0

Items = list[Path | Text]


def _line(*points: tuple[float, float], layer: str) -> Path:
    return Path(np.array(points), layer)


def _circle(radius: float, middle: tuple[float, float], layer: str, *, share: float = 1.0, start: float = 0.0) -> Path:
    turn = start + np.linspace(0, 2 * np.pi * share, 33)
    points = np.array(middle) + radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    return Path(points[:-1] if share == 1.0 else points, layer, closed=share == 1.0)


EDGE = _line((0, -3), (SAMPLE, -3), layer="cut")
SIGNS: tuple[tuple[str, tuple[Path | Text, ...]], ...] = (
    ("Cut through the foam, blade upright unless a bevel is given.", (_line((0, 0), (SAMPLE, 0), layer="cut"),)),
    (
        "Burn or carve this line; do not cut through. In the guides, numbers show the order and arrows the direction.",
        (_line((0, 0), (SAMPLE, 0), layer="score"), _line((15, 1.5), (18, 0), (15, -1.5), layer="label"),
         Text("4", (8, 1.5), 3.5)),
    ),
    (
        "Registration mark: it meets the mark of the same number on the other edge of the seam.",
        (EDGE, _line((13, -3), (13, 3), layer="mark"), Text("27", (15, 0), 3.5)),
    ),
    (
        "Arc at a corner where seams meet: glued straight, the arcs form a circle.",
        (_line((0, -4), (13, -4), (SAMPLE, 3), layer="cut"),
         _circle(7.0, (13, -4), "mark", share=(180 - 28.3) / 360, start=np.radians(28.3))),
    ),
    (
        "Tip of a dart: stop the knife at the small circle. Close the dart like a seam.",
        (_line((SAMPLE, 3), (10, 0), (SAMPLE, -3), layer="cut"), _circle(1.5, (10, 0), "mark")),
    ),
    (
        "Seat of a spike: its plate, its master, and the line that meets the spike's turning line.",
        (_circle(5.0, (11, 0), "seat"), _line((16, 0), (22, 0), layer="label")),
    ),
    (
        "Anchor: prick it through. On the inside it marks the middle of a strap's patch.",
        (_line((8, -3), (14, 3), layer="label"), _line((8, 3), (14, -3), layer="label"),
         Text("hip-L", (17, -1), 2.5)),
    ),
    ("Midline: the left half mirrors the right.", (_line((0, 0), (SAMPLE, 0), layer="symmetry"),)),
    ("Guide line, do not cut: edges of rings, chamfers, folds.", (_line((0, 0), (SAMPLE, 0), layer="guide"),)),
    (
        "Bevel: tilt the blade by this angle, so that the inner face is shorter than the outer face; below 0, longer.",
        (EDGE, Text("to L-mid-2, bevel 8°", (0, -0.8), 2.5)),
    ),
    (
        "When you form the piece, stretch or compress the foam most here.",
        (Text("stretch here 2.4 %", (0, 0), 2.5),),
    ),
    (
        "Towards the crown; on the piece with the crown, towards the head.",
        (_line((2, 0), (22, 0), layer="label"), _line((19, 1.5), (22, 0), (19, -1.5), layer="label"),
         Text("crown", (6, -4), 2.5)),
    ),
    ("Paper joint: trim here and put it on the next page.", (_line((0, 0), (SAMPLE, 0), layer="trim"),)),
)  # fmt: skip


def key(name: str) -> Drawing:
    """One A4 sheet."""
    items: Items = [Text(f"{name}: what the signs mean", (BORDER, SHEET[1] - BORDER - 5), 5.0, layer="note")]
    y = SHEET[1] - BORDER - 17.0
    for meaning, sample in SIGNS:
        items += [_placed(item, np.array([BORDER, y])) for item in sample]
        lines = wrapped(meaning, SHEET[0] - 2 * BORDER - SAMPLE - 8, 3.5)
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
