"""The first page of a pack that is passed on, its README and the licence: what it is, how large, on which papers."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from PIL import Image as Raster
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, Image, Paragraph, SimpleDocTemplate, Spacer, Table

from shellgen.canvas.paper import PAPERS
from shellgen.export import _typeface
from shellgen.preset import Preset, Share

POINT = 72 / 25.4
MARGIN = 18.0
PICTURE = 95.0
"""mm, height of the picture."""

NO_LICENCE = "No licence is given: ask the maker before you use it, change it or pass it on."
PRINTING = "Print at 100 % (“actual size”) and measure the 100 mm square on the first page of each file before you cut."
CAUTION = (
    "Blades, hot tools, glue, paint and dust can hurt: the caution stands at each step; read it and the labels of what "
    "you use. The shell was sized for somebody else: measure the wearer and change the preset before you cut foam."
)
CHILD = (
    "This pack is a child's: nothing that carries load, and no cord, goes round a child's neck, and every strap opens "
    "by itself or with one hand."
)
KINDS = (
    ("templates-", "templates at true size, to print, tape and cut out"),
    ("templates/", "the same pieces one by one, as SVG"),
    ("dxf/", "the same for a cutter"),
    ("sheets/", "whole sheets of foam, laid out"),
    ("guides/", "score lines, shading and measures"),
    ("wrap-", "strips to find the score lines on the built dome"),
    ("rings-", "foam rings round the spikes"),
    ("masks-", "masks for painting"),
    ("spikes/", "spikes as solids"),
    ("prints/", "spikes and moulds for a 3D printer"),
    ("tables/", "lists: pieces, seams, spikes, what to buy"),
    ("patches-", "patches for the straps"),
    ("shading-", "where the shade lies on each piece"),
    ("guide-", "the build guide, step by step"),
    ("dome.stl", "the dome's form, which the preset reads"),
    ("index.html", "everything on one page, with the shell to turn round"),
)
"""What there is, by the beginning of its path."""

BODY = ParagraphStyle("body", fontName="Helvetica", fontSize=9.5, leading=12.5, spaceAfter=4)
TITLE = ParagraphStyle("title", BODY, fontName="Helvetica-Bold", fontSize=22, leading=26, spaceAfter=2)
HEAD = ParagraphStyle("head", BODY, fontName="Helvetica-Bold", spaceBefore=6, spaceAfter=2)


def licence(share: Share) -> str:
    """The line that the maker chose."""
    by = f"Made by {share.by}. " if share.by else ""
    return by + (f"Licence: {share.license}" if share.license else NO_LICENCE)


def wrong(record: Mapping[str, Any]) -> Iterator[str]:
    """What the checks found wrong; there is nothing unless the maker accepted it."""
    for finding in record["findings"]:
        if finding["level"] == "fault":
            yield f"FAULT: {finding['text']}"


def cautions(record: Mapping[str, Any]) -> str:
    """What can hurt, with a child's own words first."""
    return f"{CHILD} {CAUTION}" if record["wear"]["group"] == "child" else CAUTION


def about(of: Preset, record: Mapping[str, Any]) -> str:
    """What it is, in the maker's words or ours."""
    return of.share.about or (
        f"Templates for a costume shell of {record['foam_thickness_mm']:g} mm foam, with everything to build it."
    )


