"""The build guide of one shell: its steps in order, with pictures of its own pieces, for screen and paper."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor

from shellgen.canvas import Drawing, rule
from shellgen.canvas.paper import PAPERS
from shellgen.core import registry
from shellgen.draw.order import PaperEntry
from shellgen.guide import booklet, html
from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Guide, Rows, Step, Warn
from shellgen.pattern.joins import joins
from shellgen.pipeline.shell import Shell
from shellgen.preset import Preset
from shellgen.record import Record

BOOKLET_PAPER = {"A2": "A4", "A3": "A4", "Tabloid": "Letter"}
"""Paper of the booklet if the templates are on larger sheets (chosen: it can be held in one hand)."""
STEPS = "shellgen.guide.steps"


def kit_of(
    shell: Shell,
    preset: Preset,
    figures: Record,
    pages: Mapping[str, Mapping[str, tuple[str, ...]]],
    drawings: Mapping[str, Drawing],
    prints: tuple[PaperEntry, ...] = (),
) -> Kit:
    """What the guide uses. figures : the shell's record; pages, drawings, prints : as `papers` made them"""
    return Kit(
        preset=preset,
        name=shell.name,
        ground=shell.ground,
        foam=shell.foam,
        heat=shell.proof.heat,
        spikes=shell.top.spikes,
        cores=shell.top.casting.cores,
        centre=shell.work.materials.centre,
        wear=shell.worn.wear,
        figures=figures,
        joins=joins(shell.foam.cut, shell.ground.mesh, shell.foam.marks),
        pages=pages,
        drawings=drawings,
        prints=prints,
        across=PAPERS[_paper(preset)][0] - 2 * booklet.MARGIN,
        inches=rule.of(preset.print.paper).inches,
    )


def _paper(preset: Preset) -> str:
    return BOOKLET_PAPER.get(preset.print.paper, preset.print.paper)


def build(kit: Kit, *, picture: bytes = b"") -> tuple[Guide, dict[str, bytes]]:
    """The guide, and its booklet as a file. The HTML links to other files, see `html.write`.

    picture : PNG of the finished shell
    """
    paper = _paper(kit.preset)
    with ThreadPoolExecutor(1) as worker:  # compressing a picture does not hold the interpreter
        still = worker.submit(html.still, picture)
        content = guide(kit, picture=picture)
        book = booklet.write(content, PAPERS[paper])
        still.result()
    return content, {f"guide-{paper}.pdf": book}


def guide(kit: Kit, *, picture: bytes = b"") -> Guide:
    """The steps of all chapters, and the index of the pieces."""
    title = kit.preset.title or kit.name
    words = "How to build this shell. Every figure and picture is computed for this shell."
    wrong = (f.sentence for f in kit.figures.findings if f.level == "fault")
    faults = tuple(Warn(("general",), kit.rule.both(f"Fault: {text}")) for text in wrong)
    return Guide(title, words, tuple(all_steps(kit)), _index(kit), picture, faults)


def all_steps(kit: Kit) -> Iterator[Step]:
    chapters = [registry.load(STEPS, name) for name in registry.names(STEPS)]
    for chapter in sorted(chapters, key=lambda chapter: chapter.PLACE):
        yield from chapter.steps(kit)


def _index(kit: Kit) -> Rows:
    """Every piece, with the pages of its template, its sheet of foam and its joins."""
    sheet = {name: s.id for s in kit.figures.sheets for name in s.pieces}
    rows = []
    for piece in kit.figures.pieces:
        name = piece.id
        mine = [str(j.number) for j in kit.figures.joins if name in (j.piece, j.to)]
        pages = " ".join(kit.pages["templates"][name])
        mirror = "" if piece.mirror == name else piece.mirror
        rows.append((name, pages, piece.template, sheet.get(name, ""), " ".join(mine) or "none", mirror))
    columns = ("piece", "pages", "as a file", "sheet of foam", "joins", "mirror image")
    return Rows(columns, tuple(rows), tick=False)
