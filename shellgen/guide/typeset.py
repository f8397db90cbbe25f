"""Text and tables of the printed guide, each laid out once for its width and stored as operators.

References: ISO 32000-1, standard type 1 fonts (Helvetica), which every viewer has.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from threading import get_ident
from typing import Any

import numpy as np
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from shellgen.canvas.rule import unbroken
from shellgen.core.memory import remembered
from shellgen.export import _typeface
from shellgen.guide import signs, styles
from shellgen.guide.flowables import POINT, Drawn, TickBox
from shellgen.guide.leaf import Rows, Ticks, Warn
from shellgen.guide.styles import BODY, CELL, HEAD

SIGN = 8.5
"""Size of a sign, mm."""
COLUMN = 14.0
"""Points between two columns (chosen)."""
LONG = 5
"""A table with more rows is set in two columns if it is narrow enough (chosen: fewer need no more)."""
ENDLESS = 1e6
"""Height in points that no content reaches."""

SECOND = "/F2 "
"""Name of the second font in the operators."""
EMBEDDED = "+0 "
"""How operators end the name of an embedded font."""


@dataclass(frozen=True, slots=True, eq=False)
class StyledText:
    """A paragraph; `style` by its name in styles.STYLES."""

    text: str
    style: str


@dataclass(frozen=True, slots=True, eq=False)
class Contents:
    """Title and days of every step."""

    steps: tuple[tuple[str, str], ...]


Content = StyledText | Contents | Ticks | Rows | Warn


class RememberedBlock(Flowable):  # type: ignore[misc]  # reportlab has no types
    """Text or a table whose layout at a width is remembered. It is laid out again if a page break is inside it."""

    def __init__(self, content: Content, style: ParagraphStyle | None = None) -> None:
        super().__init__()
        self.content, self.width = content, 0.0
        if style is not None:
            self.style = style  # neighbours use its spacing

    def wrap(self, across: float, _: float) -> tuple[float, float]:
        if self.width != across:
            self.width, (self.height, self.code) = across, _typeset(self.content, across)
        return self.width, self.height

    def draw(self) -> None:
        if SECOND in self.code:
            name_second_font(self.canv)
        if EMBEDDED in self.code:
            self._draw_again()
        elif self.code:
            self.canv.addLiteral(self.code)

    def _draw_again(self) -> None:
        """Lays it out again: the letters of an embedded font have different codes in every booklet."""
        flowable = _flowable(self.content, self.width)
        flowable.wrapOn(self.canv, self.width, ENDLESS)
        flowable.drawOn(self.canv, 0, 0)

    def split(self, across: float, up: float) -> list[Flowable]:
        flowable = _flowable(self.content, across)
        flowable.wrap(across, up)
        parts: list[Flowable] = flowable.split(across, up)
        return parts


@remembered
def _typeset(content: Content, across: float) -> tuple[float, str]:
    """Height in points of content that is `across` points wide, and the operators that draw it."""
    flowable, page = _flowable(content, across), _scratch_page(get_ident())
    height = flowable.wrapOn(page, across, ENDLESS)[1]
    page.saveState()
    begin = len(page._code)
    flowable.canv = page
    flowable.draw()
    code = "\n".join(page._code[begin:])
    page.restoreState()
    del page._code[begin - 1 :]
    return height, code


@lru_cache(maxsize=4)
def _scratch_page(thread: int) -> Canvas:
    """A scratch page for layout, one for each thread, because reportlab takes 2 ms to make one."""
    page = Canvas(io.BytesIO())
    name_second_font(page)
    return page


def name_second_font(canvas: Canvas) -> None:
    """Makes the book name its second font as the scratch page does: a font gets its name at its first use."""
    canvas.beginText().setFont(styles.BOLD, 1)


def paragraph(text: str, style: ParagraphStyle = BODY) -> RememberedBlock:
    return RememberedBlock(StyledText(text, style.name), style)


def _flowable(content: Content, across: float) -> Flowable:
    match content:
        case StyledText(text, style):
            return Paragraph(_typeface.marked(unbroken(text)), styles.STYLES[style])
        case Contents(steps):
            listed = [
                [TickBox(), paragraph(f"{k}. {title}", CELL), paragraph(when, CELL)]
                for k, (title, when) in enumerate(steps, 1)
            ]
            half = (across - COLUMN) / 2
            widths = [7 * POINT, 0.62 * half - 7 * POINT, 0.38 * half]
            return Table(*_halved(listed, widths), style=styles.plain_rows())
        case Ticks(items):
            ticked = [[TickBox(), paragraph(item)] for item in items]
            return Table(ticked, [7 * POINT, across - 7 * POINT], style=styles.plain_rows())
        case Warn(names, text):
            return _warn(names, text, across)
        case Rows():
            return _table(content, across)


def _warn(names: Sequence[str], text: str, across: float) -> Table:
    side = SIGN * POINT
    icons = Table(
        [[Drawn(signs.sign(name), side, SIGN) for name in names]], [side + 3] * len(names), style=styles.tight()
    )
    left = len(names) * (side + 3)
    return Table(
        [[icons, paragraph(text, CELL)]],
        [left + 8, across - left - 8],
        style=[("BOX", (0, 0), (-1, -1), 1.2, styles.AMBER), ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
               ("TOPPADDING", (0, 0), (-1, -1), 2.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5)],
    )  # fmt: skip


def _table(rows: Rows, across: float) -> Table:
    """A table with columns as wide as their content needs."""
    columns = zip(rows.columns, zip(*rows.rows, strict=True), strict=True)
    want = np.array([styles.wanted([name, *column]) for name, column in columns])
    tick = [7 * POINT] if rows.tick else []
    in_two = len(rows.rows) > LONG and styles.longest(rows.columns, rows.rows) <= styles.NARROW * across
    room = (across - COLUMN) / 2 if in_two else across
    widths = [*tick, *((room - sum(tick)) * want / want.sum()).tolist()]
    first: list[Any] = [Spacer(1, 1)] if rows.tick else []
    head = [*first, *(paragraph(c, HEAD) for c in rows.columns)]
    cells = [[*([TickBox()] if rows.tick else []), *(paragraph(c, CELL) for c in row)] for row in rows.rows]
    style = [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 0.4, styles.RULE), *styles.tight(3)]
    if in_two:
        cells, widths = _halved(cells, widths)
        again = [*first, *(paragraph(c, HEAD) for c in rows.columns)]
        head = [*head, "", *again]
    return Table([head, *cells], widths, style=style, repeatRows=1)


def _halved(cells: list[list[Any]], widths: list[float]) -> tuple[list[list[Any]], list[float]]:
    """The rows of a narrow table in two columns side by side, read down the left one first, and the widths of all."""
    half = -(-len(cells) // 2)
    rest = [*cells[half:], *([""] * len(widths) for _ in range(2 * half - len(cells)))]
    rows = [[*left, "", *right] for left, right in zip(cells[:half], rest, strict=True)]
    return rows, [*widths, COLUMN, *widths]