def facts(record: Mapping[str, Any], listed: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Sizes, what it takes, and the papers."""
    dome = record["dome"]
    sides = (dome[f"{side}_mm"] for side in ("length", "width", "height"))
    both = [(side, side / 25.4) for side in sides]
    yield "Size", f"{' x '.join(f'{mm:.0f}' for mm, _ in both)} mm ({' x '.join(f'{i:.1f}' for _, i in both)} in)"
    yield "For", "a child" if record["wear"]["group"] == "child" else "a grown wearer"
    yield "FoamSheet", f"{record['foam_thickness_mm']:g} mm, {_count(len(record['sheets']), 'sheet')}"
    seams = sum(max(seam["length_mm"]) for seam in record["seams"]) / 1000
    yield "Pieces", f"{_count(len(record['pieces']), 'piece')}, {seams:.1f} m of seams"
    masters = len({spike["stl"] for spike in record["spikes"]})
    if masters:
        yield "Spikes", f"{len(record['spikes'])} from {_count(masters, 'master')}"
    yield "Mass", f"about {record['mass_g'] / 1000:.1f} kg"
    yield "Papers", " and ".join(name for name in PAPERS if f"templates-{name}.pdf" in listed)


def contained(listed: Sequence[str]) -> Iterator[tuple[str, str]]:
    """What the pack holds, in words."""
    for start, words in KINDS:
        found = [path for path in listed if path.startswith(start)]
        if found:
            name = start if start.endswith("/") else ", ".join(found)
            yield name, f"{words} ({_count(len(found), 'file')})" if start.endswith("/") else words


def readme(of: Preset, record: Mapping[str, Any], listed: Sequence[str]) -> str:
    """The same as the cover, as plain text."""
    rows = "\n".join(f"{name + ':':<9} {words}" for name, words in facts(record, listed))
    things = "\n".join(f"  {name}\n      {words}" for name, words in contained(listed))
    parts = (
        "\n".join((of.title or str(of.name), *wrong(record))),
        about(of, record),
        rows,
        licence(of.share),
        PRINTING,
        f"Caution. {cautions(record)}",
    )
    change = f"Another size: change {of.name}.yaml and run shellgen build {of.name}.yaml"
    return "\n\n".join((*parts, f"Contents\n{things}", change)) + "\n"


def page(of: Preset, record: Mapping[str, Any], listed: Sequence[str], picture: bytes, paper: str) -> bytes:
    """PDF of the cover on one sheet."""
    out, size = io.BytesIO(), tuple(side * POINT for side in PAPERS[paper])
    title = of.title or str(of.name)
    book = SimpleDocTemplate(
        out,
        pagesize=size,
        invariant=1,
        title=title,
        author=of.share.by or "",
        creator="shellgen",
        lang="en",
        **dict.fromkeys(("leftMargin", "rightMargin", "topMargin", "bottomMargin"), MARGIN * POINT),
    )
    book.build(list(_story(of, record, listed, picture, size[0] - 2 * MARGIN * POINT)))
    return out.getvalue()


def _story(
    of: Preset, record: Mapping[str, Any], listed: Sequence[str], picture: bytes, across: float
) -> Iterator[Flowable]:
    yield Paragraph(_typeface.marked(of.title or str(of.name)), TITLE)
    for fault in wrong(record):
        yield Paragraph(f"<b>{_typeface.marked(fault)}</b>", BODY)
    yield Paragraph(_typeface.marked(about(of, record)), BODY)
    wide, high = Raster.open(io.BytesIO(picture)).size
    scale = min(across / wide, PICTURE * POINT / high)
    yield Image(io.BytesIO(picture), wide * scale, high * scale)
    yield Spacer(1, 4)
    yield _table(facts(record, listed), across, 22)
    yield Paragraph(_typeface.marked(licence(of.share)), HEAD)
    yield Paragraph(_typeface.marked(PRINTING), BODY)
    yield Paragraph(f"<b>Caution.</b> {_typeface.marked(cautions(record))}", BODY)
    yield Paragraph("Contents", HEAD)
    yield _table(contained(listed), across, 62)


def _table(rows: Iterator[tuple[str, str]], across: float, first: float) -> Table:
    cells = [[Paragraph(_typeface.marked(word), BODY) for word in row] for row in rows]
    made = Table(cells, colWidths=(first * POINT, across - first * POINT), hAlign="LEFT")
    made.setStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("TOPPADDING", (0, 0), (-1, -1), 0),
                   ("BOTTOMPADDING", (0, 0), (-1, -1), 0), ("LEFTPADDING", (0, 0), (-1, -1), 0)])  # fmt: skip
    return made


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
