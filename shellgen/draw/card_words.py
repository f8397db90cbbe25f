"""Words about parts of card, on a slip with a sample of each line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from shellgen.canvas import Drawing, Path, Text
from shellgen.canvas.lettering import wrapped
from shellgen.draw.notes import LEADING
from shellgen.draw.strips import HEIGHT, MARGIN
from shellgen.draw.tabbing import TAB

ROW = 5.5
SAMPLE = 16.0
BETWEEN = 0.4
"""Lines left free between two sentences (chosen)."""
BLACK = (0, 0, 0)
KEY = (
    ("cut", "cut"),
    ("fold", "score with a blunt point, fold to the back"),
    ("tab", "tab: glue it behind the other edge"),
    ("plate", "plate, only drawn"),
    ("seat", "a spike stands here, only drawn"),
)


LAYER: Mapping[str, str] = {"fold": "score", "plate": "guide", "seat": "seat"}


def card_slip(name: str, texts: Sequence[str], *, across: float, drawn: Sequence[str] = ()) -> Drawing:
    """The words in a frame, under the samples. drawn : what is drawn besides cuts, folds and tabs"""
    key, line = [row for row in KEY if row[0] in ("cut", "fold", "tab", *drawn)], LEADING * HEIGHT
    rows = [wrapped(text, across - 2 * MARGIN, HEIGHT) for text in texts]
    up = 2 * MARGIN + ROW * len(key) - BETWEEN * line + sum(line * (len(row) + BETWEEN) for row in rows)
    items: list[Path | Text] = []
    y = up - MARGIN + ROW - 1.4 * HEIGHT
    for kind, meaning in key:
        y -= ROW
        items += [_sample(kind, y + HEIGHT / 2), Text(meaning, (MARGIN + SAMPLE + 3, y), HEIGHT, layer="note")]
    for row in rows:
        y -= BETWEEN * line
        for text in row:
            y -= line
            items.append(Text(text, (MARGIN, y), HEIGHT, layer="note"))
    frame = np.array([(1.0, 1.0), (across - 1, 1.0), (across - 1, up - 1), (1.0, up - 1)])
    return Drawing(name, across, up, (Path(frame, "guide", closed=True), *items), name)


def _sample(kind: str, y: float) -> Path:
    """A line 16 mm long; that for cuts is an area, because nothing is cut here."""
    line = np.array([(MARGIN, y), (MARGIN + SAMPLE, y)])
    if kind in LAYER:
        return Path(line, LAYER[kind])
    half = np.array([0.0, 0.25 if kind == "cut" else 1.6])
    return Path(np.vstack([line - half, line[::-1] + half]), "fill", closed=True, fill=BLACK if kind == "cut" else TAB)
