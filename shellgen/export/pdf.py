"""Drawings as PDF at true size: one page of any size, or the pages of a Plan for a home printer.

References: ISO 32000-1 (form XObjects, viewer preferences: PrintScaling None asks viewers not to scale).
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

import numpy as np
from reportlab.lib.rl_accel import fp_str
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from shellgen.canvas import Colour, Drawing, Path, Text
from shellgen.canvas.paper import PAPERS, PagePlan, label
from shellgen.canvas.sign import Sign
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered, remembered_each
from shellgen.errors import GeometryError
from shellgen.export import _cover, _ink, _page_marks, _typeface
from shellgen.export._reportlab import compact

USE = _cover.USE
_EDGE = 10.0
"""mm that words which do not show keep from the edges of a page (chosen: more than any printer cuts off)."""
_PAINT = {(True, False): "S", (True, True): "B*", (False, True): "f*", (False, False): "n"}
"""By whether it is stroked and whether it is filled: what paints a path."""
_POINT = 72 / 25.4  # points per mm
_LONGEST = 14400 / _POINT  # mm; longer pages are refused by some viewers (ISO 32000-1, annex C)


def write(drawing: Drawing) -> bytes:
    """PDF of one page, as large as the drawing: for a plotter's roll or a print shop.

    GeometryError if a side is longer than the 5080 mm that every viewer takes.
    """
    if max(drawing.width, drawing.height) > _LONGEST:
        raise GeometryError(
            f"A page of {drawing.width:g} x {drawing.height:g} mm is too large. The limit is {_LONGEST:.0f} mm a side."
        )
    with _Book((drawing.width, drawing.height), drawing.title or drawing.name) as book:
        book.begin()
        book.draw(item for _, items in _ink.in_layers(drawing) for item in items)
        book.end(item.text for item in drawing.items if isinstance(item, Text))
    return book.data


def write_pages(
    plan: PagePlan, *, title: str = "", use: str | None = USE, faults: Sequence[str] = (), cover: bool = True,
    signs: Sequence[Sign] = (), prints: Sequence[tuple[str, str, str]] = (),
) -> bytes:  # fmt: skip
    """PDF of a cover and the pages of a plan, each piece stored once and clipped where it is printed.

    use : the cover's last step, what to do with the pages; None where they are not at true size, so that there is
          nothing to measure: they have no cover and no scale
    faults : what is wrong with what is drawn, for the cover; cover : False leaves it out
    signs  : what is on the pieces, for its legend; prints : every paper with its number of pages and when it is needed
    """
    covers = int(cover and use is not None)
    count, joints = len(plan.pages) + covers, _page_marks.Joints(plan)
    with _Book(plan.frame.paper, title) as book:
        for k, placed in enumerate(plan.placed):
            book.store(f"piece{k}", placed.drawing)
        if covers and use is not None:
            front = _cover.Front(use, tuple(faults), tuple(signs), tuple(prints))
            _first(book, plan, title, count, front)
        for number, page in enumerate(plan.pages, start=1 + covers):
            _pieces(book, plan, page)
            marks, sheet = joints.on(page), f"page {number} of {count}"
            if use is not None:
                marks += _page_marks.scale(plan.frame)
            marks += _page_marks.foot_line(plan.frame, title=title, sheet=sheet, true_size=use is not None)
            book.draw(marks + _page_marks.identity(plan, page))
            book.end((label(page), *(word for p in plan.on(page) for word in _said(p.drawing))))
    return book.data


def _said(drawing: Drawing) -> Iterator[str]:
    """The name of a drawing, and its instructions."""
    yield drawing.name
    yield from (item.text for item in drawing.items if isinstance(item, Text) and item.layer == "note")


def _first(book: _Book, plan: PagePlan, title: str, count: int, front: _cover.Front) -> None:
    paper = next((n for n, s in PAPERS.items() if sorted(s) == sorted(plan.frame.paper)), "custom paper")
    split = f", {plan.split} of them over several pages" if plan.split else ""
    each = "" if len(plan.placed) == 1 else "each "
    split = f", {each}over several pages" if plan.split == len(plan.placed) else split
    book.begin()
    many = f"{count} {paper} pages, {len(plan.placed)} piece{'s' * (len(plan.placed) != 1)}{split}"
    book.draw(_cover.cover(plan, front, title=title, count=many))
    book.draw(_page_marks.scale(plan.frame, square=True))
    book.draw(_page_marks.foot_line(plan.frame, title=title, sheet=f"page 1 of {count}"))
    book.end((title, *_cover.words(front), *(p.drawing.name for p in plan.placed)))


def _pieces(book: _Book, plan: PagePlan, page: tuple[int, int]) -> None:
    """Begins a page with its pieces, cut to its window."""
    book.begin()
    book.canvas.saveState()
    window = book.canvas.beginPath()
    window.rect(*plan.frame.window)
    book.canvas.clipPath(window, stroke=0, fill=0)
    for k, placed in enumerate(plan.placed):
        if page in placed.tiles:
            dx, dy = (np.array(placed.shift) + _page_marks.origin(plan.frame, page)).tolist()
            cos, sin = float(np.cos(placed.angle)), float(np.sin(placed.angle))
            book.canvas.saveState()
            book.canvas.transform(cos, sin, -sin, cos, dx, dy)
            book.canvas.doForm(f"piece{k}")
            book.canvas.restoreState()
    book.canvas.restoreState()


class _Book:
    """A PDF while it is written."""

    def __init__(self, size: tuple[float, float], title: str) -> None:
        self.out, self.data, self.across = io.BytesIO(), b"", size[0]
        self.canvas = Canvas(self.out, pagesize=(size[0] * _POINT, size[1] * _POINT), invariant=1, pageCompression=1)
        self.canvas.setTitle(title)
        self.canvas.setAuthor("")
        self.canvas.setCreator("shellgen")
        self.canvas.setViewerPreference("PrintScaling", "None")

    def __enter__(self) -> _Book:
        return self

    def __exit__(self, kind: type | None, *_: object) -> None:
        if kind is None:
            with compact():
                self.canvas.save()
            self.data = self.out.getvalue()

    def begin(self) -> None:
        """Begins a page: from here to its end all is in mm."""
        self.canvas.scale(_POINT, _POINT)

    def end(self, words: Iterable[str]) -> None:
        """Ends the page, with words that do not show, so that a viewer's search finds what the strokes say."""
        text = self.canvas.beginText(_EDGE, _EDGE)
        text.setTextRenderMode(3)
        for word in (part for words_ in words for part in words_.split()):
            face = "Helvetica" if _typeface.western(word) else _typeface.face()
            if text.getX() + stringWidth(f"{word} ", face, 1) > self.across - _EDGE:  # beyond it no viewer searches
                text.setTextOrigin(_EDGE, text.getY() + 1)
            text.setFont(face, 1)
            text.textOut(f"{word} ")
        self.canvas.drawText(text)
        self.canvas.showPage()

    def store(self, name: str, drawing: Drawing) -> None:
        """Keeps a drawing as a form, to be shown wherever it is needed."""
        rim = 5.0  # more than half of any line
        self.canvas.beginForm(name, -rim, -rim, drawing.width + rim, drawing.height + rim)
        self.canvas.addLiteral(_stored(drawing))
        self.canvas.endForm()

    def draw(self, items: Iterable[Path | Text]) -> None:
        self.canvas.addLiteral(operators(items))


