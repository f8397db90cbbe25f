"""A quick look at a changed dome: the same flow on a coarser mesh, with the seams of before and less searching."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from shellgen import page
from shellgen.draw.template import templates
from shellgen.flow import Flow
from shellgen.model import Layout
from shellgen.params import Chosen
from shellgen.pipeline import dome, shell_of
from shellgen.plans import kept, listed
from shellgen.preset import Preset
from shellgen.record import record
from shellgen.shell import Shell

COARSER = 2.0
"""Edges of the quick mesh over those of the exact one (chosen: a quarter of the triangles)."""

MOST_EDGE = 40.0
"""mm, as much as a preset may ask for."""

ROUNDS = 1
"""Corrections of the flat pieces: the first does most (measured on the demos)."""


@dataclass(frozen=True, slots=True, eq=False)
class Quick:
    """preset : what is computed; told : in words, what is not as in the exact result"""

    preset: Preset
    told: str


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """told : in words, what is not as in the exact result"""

    content: page.Content
    record: Mapping[str, Any]
    told: str


def look(wanted: Preset, before: Preset | None, shell: Shell | None) -> Look:
    """Every figure of a quick look. before, shell : as in `quick`."""
    flow = Flow()
    rough = quick(wanted, dome(wanted, flow)[1].value, (before, shell) if before and shell else None)
    made = shell_of(rough.preset, flow).value
    content = page.of(made, templates(made), title=wanted.title or wanted.name or "", at_home=True)
    told = f'<p class="quick">Quick figures: {rough.told}. The exact ones follow.</p>'
    return Look(replace(content, head=content.head + told), record(made), rough.told)


def quick(wanted: Preset, plates: Layout, before: tuple[Preset, Shell] | None) -> Quick:
    """before : the last exact result and what it was made from; its seams are kept where the plates are the same."""
    edge = min(COARSER * wanted.mesh.edge, MOST_EDGE)
    rounds = min(wanted.shape.rounds, ROUNDS)
    seams = _kept(wanted, plates, before)
    told = [f"a mesh of {edge:g} mm"]
    if rounds < wanted.shape.rounds:
        told.append("one correction of the flat pieces")
    if seams is not None:
        told.append("the seams of before")
    preset = replace(
        wanted,
        mesh=replace(wanted.mesh, edge=edge),
        shape=replace(wanted.shape, rounds=rounds),
        nest=replace(wanted.nest, effort="quick"),
        seams=seams or wanted.seams,
    )
    return Quick(preset, ", ".join(told))


def _kept(wanted: Preset, plates: Layout, before: tuple[Preset, Shell] | None) -> Chosen | None:
    if before is None or repr(wanted.seams) != repr(before[0].seams) or _net(plates) != _net(before[1].layout):
        return None
    pairs = kept.pairs(before[1].layout, before[1].cut.cut_lines)
    return replace(wanted.seams, name="listed", own=listed.Params(pairs)) if pairs else None


def _net(layout: Layout) -> list[tuple[str, tuple[int, ...]]]:
    return [(plate.name, plate.neighbours) for plate in layout.plates]
