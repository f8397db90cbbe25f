"""The guide as a PDF to print: upright pages, boxes to tick with a pencil, vector pictures.

References: ISO 32000-1, standard type 1 fonts (Helvetica), which every viewer has.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from functools import partial
from itertools import chain, pairwise, takewhile

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
)

from shellgen.export import _typeface
from shellgen.export._reportlab import compact
from shellgen.guide import stills, styles
from shellgen.guide.flowables import GUTTER, POINT, SMALLER, Figures, Floating, StrokeHeading
from shellgen.guide.html import equipment_words, time_words
from shellgen.guide.leaf import Block, Gallery, Guide, Lines, Picture, Rows, Step, Ticks, Warn, Words
from shellgen.guide.styles import BODY, CELL, LEAD, NOTE
from shellgen.guide.typeset import ENDLESS, Contents, RememberedBlock, name_second_font, paragraph

MARGIN = 14.0
FOOT = 8.8
"""mm from the edge of the page to the line at its foot (chosen: every home printer reaches it)."""
SHORT = 4
"""A table with up to this many rows stays with the words before it (chosen: longer ones may go on overleaf)."""
WORK = 25.0
"""mm of its page that a step must have below its cautions (chosen: a short list, or a picture that can shrink)."""
SURE = 200.0
"""mm that every page has (chosen: less than the height of a Letter page within its margins)."""


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
    if len(guide.index.rows) > 1:  # of one piece the steps say all
        story += [
            CondPageBreak(min(90, 32 + 9 * len(guide.index.rows)) * POINT),
            *_heading("Index of the pieces", "pieces", across),
            RememberedBlock(guide.index),
        ]
    with compact():
        book.build(story)
    return out.getvalue()


def _foot(title: str, paper: tuple[float, float], canvas: Canvas, book: BaseDocTemplate) -> None:
    name_second_font(canvas)  # before any other font is named, as on the scratch page
    canvas.saveState()
    canvas.setFillColor(styles.SOFT)
    line = Paragraph(_typeface.marked(f"{title}: build guide"), styles.FOOT)
    line.wrapOn(canvas, (paper[0] - 2 * MARGIN) * POINT - 60, styles.FOOT.leading)
    line.drawOn(canvas, MARGIN * POINT, FOOT * POINT + styles.FOOT.fontSize - styles.FOOT.leading)
    canvas.setFont("Helvetica", 8)
    canvas.drawRightString((paper[0] - MARGIN) * POINT, FOOT * POINT, f"page {book.page}")
    canvas.restoreState()


def _front(guide: Guide, across: float) -> Iterator[Flowable]:
    yield StrokeHeading(guide.title, 7.0, across, "")
    yield Spacer(1, 8)
    for fault in guide.faults:
        yield from (RememberedBlock(fault), Spacer(1, 6))
    yield paragraph(guide.words)
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
    head.append(paragraph(time_words(step), styles.TIME))
    if step.equipment:
        head.append(paragraph(equipment_words(step), styles.EQUIPMENT))
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
        case [Words(), Rows(rows=rows), *_] if len(rows) <= SHORT:
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
            return [paragraph(text, LEAD if led else BODY)]
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
            return [*(paragraph(line.replace("  ", 2 * "\u00a0"), CELL) for line in text.splitlines()), Spacer(1, 6)]
        case Warn():
            return [Spacer(1, 1), RememberedBlock(block), Spacer(1, 4)]


def _captioned(picture: Picture) -> tuple[Picture, RememberedBlock]:
    return picture, paragraph(picture.caption, NOTE)
