"""Which templates a printer prints: a piece that mirrors is printed once."""

from __future__ import annotations

from shellgen.canvas import Drawing, Text
from shellgen.canvas.rule import METRIC, Rule
from shellgen.draw.flip import flip_of
from shellgen.draw.template import template
from shellgen.model import Spike
from shellgen.pattern.flatmap import Seats
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.wear import Anchor


def on_paper(
    shell_name: str,
    ground: Ground,
    foam: Foam,
    seats: Seats,
    spikes: tuple[Spike, ...],
    anchors: tuple[Anchor, ...],
    whole: tuple[Drawing, ...],
    *,
    rule: Rule = METRIC,
) -> tuple[Drawing, ...]:
    """The templates for a printer: of what mirrors, one half or one of a pair, if its name and both numbers of every
    mark have room there; the others as in `whole`."""
    pieces, of = foam.cut.pieces, (ground, foam, seats, spikes, anchors)
    flips = {index: flip for index in range(len(pieces)) if (flip := flip_of(*of, index))}
    papers = {index: template(shell_name, *of, index, flip, rule=rule) for index, flip in flips.items()}
    papers = {index: paper for index, paper in papers.items() if _complete(paper)}
    served = {pieces[index].mirror for index in papers}
    return tuple(
        papers.get(index, whole[index]) for index in range(len(pieces)) if index in papers or index not in served
    )


def _complete(sheet: Drawing) -> bool:
    """Whether it has its name, and every mark its number, in one line or in two."""
    said = {item.text for item in sheet.items if isinstance(item, Text)}
    marks = [item.data["mark"] for item in sheet.items if "mark" in item.data]
    return sheet.name in said and all(mark in said or set(mark.split("/")) <= said for mark in marks)
