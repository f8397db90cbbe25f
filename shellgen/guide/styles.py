"""How the printed guide looks: its colours, its paragraphs and the spacing of its tables."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.colors import Color
from reportlab.lib.styles import ParagraphStyle

from shellgen.canvas.rule import unbroken

SOFT, RULE, AMBER = (Color(v, w, x) for v, w, x in ((0.25, 0.32, 0.32), (0.7, 0.74, 0.72), (0.72, 0.5, 0)))

BOLD = "Helvetica-Bold"
BODY = ParagraphStyle(
    "body", fontName="Helvetica", fontSize=10, leading=13.6, spaceAfter=5, allowWidows=0, allowOrphans=0
)
LEAD = ParagraphStyle("lead", BODY, keepWithNext=1)
CELL = ParagraphStyle("cell", BODY, fontSize=9, leading=11.4, spaceAfter=0)
HEAD = ParagraphStyle("head", CELL, fontName=BOLD, textColor=SOFT, fontSize=8)
NOTE = ParagraphStyle("note", BODY, fontSize=8.5, leading=11, textColor=SOFT, spaceAfter=8)
TIME = ParagraphStyle("time", BODY, textColor=SOFT, spaceAfter=6)
EQUIPMENT = ParagraphStyle("equipment", BODY, fontName=BOLD, spaceAfter=6)
FOOT = ParagraphStyle("foot", CELL, fontSize=8, leading=8, textColor=SOFT)
STYLES = {style.name: style for style in (BODY, LEAD, CELL, HEAD, NOTE, TIME, EQUIPMENT)}


NARROW = 0.112
"""Letters to a point of the page's width up to which a table fits into half of it (chosen: hardly any of its
cells then needs a second line)."""


def wanted(texts: Sequence[str]) -> float:
    """Share of the width: the longest word fits on one line, and long texts get more."""
    word = max((len(w) for text in texts for w in unbroken(text).split(" ")), default=1)
    longest = max(map(len, texts))
    return max(word + 2.0, min(longest + 2.0, 16.0 + longest / 5))


def longest(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> int:
    """Letters of the longest text of each column, together."""
    return sum(2 + max(map(len, texts)) for texts in zip(columns, *rows, strict=True))


def tight(gap: float = 0) -> list[tuple[object, ...]]:
    return [(f"{side}PADDING", (0, 0), (-1, -1), gap if side in ("TOP", "BOTTOM") else 0 if side == "LEFT" else 3)
            for side in ("TOP", "BOTTOM", "LEFT", "RIGHT")]  # fmt: skip


def plain_rows() -> list[tuple[object, ...]]:
    return [("VALIGN", (0, 0), (-1, -1), "TOP"), *tight(1.5)]
