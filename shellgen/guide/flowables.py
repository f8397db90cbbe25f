"""Flowables that reportlab lacks: boxes to tick, headings in single strokes, drawings, pictures side by side."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from reportlab.platypus import Flowable, Spacer

from shellgen.canvas import Drawing, Path, Text, lettering
from shellgen.core.memory import remembered
from shellgen.export import _ink, _typeface
from shellgen.export.pdf import Trace, operators
from shellgen.guide.leaf import Picture

POINT = 72 / 25.4
SMALLER = 0.6
"""Share of its size to which a picture may shrink to stay on the page of its text (chosen)."""
GUTTER = 12.0
"""Points between two pictures (chosen)."""
BOX = 3.6
"""Size of a box to tick, mm."""
LEAST = 1.4
"""mm: lettering that would be smaller is left out (chosen: it cannot be read at arm's length)."""


class TickBox(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A box to tick with a pencil."""

    def wrap(self, *_: float) -> tuple[float, float]:
        return BOX * POINT, BOX * POINT + 2

    def draw(self) -> None:
        self.canv.setLineWidth(0.8)
        self.canv.rect(0.5, 0, BOX * POINT, BOX * POINT)


class StrokeHeading(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A heading in the single-stroke letters of the sheets, which have every script; also a bookmark."""

    def __init__(self, text: str, height: float, across: float, key: str) -> None:
        super().__init__()
        self.text, self.key, self.across = text, key, across
        self.height_mm = lettering.fit(text, across / POINT, most=height) or 1.8

    def wrap(self, *_: float) -> tuple[float, float]:
        return self.across, 1.5 * self.height_mm * POINT

    def draw(self) -> None:
        canvas = self.canv
        if self.key:
            canvas.bookmarkPage(self.key)
            canvas.addOutlineEntry(self.text, self.key, 0)
        canvas.saveState()
        canvas.scale(POINT, POINT)
        canvas.setLineCap(1)
        canvas.setLineJoin(1)
        canvas.setLineWidth(1.5 * lettering.pen(self.height_mm))
        up = np.array([0.0, 0.1 * self.height_mm])
        canvas.drawPath(Trace([line + up for line in lettering.strokes(self.text, self.height_mm)]))
        canvas.restoreState()
        text = canvas.beginText(0, 2)
        text.setFont("Helvetica" if _typeface.western(self.text) else _typeface.face(), 10)
        text.setTextRenderMode(3)
        text.textOut(self.text)
        canvas.drawText(text)


class Drawn(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A Drawing, at most `across` points wide and `tall` mm high, and never enlarged."""

    def __init__(self, drawing: Drawing, across: float, tall: float) -> None:
        super().__init__()
        self.drawing = drawing
        self.scale = min(1.0, across / POINT / drawing.width, tall / drawing.height)

    def fit(self, up: float) -> None:
        """Makes it at most `up` points high if its lettering stays readable."""
        heights = [i.height for i in self.drawing.items if isinstance(i, Text) and i.height * self.scale >= LEAST]
        share = up / POINT / self.drawing.height / self.scale
        if max(SMALLER, LEAST / (min(heights, default=math.inf) * self.scale)) <= share < 1.0:
            self.scale *= share

    def wrap(self, *_: float) -> tuple[float, float]:
        return self.scale * self.drawing.width * POINT, self.scale * self.drawing.height * POINT

    def draw(self) -> None:
        canvas = self.canv
        canvas.saveState()
        canvas.scale(POINT * self.scale, POINT * self.scale)
        canvas.addLiteral(_seen(self.drawing, self.scale))
        canvas.restoreState()


class Figures(Flowable):  # type: ignore[misc]  # reportlab has no types
    """Pictures side by side above their captions, slightly smaller if they then fit on the page."""

    def __init__(self, pictures: Sequence[tuple[Picture, Flowable]], across: float) -> None:
        super().__init__()
        self.across, self.pictures = across, pictures

    def wrap(self, _: float, up: float) -> tuple[float, float]:
        self.shown = []
        for picture, caption in self.pictures:
            drawn = Drawn(picture.drawing, self.across, picture.tall)
            under = caption.wrap(self.across, up)[1] + 8
            drawn.fit(up - under)
            self.shown.append((drawn, caption, drawn.wrap(self.across, up)[1], under))
        return self.across * len(self.shown), max(high + under for _, _, high, under in self.shown)

    def draw(self) -> None:
        top = max(high + under for _, _, high, under in self.shown)
        for k, (drawn, caption, high, under) in enumerate(self.shown):
            x = k * (self.across + GUTTER)
            drawn.drawOn(self.canv, x, top - high - 4)
            caption.drawOn(self.canv, x, top - high - under + 4)


class Floating(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A picture and what follows it, which comes before the picture where that has no room on the page."""

    def __init__(self, picture: Flowable, after: Sequence[Flowable]) -> None:
        super().__init__()
        self.picture, self.after = picture, after

    def wrap(self, across: float, up: float) -> tuple[float, float]:
        """Always too high, so that it is split."""
        return across, up + 1.0

    def split(self, across: float, up: float) -> list[Flowable]:
        if self.picture.wrap(across, up)[1] <= up:
            return [self.picture, *self.after]
        before, rest = list[Flowable](), list(self.after)
        while rest:
            high = rest[0].wrap(across, up)[1]
            parts = [rest[0]] if high <= up else rest[0].split(across, up)
            if not parts:
                break
            before.append(parts[0])
            rest[:1] = parts[1:]
            up -= high + before[-1].getSpaceAfter()
        while before and (isinstance(before[-1], Spacer) or before[-1].getKeepWithNext()):
            rest.insert(0, before.pop())
        return [*before, self.picture, *rest] if before else []


@remembered
def _seen(drawing: Drawing, scale: float) -> str:
    """Operators that draw the lines, and the text that is readable at a scale."""
    return operators(
        item
        for _, items in _ink.in_layers(drawing)
        for item in items
        if isinstance(item, Path) or item.height * scale >= LEAST
    )
