"""Which templates a printer prints: a piece that mirrors is printed once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from shellgen.canvas import Drawing, Text, tiling
from shellgen.canvas.rule import METRIC, Rule
from shellgen.draw.flip import flip_of
from shellgen.draw.template import template
from shellgen.model import Spike
from shellgen.pattern.flatmap import Seats
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.wear import Anchor

A4: Mapping[str, Any] = MappingProxyType({"paper": "A4"})


@dataclass(frozen=True, slots=True, eq=False)
class Printed:
    """halved : whether one of the sheets serves for both sides"""

    sheets: tuple[Drawing, ...]
    halved: bool


def on_paper(
    shell_name: str,
    ground: Ground,
    foam: Foam,
    seats: Seats,
    spikes: tuple[Spike, ...],
    anchors: tuple[Anchor, ...],
    whole: tuple[Drawing, ...],
    *,
    halves: bool = True,
    layout: Mapping[str, Any] = A4,
    rule: Rule = METRIC,
) -> Printed:
    """The templates for a printer: of what mirrors, one half or one of a pair, if its name and both numbers of every
    mark have room there; the others as in `whole`. No lettering is where paper is joined, if it has room
    elsewhere.

    halves : False prints all as in `whole`; layout : of the sheets, as `tiling.arrange` takes it
    """
    pieces, of = foam.cut.pieces, (ground, foam, seats, spikes, anchors)
    flips = {index: flip for index in range(len(pieces)) if halves and (flip := flip_of(*of, index))}
    papers = {index: template(shell_name, *of, index, flip, rule=rule) for index, flip in flips.items()}
    papers = {index: paper for index, paper in papers.items() if _complete(paper)}
    served = {pieces[index].mirror for index in papers}
    shown = {
        index: papers.get(index, whole[index]) for index in range(len(pieces)) if index in papers or index not in served
    }
    plan = tiling.arrange(tuple(shown.values()), **layout)
    for index, placed in zip(tuple(shown), plan.placed, strict=True):
        if joints := plan.joints(placed):
            flip = flips[index] if index in papers else None
            again = template(shell_name, *of, index, flip, rule=rule, joints=joints)
            shown[index] = again if _complete(again) else shown[index]
    return Printed(tuple(shown.values()), bool(papers))


def _complete(sheet: Drawing) -> bool:
    """Whether it has its name, and every mark its number, in one line or in two."""
    said = {item.text for item in sheet.items if isinstance(item, Text)}
    marks = [item.data["mark"] for item in sheet.items if "mark" in item.data]
    return sheet.name in said and all(mark in said or set(mark.split("/")) <= said for mark in marks)
