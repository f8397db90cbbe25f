"""Seams listed by the maker, each by the two plates on its sides; the other half is mirrored."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

from shellgen.errors import PresetError
from shellgen.fields.params import REQUIRED, many, text
from shellgen.model import Layout
from shellgen.pattern.plans._problem import ChoiceProblem


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    between: tuple[str, ...] = many(
        text(REQUIRED, 'Two plates that touch, such as "vertebral-2 / pleural-L-1".'),
        "Pairs of plates with a seam between them; the mirror image of each has one too.",
        most=1000,
        default=REQUIRED,
    )


def choose(problem: ChoiceProblem, params: Params) -> tuple[int, ...]:
    """Lines to cut. Raises PresetError for a plate that does not exist, and for plates that do not touch."""
    layout = problem.layout
    lines: set[int] = set()
    for pair in params.between:
        found = _lines(layout, pair, "seams.between")
        lines.update(found, (layout.lines[line].mirror for line in found))
    return tuple(sorted(lines))


def _lines(layout: Layout, pair: str, where: str) -> tuple[int, ...]:
    names = {plate.name: k for k, plate in enumerate(layout.plates)}
    words = [word.strip() for word in pair.split("/")]
    if len(words) != 2:
        remedy = 'Write two plates with a stroke between, such as "vertebral-2 / pleural-L-1".'
        raise PresetError(where, f"{pair!r} does not name two plates.", remedy)
    for word in words:
        if word not in names:
            close = get_close_matches(word, names, n=3, cutoff=0.0)
            remedy = f"The most similar are {', '.join(close)}."
            raise PresetError(where, f"This layout has no plate {word!r}.", remedy)
    one, other = (names[word] for word in words)
    found = tuple(
        i
        for i, line in enumerate(layout.lines)
        if line.kind == "plate" and {one, other} == {layout.cell_plate[line.left], layout.cell_plate[line.right]}
    )
    if not found:
        touching = ", ".join(_names(layout, layout.plates[one].neighbours))
        raise PresetError(where, f"The plates {pair!r} do not touch.", f"{words[0]} touches {touching}.")
    return found


def _names(layout: Layout, plates: Iterable[int]) -> list[str]:
    return [layout.plates[k].name for k in plates]
