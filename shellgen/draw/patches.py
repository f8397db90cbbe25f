"""Full-size reinforcement patches with the squares for their straps, places and directions."""

from __future__ import annotations

import numpy as np

from shellgen.canvas import Drawing, Path, Text
from shellgen.canvas.rule import METRIC, Rule
from shellgen.draw import notes
from shellgen.draw.placing import texts
from shellgen.draw.strips import headed, slip
from shellgen.wear import Anchor, AnchorPatch, Wear

MARGIN = 4.0
ACROSS = 90.0
"""Least width in mm of the words under a patch (chosen: two fit side by side on any paper)."""
CROSS = "A cross on the template marks the middle of each patch: prick it through the foam before you form the piece."


def patch_sheets(wear: Wear, *, rule: Rule = METRIC) -> tuple[Drawing, ...]:
    """One for each mirrored pair of anchors."""
    pairs = zip(wear.anchors[::2], wear.anchors[1::2], strict=True)
    return tuple(_sheet(wear.patches[left.patch], left, right, rule) for left, right in pairs)


def _sheet(patch: AnchorPatch, left: Anchor, right: Anchor, rule: Rule) -> Drawing:
    size = np.array([patch.length, patch.width]) + 2 * MARGIN
    middle = size / 2
    tab = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * np.array(patch.tab) / 2 + middle
    arrow = np.array([(patch.tab[0] / 2, 0.0), (patch.length / 2 - 3.0, 0.0)]) + middle
    barb = np.array([(-3.0, 1.5), (0.0, 0.0), (-3.0, -1.5)]) + arrow[1]
    head = np.array([0.0, patch.width / 4 + patch.tab[1] / 4]) + middle
    name = f"patch-{patch.role}"
    items: tuple[Path | Text, ...] = (
        Path(patch.outline + middle, "cut", closed=True, data={"patch": name}),
        Path(tab, "mark", closed=True, data={"tab": name}),
        *(Path(tab[list(pair)], "mark") for pair in ((0, 2), (1, 3))),
        Path(arrow, "label", data={"pull": name}),
        Path(barb, "label"),
        *texts([name], head, 3.5, 0.0),
    )
    sheet = Drawing(name, float(size[0]), float(size[1]), items, name)
    return headed(sheet, instructions(patch, left, right, rule), least=ACROSS)


def instructions(patch: AnchorPatch, left: Anchor, right: Anchor, rule: Rule) -> tuple[str, ...]:
    """What to cut, and where and in which direction it is glued, in words."""
    where = f"inside {left.plate}" if left.plate == right.plate else f"inside {left.plate} and {right.plate}"
    size = rule.both(f"{patch.length:g} x {patch.width:g} mm")
    return (
        f"{left.name}, {right.name}: cut 2 of strong cloth, {size}.",
        f"Place: {where}, {rule.mm(left.along)} along the inner rim from the middle of the {left.edge} edge to each "
        f"side, then {rule.mm(left.up)} straight in, to the middle of the patch.",
        arrow_direction(left),
        f"Square: {rule.mm(patch.tab[0], None)} of the strap's end are sewn on here. "
        f"Designed for {left.pull_n:.0f} N; {_standing(left)}.",
    )


def _standing(anchor: Anchor) -> str:
    return (
        f"it carries {anchor.standing_n:.1f} N while standing"
        if anchor.standing_n >= 0.05
        else "it carries almost nothing while standing"
    )


def arrow_direction(anchor: Anchor) -> str:
    """The arrow's direction, as the maker sees it from the rim."""
    degrees = abs(np.degrees(anchor.turn))
    if degrees < 7.5:
        return "The arrow points straight to the rim."
    towards = "head" if anchor.turn > 0 else "tail"
    if degrees > 172.5:
        return "The arrow points straight away from the rim."
    return f"The arrow is turned {5 * round(degrees / 5)}° from the straight line to the rim, towards the {towards}."


def patch_words(wear: Wear) -> Drawing:
    """Instructions for all patches, on a separate slip."""
    vest = all(strand.cloth for strand in wear.strands)
    return slip("about the patches", (notes.PRINT, CROSS, *notes.fastening(vest=vest), notes.GLUE))
