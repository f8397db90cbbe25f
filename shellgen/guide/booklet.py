"""The guide as a PDF to print: upright pages, boxes to tick with a pencil, vector pictures.

References: ISO 32000-1, standard type 1 fonts (Helvetica), which every viewer has.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from itertools import chain, pairwise, takewhile
from threading import get_ident
from typing import Any

import numpy as np
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    Image,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
)

from shellgen.core.memory import remembered
from shellgen.export import _typeface
from shellgen.export._reportlab import compact
from shellgen.guide import signs, stills, styles
from shellgen.guide.flowables import GUTTER, POINT, SMALLER, Drawn, Figures, Floating, StrokeHeading, TickBox
from shellgen.guide.html import equipment_words, time_words
from shellgen.guide.leaf import Block, Gallery, Guide, Lines, Picture, Rows, Step, Ticks, Warn, Words
from shellgen.guide.styles import BODY, CELL, HEAD, LEAD, NOTE

MARGIN = 14.0
FOOT = 8.8
"""mm from the edge of the page to the line at its foot (chosen: every home printer reaches it)."""
SIGN = 8.5
"""Size of a sign, mm."""
SHORT = 12
"""A table with up to this many rows stays with the words before it (chosen: less than half a page)."""
WORK = 40.0
"""mm of its page that a step must have below its cautions (chosen: a short list, or a picture that can shrink)."""
SURE = 200.0
"""mm that every page has (chosen: less than the height of a Letter page within its margins)."""
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
            _name_second_font(self.canv)
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
    _name_second_font(page)
    return page


def _name_second_font(canvas: Canvas) -> None:
    """Makes the book name its second font as the scratch page does: a font gets its name at its first use."""
    canvas.beginText().setFont(styles.BOLD, 1)


def write(guide: Guide, paper: tuple[float, float]) -> bytes:
    """PDF of the guide on sheets of `paper` (width, height) mm."""
    out, across = io.BytesIO(), (paper[0] - 2 * MARGIN) * POINT
    frame = Frame(MARGIN * POINT, MARGIN * POINT, across, (paper[1] - 2 * MARGIN) * POINT, 0, 0, 0, 0)
    size, title = (paper[0] * POINT, paper[1] * POINT), f"{guide.title}: build guide"
    book = BaseDocTemplate(out, pagesize=size, invariant=1, title=title, author="", creator="shellgen", lang="en")
    book.addPageTemplates(PageTemplate(frames=[frame], onPage=partial(_foot, guide.title, paper)))
    story: list[Flowable] = list(_front(guide, across))
    for number, step in enumerate(guide.steps, 1):
        story += _step(number, step, across)
    story += [
        CondPageBreak(min(90, 32 + 9 * len(guide.index.rows)) * POINT),
        *_heading("Index of the pieces", "pieces", across),
        RememberedBlock(guide.index),
    ]
    with compact():
        book.build(story)
    return out.getvalue()


def _foot(title: str, paper: tuple[float, float], canvas: Canvas, book: BaseDocTemplate) -> None:
    _name_second_font(canvas)  # before any other font is named, as on the scratch page
    canvas.saveState()
    canvas.setFillColor(styles.SOFT)
    line = Paragraph(_typeface.marked(f"{title}: build guide"), styles.FOOT)
    line.wrapOn(canvas, (paper[0] - 2 * MARGIN) * POINT - 60, styles.FOOT.leading)
    line.drawOn(canvas, MARGIN * POINT, FOOT * POINT + styles.FOOT.fontSize - styles.FOOT.leading)
    canvas.setFont("Helvetica", 8)
    canvas.drawRightString((paper[0] - MARGIN) * POINT, FOOT * POINT, f"page {book.page}")
    canvas.restoreState()


def _paragraph(text: str, style: ParagraphStyle = BODY) -> RememberedBlock:
    return RememberedBlock(StyledText(text, style.name), style)


def _front(guide: Guide, across: float) -> Iterator[Flowable]:
    yield StrokeHeading(guide.title, 7.0, across, "")
    yield Spacer(1, 8)
    for fault in guide.faults:
        yield from (RememberedBlock(fault), Spacer(1, 6))
    yield _paragraph(guide.words)
    if guide.picture:
        jpeg, (wide, high) = stills.jpeg(guide.picture, quality=82)
        shown = min(across, 90 * POINT)
        yield Image(io.BytesIO(jpeg), shown, shown * high / wide)
    yield RememberedBlock(Contents(tuple((step.title, step.when) for step in guide.steps)))


def _heading(title: str, key: str, across: float) -> list[Flowable]:
    return [Spacer(1, 10), StrokeHeading(title, 5.0, across, key), Spacer(1, 6)]


def _step(number: int, step: Step, across: float) -> list[Flowable]:
    """The flowables of a step. Its heading and cautions are never alone at the bottom of a page."""
    head: list[Flowable] = _heading(f"{number}  {step.title}", step.key, across)
    head.append(_paragraph(time_words(step), styles.TIME))
    if step.equipment:
        head.append(_paragraph(equipment_words(step), styles.EQUIPMENT))
    warnings = list(takewhile(lambda block: isinstance(block, Warn), step.blocks))
    blocks = step.blocks[len(warnings) :]
    for warning in warnings:
        head += _block(warning, across, led=False)
    body = [
        _block(block, across, led=isinstance(after, Rows) and len(after.rows) <= SHORT)
        for block, after in zip(blocks, [*blocks[1:], None], strict=True)
    ]
    least = max(WORK * POINT, _first(blocks, body, across))
    return [CondPageBreak(min(_high(head, across) + least, SURE * POINT)), *head, *_floated(blocks, body)]


def _floated(blocks: Sequence[Block], body: Sequence[Sequence[Flowable]]) -> Iterator[Flowable]:
    """Each picture with all text up to the next, so that text can fill the page before it."""
    drawn = [k for k, block in enumerate(blocks) if isinstance(block, Picture | Gallery)]
    yield from chain.from_iterable(body[: drawn[0] if drawn else None])
    for k, end in pairwise([*drawn, len(blocks)]):
        *others, last = body[k]
        yield from (*others, Floating(last, list(chain.from_iterable(body[k + 1 : end]))))


def _first(blocks: Sequence[Block], body: Sequence[Sequence[Flowable]], across: float) -> float:
    """How high the first work of a step is if it cannot be split: only a picture, or words with their table."""
    match blocks:
        case [Words(), Rows(), *_]:
            return _high([*body[0], *body[1]], across)
        case [Picture() | Gallery()]:
            return SMALLER * _high(body[0], across)
        case _:
            return 0.0


def _high(flowables: Sequence[Flowable], across: float) -> float:
    return sum(float(flowable.wrap(across, ENDLESS)[1] + flowable.getSpaceAfter()) for flowable in flowables)


def _block(block: Block, across: float, *, led: bool) -> list[Flowable]:
    """led : whether a paragraph stays on one page with what follows"""
    match block:
        case Words(text):
            return [_paragraph(text, LEAD if led else BODY)]
        case Ticks():
            return [RememberedBlock(block), Spacer(1, 4)]
        case Rows():
            return [RememberedBlock(block), Spacer(1, 6)] if block.rows else []
        case Picture():
            return [Figures([_captioned(block)], across)]
        case Gallery(pictures):
            return [
                Figures(list(map(_captioned, pictures[k : k + 2])), (across - GUTTER) / 2)
                for k in range(0, len(pictures), 2)
            ]
        case Lines(text):
            return [*(_paragraph(line.replace("  ", 2 * "\u00a0"), CELL) for line in text.splitlines()), Spacer(1, 6)]
        case Warn():
            return [Spacer(1, 1), RememberedBlock(block), Spacer(1, 4)]


def _captioned(picture: Picture) -> tuple[Picture, RememberedBlock]:
    return picture, _paragraph(picture.caption, NOTE)


def _flowable(content: Content, across: float) -> Flowable:
    match content:
        case StyledText(text, style):
            return Paragraph(_typeface.marked(text), styles.STYLES[style])
        case Contents(steps):
            listed = [
                [TickBox(), _paragraph(f"{k}. {title}", CELL), _paragraph(when, CELL)]
                for k, (title, when) in enumerate(steps, 1)
            ]
            half = (across - COLUMN) / 2
            widths = [7 * POINT, 0.62 * half - 7 * POINT, 0.38 * half]
            return Table(*_halved(listed, widths), style=styles.plain_rows())
        case Ticks(items):
            ticked = [[TickBox(), _paragraph(item)] for item in items]
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
        [[icons, _paragraph(text, CELL)]],
        [left + 8, across - left - 8],
        style=[("BOX", (0, 0), (-1, -1), 1.2, styles.AMBER), ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
               ("TOPPADDING", (0, 0), (-1, -1), 2.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5)],
    )  # fmt: skip


def _table(rows: Rows, across: float) -> Table:
    """A table with columns as wide as their content needs."""
    columns = zip(rows.columns, zip(*rows.rows, strict=True), strict=True)
    want = np.array([styles.wanted([name, *column]) for name, column in columns])
    tick = [7 * POINT] if rows.tick else []
    beside = len(rows.rows) > LONG and styles.longest(rows.columns, rows.rows) <= styles.NARROW * across
    room = (across - COLUMN) / 2 if beside else across
    widths = [*tick, *((room - sum(tick)) * want / want.sum()).tolist()]
    first: list[Any] = [Spacer(1, 1)] if rows.tick else []
    head = [*first, *(_paragraph(c, HEAD) for c in rows.columns)]
    cells = [[*([TickBox()] if rows.tick else []), *(_paragraph(c, CELL) for c in row)] for row in rows.rows]
    style = [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 0.4, styles.RULE), *styles.tight(3)]
    if beside:
        cells, widths = _halved(cells, widths)
        again = [*first, *(_paragraph(c, HEAD) for c in rows.columns)]
        head = [*head, "", *again]
    return Table([head, *cells], widths, style=style, repeatRows=1)


def _halved(cells: list[list[Any]], widths: list[float]) -> tuple[list[list[Any]], list[float]]:
    """The rows of a narrow table in two columns side by side, read down the left one first, and the widths of all."""
    half = -(-len(cells) // 2)
    rest = [*cells[half:], *([""] * len(widths) for _ in range(2 * half - len(cells)))]
    rows = [[*left, "", *right] for left, right in zip(cells[:half], rest, strict=True)]
    return rows, [*widths, COLUMN, *widths]
