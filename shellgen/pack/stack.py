"""Files of a pack that are printed, cut or plotted, each read back and measured before it is added to the pack."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import reduce
from typing import Any

from shellgen.canvas import Drawing, tiling
from shellgen.canvas import rule as rule_
from shellgen.canvas.paper import PAPERS, Frame, PagePlan, label
from shellgen.canvas.rule import Rule
from shellgen.core.memory import remembered
from shellgen.draw.key import CARD, signs_on
from shellgen.draw.order import in_order
from shellgen.draw.shelf import below, on_sheets
from shellgen.export import dxf, pdf, svg
from shellgen.pack import readback
from shellgen.preset import PrintSection

USES: Mapping[str, tuple[str, str | None]] = {
    "model": (
        ", card model and seam test",
        "Print on thin card, cut the parts out and glue them: these pages are not for foam.",
    ),
    "shading": (", shading guide", None),
    "templates": ("", pdf.USE),
    "wrap": (
        ", wrap guide",
        "Cut the strips out and tape each to the built dome along its plate line, first from the crown, then outwards; "
        "mark the dashed line through the paper.",
    ),
    "rings": (
        ", rings and cores",
        "Cut the strips out, lay them on the strip foam, and cut around them, as many times as each strip says.",
    ),
    "patches": (
        ", patches for the straps",
        "Cut the pieces out of the paper, lay them on strong cloth and cut around them.",
    ),
    "masks": (
        ", masks for painting",
        "Cut the masks out of the paper, or copy them to masking film; cut every slit, and try each in its place "
        "before you paint.",
    ),
}
"""By the name of a PDF: what is added to its title, and what to do with its pages; None if not at true size."""


@dataclass(frozen=True, slots=True, eq=False)
class Papers:
    """files : bytes by path; off : by the same path, mm by which the file differs from what was drawn

    pages    : by the name of a PDF, then of a drawing, the labels of the pages on which it is
    drawings : by path, what was drawn into the SVG files; the shading as on the pages
    counts   : by the name of a PDF to print, the number of its pages
    halved   : whether templates are printed once for both sides
    """

    files: Mapping[str, bytes]
    off: Mapping[str, float]
    pages: Mapping[str, Mapping[str, tuple[str, ...]]]
    drawings: Mapping[str, Drawing]
    counts: Mapping[str, int]
    halved: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class PrintJob:
    """What all papers of a pack share. faults : printed on their covers"""

    title: str
    faults: tuple[str, ...]
    how: PrintSection

    @property
    def window(self) -> tuple[float, float]:
        """mm across and up on a page of small parts."""
        short, long = sorted(PAPERS[self.how.paper])
        size = (long, short) if self.how.layout["landscape"] else (short, long)
        return Frame(size, self.how.margin, self.how.overlap).window[2:]

    @property
    def rule(self) -> Rule:
        return rule_.of(self.how.paper)


@dataclass(frozen=True, slots=True, eq=False)
class Foreword:
    """What else there is to know, for a cover. hint : on how to use the pages; others : the numbers of pages of all
    other papers; cores : whether cores are among the ring strips"""

    hint: str = ""
    others: Mapping[str, int] = field(default_factory=dict)
    cores: bool = False


PLAIN = Foreword()


@dataclass(slots=True)
class Stack:
    """Files while they are collected."""

    job: PrintJob
    files: dict[str, bytes] = field(default_factory=dict)
    off: dict[str, float] = field(default_factory=dict)
    pages: dict[str, Mapping[str, tuple[str, ...]]] = field(default_factory=dict)
    drawings: dict[str, Drawing] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
    halved: bool = False

    def svg(self, path: str, drawing: Drawing) -> None:
        self.drawings[path] = drawing
        self.add(path, _svg(drawing))

    def dxf(self, path: str, drawing: Drawing) -> None:
        self.add(path, _dxf(drawing))

    def plot(self, path: str, drawing: Drawing) -> None:
        self.add(path, _plot(drawing))

    def pdf(self, name: str, *groups: Sequence[Drawing], front: Foreword = PLAIN) -> None:
        """groups : drawings, each group on pages of its own"""
        job, every = self.job, tuple(map(tuple, groups))
        found = _book(name, every, job.title, job.how.paper, job.how.layout, job.faults, front)
        self.pages[name], self.counts[name], written = found
        self.add(f"{name}-{job.how.paper}.pdf", written)

    def add(self, path: str, written: tuple[bytes, float]) -> None:
        self.files[path], self.off[path] = written[0], readback.checked(path, written[1])

    def papers(self) -> Papers:
        return Papers(self.files, self.off, self.pages, self.drawings, self.counts, self.halved)


@remembered
def _svg(drawing: Drawing) -> tuple[bytes, float]:
    """The file, and by how many mm it differs from what was drawn, as for the other formats."""
    data = svg.write(drawing)
    return data, readback.svg(data, drawing)


@remembered
def _dxf(drawing: Drawing) -> tuple[bytes, float]:
    data = dxf.write(drawing)
    return data, readback.dxf(data, drawing)


@remembered
def _plot(drawing: Drawing) -> tuple[bytes, float]:
    data = pdf.write(drawing)
    return data, readback.page(data, drawing)


@remembered
def _book(
    name: str,
    groups: tuple[tuple[Drawing, ...], ...],
    title: str,
    paper: str,
    layout: Mapping[str, Any],
    faults: tuple[str, ...],
    front: Foreword,
) -> tuple[Mapping[str, tuple[str, ...]], int, tuple[bytes, float]]:
    """A PDF by its name in USES: the labels of the pages on which each drawing is, the number of its pages, and the
    file. Only templates may extend over several sheets."""
    what, use = USES[name]
    use = use and f"{use} {front.hint}".strip()
    arrange: Callable[..., PagePlan] = tiling.arrange if name == "templates" else on_sheets
    plan = reduce(below, [arrange(drawings, **layout) for drawings in groups])
    pages = {p.drawing.name: tuple(map(label, sorted(p.tiles))) for p in plan.placed}
    cover = name == "templates" or bool(faults)  # the others have their instructions on their first page
    count = len(plan.pages) + (cover and use is not None)
    listed = in_order({**front.others, name: count}, paper, halves=bool(front.hint), cores=front.cores)
    rows = [(of.name, str(of.pages), of.when) for of in listed] if front.others else []
    signs = signs_on([placed.drawing for placed in plan.placed], CARD if name == "model" else {})
    data = pdf.write_pages(plan, title=f"{title}{what}", use=use, faults=faults, cover=cover, signs=signs, prints=rows)
    return pages, count, (data, readback.pdf(data, plan, true_size=use is not None, cover=cover).most)


def together(*parts: Papers) -> Papers:
    return Papers(
        {path: data for of in parts for path, data in of.files.items()},
        {path: off for of in parts for path, off in of.off.items()},
        {name: pages for of in parts for name, pages in of.pages.items()},
        {path: drawing for of in parts for path, drawing in of.drawings.items()},
        {name: count for of in parts for name, count in of.counts.items()},
        any(of.halved for of in parts),
    )
