"""The cover, README and licence of a pack to share: what it is, its size and its papers."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence

from PIL import Image as Raster
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, Image, Paragraph, SimpleDocTemplate, Spacer, Table

from shellgen.canvas.paper import PAPERS
from shellgen.export import _typeface
from shellgen.preset import Preset, ShareSection
from shellgen.record import Record

POINT = 72 / 25.4
MARGIN = 18.0
PICTURE = 95.0
"""Height of the picture, mm."""

NO_LICENCE = "There is no licence. Ask the maker before you use it, change it or share it."
PRINTING = "Print at 100 % (“actual size”) and measure the 100 mm square on the first page of each file before you cut."
CAUTION = (
    "Blades, hot tools, glue, paint and dust can hurt. Read the caution at each step and the labels of what you use; "
    "local rules come first. The shell was sized for another person: measure the wearer and change the preset before "
    "you cut foam."
)
CHILD = (
    "This pack is for a child. Nothing that carries load, and no cord, may go around a child's neck, and every strap "
    "must open by itself or with one hand."
)
KINDS = (
    ("templates-", "full-size templates, to print, tape and cut out"),
    ("templates/", "the same pieces one by one, as SVG"),
    ("dxf/", "the same for a cutting machine"),
    ("model-", "a small model of card and one seam at full size, to try first"),
    ("sheets/", "sheets of foam with the pieces on them"),
    ("guides/", "score lines, shading and measures"),
    ("wrap-", "strips to find the score lines on the built dome"),
    ("rings-", "foam rings around the spikes"),
    ("masks-", "masks for painting"),
    ("spikes/", "spikes as solids"),
    ("prints/", "spikes and moulds for a 3D printer"),
    ("tables/", "lists: pieces, seams, spikes, what to buy"),
    ("patches-", "patches for the straps"),
    ("shading-", "where to shade each piece"),
    ("guide-", "the build guide, step by step"),
    ("dome.stl", "the shape of the dome, which the preset reads"),
    ("index.html", "everything on one page, with the shell in 3-D"),
)
"""What the pack has, by the start of the path."""

BODY = ParagraphStyle("body", fontName="Helvetica", fontSize=9.5, leading=12.5, spaceAfter=4)
TITLE = ParagraphStyle("title", BODY, fontName="Helvetica-Bold", fontSize=22, leading=26, spaceAfter=2)
HEAD = ParagraphStyle("head", BODY, fontName="Helvetica-Bold", spaceBefore=6, spaceAfter=2)


def licence(share: ShareSection) -> str:
    """The line that the maker chose."""
    by = f"Made by {share.by}. " if share.by else ""
    return by + (f"Licence: {share.license}" if share.license else NO_LICENCE)


def wrong(record: Record) -> Iterator[str]:
    """The faults, which a pack only has if the maker accepted them."""
    for finding in record.findings:
        if finding.level == "fault":
            yield f"FAULT: {finding.text}"


def cautions(record: Record) -> str:
    """What can hurt, with the caution for children first."""
    return f"{CHILD} {CAUTION}" if record.wear.group == "child" else CAUTION


def about(of: Preset, record: Record) -> str:
    """What it is, in the maker's words or ours."""
    return of.share.about or (
        f"Templates for a costume shell from {record.foam_thickness_mm:g} mm foam, with everything to build it."
    )


def facts(record: Record, listed: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Sizes, materials and papers."""
    both = [(side, side / 25.4) for side in record.dome.size_mm]
    yield "Size", f"{' x '.join(f'{mm:.0f}' for mm, _ in both)} mm ({' x '.join(f'{i:.1f}' for _, i in both)} in)"
    yield "For", "a child" if record.wear.group == "child" else "an adult"
    yield "Foam", f"{record.foam_thickness_mm:g} mm, {_count(len(record.sheets), 'sheet')}"
    seams = sum(max(seam.length_mm) for seam in record.seams) / 1000
    yield "Pieces", f"{_count(len(record.pieces), 'piece')}, {seams:.1f} m of seams"
    masters = len({spike.stl for spike in record.spikes})
    if masters:
        yield "Spikes", f"{len(record.spikes)} from {_count(masters, 'master')}"
    yield "Mass", f"about {record.mass_g / 1000:.1f} kg"
    yield "Papers", " and ".join(name for name in PAPERS if f"templates-{name}.pdf" in listed)


def contained(listed: Sequence[str]) -> Iterator[tuple[str, str]]:
    """What the pack holds, in words."""
    for start, words in KINDS:
        found = [path for path in listed if path.startswith(start)]
        if found:
            name = start if start.endswith("/") else ", ".join(found)
            yield name, f"{words} ({_count(len(found), 'file')})" if start.endswith("/") else words


def readme(of: Preset, record: Record, listed: Sequence[str]) -> str:
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
    change = f"For another size, change {of.name}.yaml and run: shellgen build {of.name}.yaml"
    return "\n\n".join((*parts, f"Contents\n{things}", change)) + "\n"


def page(of: Preset, record: Record, listed: Sequence[str], picture: bytes, paper: str) -> bytes:
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


def _story(of: Preset, record: Record, listed: Sequence[str], picture: bytes, across: float) -> Iterator[Flowable]:
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
