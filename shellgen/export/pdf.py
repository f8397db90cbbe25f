"""Drawings as PDF at true size: one page of any size, or the pages of a Plan for a home printer.

References: ISO 32000-1 (form XObjects, viewer preferences: PrintScaling None asks viewers not to scale).
"""

from __future__ import annotations

import io
from collections.abc import Iterable

import numpy as np
import shapely
from reportlab.pdfgen.canvas import Canvas

from shellgen.canvas import Drawing, Path, Text
from shellgen.errors import GeometryError
from shellgen.export import _cover, _furniture, _ink
from shellgen.paper import PAPERS, Placed, Plan, label

SUFFIX = ".pdf"

_POINT = 72 / 25.4  # points per mm
_LONGEST = 14400 / _POINT  # mm; longer pages are refused by some viewers (ISO 32000-1, annex C)


def write(drawing: Drawing) -> bytes:
    """PDF of one page, as large as the drawing: for a plotter's roll or a print shop.

    GeometryError if a side is longer than the 5080 mm that every viewer takes.
    """
    if max(drawing.width, drawing.height) > _LONGEST:
        raise GeometryError(f"a page of {drawing.width:g} x {drawing.height:g} mm; allowed: {_LONGEST:.0f} mm each way")
    out = io.BytesIO()
    canvas = _canvas(out, (drawing.width, drawing.height), drawing.title or drawing.name)
    _draw(canvas, (item for _, items in _ink.in_layers(drawing) for item in items))
    _words(canvas, (item.text for item in drawing.items if isinstance(item, Text)))
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def write_pages(plan: Plan, *, title: str = "") -> bytes:
    """PDF of a cover and the pages of a plan, each piece stored once and clipped where it is printed."""
    out = io.BytesIO()
    canvas = _canvas(out, plan.frame.paper, title)
    for k, placed in enumerate(plan.placed):
        _store(canvas, placed, f"piece{k}")
    count, joints = len(plan.pages) + 1, _furniture.Joints(plan)
    _first(canvas, plan, title, count)
    for number, page in enumerate(plan.pages, start=2):
        _clip(canvas, plan, page)
        furniture = joints.on(page)
        furniture += _furniture.scale(plan.frame, _furniture.covered(plan, page, furniture))
        furniture += _furniture.foot_line(plan.frame, title=title, sheet=f"page {number} of {count}")
        furniture += _furniture.identity(plan, page)
        _draw(canvas, furniture)
        _words(canvas, (label(page), *(p.drawing.name for p in plan.on(page))))
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _canvas(out: io.BytesIO, size: tuple[float, float], title: str) -> Canvas:
    canvas = Canvas(out, pagesize=(size[0] * _POINT, size[1] * _POINT), invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setAuthor("")
    canvas.setCreator("shellgen")
    canvas.setViewerPreference("PrintScaling", "None")
    return canvas


def _first(canvas: Canvas, plan: Plan, title: str, count: int) -> None:
    paper = next((n for n, s in PAPERS.items() if sorted(s) == sorted(plan.frame.paper)), "custom paper")
    split = f", {plan.split} on more than one sheet" if plan.split else ", none split"
    _draw(canvas, _cover.cover(plan, title=title, count=f"{count} pages {paper}, {len(plan.placed)} pieces{split}"))
    _draw(canvas, _furniture.scale(plan.frame, shapely.Point()))
    _draw(canvas, _furniture.foot_line(plan.frame, title=title, sheet=f"page 1 of {count}"))
    _words(canvas, (title, *_cover.STEPS, _cover.CAUTION, *(p.drawing.name for p in plan.placed)))
    canvas.showPage()


def _store(canvas: Canvas, placed: Placed, name: str) -> None:
    """Keeps a piece as a form, in mm, to be drawn wherever it is needed."""
    drawing, rim = placed.drawing, 5.0
    canvas.beginForm(name, -rim, -rim, drawing.width + rim, drawing.height + rim)
    _draw(canvas, (item for _, items in _ink.in_layers(drawing) for item in items), unit=1.0)
    canvas.endForm()


def _clip(canvas: Canvas, plan: Plan, page: tuple[int, int]) -> None:
    """The pieces of one page, cut to its window."""
    x, y, across, up = (_POINT * v for v in plan.frame.window)
    canvas.saveState()
    window = canvas.beginPath()
    window.rect(x, y, across, up)
    canvas.clipPath(window, stroke=0, fill=0)
    for k, placed in enumerate(plan.placed):
        if page in placed.tiles:
            canvas.saveState()
            dx, dy = _POINT * (np.array(placed.shift) + _furniture.origin(plan.frame, page))
            cos, sin = _POINT * np.cos(placed.angle), _POINT * np.sin(placed.angle)
            canvas.transform(float(cos), float(sin), float(-sin), float(cos), float(dx), float(dy))
            canvas.doForm(f"piece{k}")
            canvas.restoreState()
    canvas.restoreState()


def _draw(canvas: Canvas, items: Iterable[Path | Text], *, unit: float = _POINT) -> None:
    """Strokes items given in mm; `unit` is the canvas's own per mm."""
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    for item in items:
        pen, filled = _ink.PENS[item.layer], isinstance(item, Path) and item.fill is not None
        width = _ink.width(item)
        canvas.setLineWidth(unit * width)
        canvas.setStrokeColorRGB(*(v / 255 for v in pen.colour))
        canvas.setDash([unit * d for d in pen.dashes] if isinstance(item, Path) else [])
        if isinstance(item, Path) and item.fill is not None:
            canvas.setFillColorRGB(*(v / 255 for v in item.fill))
        path = canvas.beginPath()
        for line in [item.points] if isinstance(item, Path) else _ink.lines(item):
            points = np.round(unit * line, 4).tolist()  # far below what any printer resolves
            path.moveTo(*points[0])
            for point in points[1:]:
                path.lineTo(*point)
            if isinstance(item, Path) and item.closed:
                path.close()
        canvas.drawPath(path, stroke=int(width > 0), fill=int(filled))


def _words(canvas: Canvas, words: Iterable[str]) -> None:
    """Invisible text, so that a viewer's search finds what the strokes say."""
    text = canvas.beginText(10, 10)
    text.setFont("Helvetica", 1)
    text.setTextRenderMode(3)
    for word in words:
        text.textOut(word.encode("cp1252", "replace").decode("cp1252") + " ")
    canvas.drawText(text)