@remembered
def _stored(drawing: Drawing) -> str:
    return operators(item for _, items in _ink.in_layers(drawing) for item in items)


def operators(items: Iterable[Path | Text]) -> str:
    """Operators that draw the items, with round caps and joins.

    References: ISO 32000-1, tables 57 (J, j) and 60 (S, f*, B*, n).
    """
    return "\n".join(["1 J", "1 j", *_drawn(list(items))])


@remembered_each(_ink.key)
def _drawn(items: Sequence[Path | Text]) -> list[str]:
    """Of each item the operators that take up its pen and draw it."""
    out, every = list[str](), list[Floats]()
    for item in items:
        pen, width = _ink.PENS[item.layer], _ink.width(item)
        dashes, fill = (pen.dashes, item.fill) if isinstance(item, Path) else ((), None)
        lines = [item.points] if isinstance(item, Path) else _ink.lines(item)
        form = _form(lines, closed=isinstance(item, Path) and item.closed)
        out.append(f"{_state(width, pen.colour, dashes, fill)}\n{form}\n{_PAINT[width > 0, fill is not None]}")
        every += lines
    return ("\0".join(out) % _figures(every)).split("\0")


@lru_cache(maxsize=256)
def _state(width: float, stroke: Colour, dashes: tuple[float, ...], fill: Colour | None) -> str:
    """Operators that take up a pen.

    References: ISO 32000-1, tables 57 (w, d) and 74 (RG, rg).
    """
    operators = [f"{fp_str(width)} w", f"{fp_str(*(v / 255 for v in stroke))} RG", f"[{fp_str(dashes)}] 0 d"]
    return "\n".join(operators if fill is None else [*operators, f"{fp_str(*(v / 255 for v in fill))} rg"])


class Trace:
    """Lines as the canvas asks for a path; written here at once, since point by point takes the canvas far longer."""

    def __init__(self, lines: Sequence[Floats]) -> None:
        self.code = _form(lines) % _figures(lines)

    def getCode(self) -> str:
        return self.code


def _form(lines: Sequence[Floats], *, closed: bool = False) -> str:
    """Operators of lines, their figures left open."""
    after = " h" if closed else ""
    return "n " + " ".join("%.4f %.4f m" + " %.4f %.4f l" * (len(line) - 1) + after for line in lines)


def _figures(lines: Sequence[Floats]) -> tuple[float, ...]:
    return tuple(np.concatenate(lines).ravel().tolist()) if lines else ()
