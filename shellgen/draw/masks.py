"""Printed masks for painting: outline, holes, slits and what each is for."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from shellgen.canvas import Drawing, Path, Text
from shellgen.canvas.rule import METRIC, Rule
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.draw import notes
from shellgen.draw.flip import both
from shellgen.draw.placing import Room
from shellgen.draw.strips import slip
from shellgen.finish.stencils import Mask

MARGIN = 3.0
HEIGHTS = (5.0, 3.5, 2.5, 1.8)
TAB = 8.0
"""Width of a hood's glue tab, mm (chosen)."""


def mask_sheets(masks: Sequence[Mask], *, rule: Rule = METRIC) -> tuple[Drawing, ...]:
    """One Drawing per mask, true size, seen from outside; one for both of two that are mirror images."""
    flipped = {(mask.kind, mask.flips) for mask in masks}
    return tuple(_sheet(mask, flipped=(mask.kind, mask.name) in flipped, rule=rule) for mask in masks if not mask.flips)


@remembered
def _sheet(mask: Mask, *, flipped: bool, rule: Rule) -> Drawing:
    outline = _with_tab(mask.outline) if mask.kind == "hood" else mask.outline
    low = outline.min(axis=0) - MARGIN
    size = outline.max(axis=0) + MARGIN - low
    name = f"{mask.kind} {both(mask.name) if flipped else mask.name}"
    cuts = [Path(outline - low, "cut", closed=True, data={"mask": name})]
    cuts += [Path(hole - low, "cut", closed=True, data={"hole": name}) for hole in mask.holes]
    slits = [Path(slit - low, "cut", data={"slit": name}) for slit in mask.slits]
    fold = [Path(mask.outline[[0, -1]] - low, "guide")] if mask.kind == "hood" else []
    room = Room(_open(outline - low, [hole - low for hole in mask.holes]), [p.points for p in (*slits, *fold)])
    middle = shapely.Polygon(outline - low).representative_point().coords[0]
    spots = room.spots(np.array(middle), step=3.0)
    words: list[Text] = []
    for lines in _words(mask, name, flipped=flipped, rule=rule):
        words = words or list(room.place(lines, HEIGHTS, spots)) or list(room.place(lines, HEIGHTS, spots, np.pi / 2))
        words = (
            words or [t for a in (np.pi / 4, -np.pi / 4) for t in room.place(lines, HEIGHTS, spots, a)][: len(lines)]
        )
    return Drawing(name, float(size[0]), float(size[1]), (*cuts, *slits, *fold, *words), name)


def _words(mask: Mask, name: str, *, flipped: bool, rule: Rule) -> list[list[str]]:
    """The words on a mask, from the full text to the shortest."""
    count = f"make {len(mask.serves)}" if mask.kind in ("hood", "collar") and len(mask.serves) > 1 else ""
    count = "make 2, flip one" if flipped else count
    overlap = round(mask.overlap) if mask.slits else 0  # no hand lays paper more exactly
    slits = rule.both(f"slits overlap {overlap} mm") if overlap else ""
    full, own = [text for text in (name, count, slits) if text], name.removeprefix(f"{mask.kind} ")
    sizes = [mask.kind, *own.split(", "), *full[1:]]
    return [full, sizes, [name, count], [mask.kind, *own.split(" ")], [own], [own.split("-")[-1]]]


def _open(outline: Floats, holes: list[Floats]) -> Floats:
    """The outline with a thin slot to each hole, so that lettering is never in a hole."""
    shape = shapely.Polygon(outline)
    for hole in holes:
        ring = shapely.Polygon(hole)
        near = shapely.shortest_line(ring, shape.exterior)
        shape = shape.difference(ring.union(near.buffer(0.01)).buffer(0))
        shape = max(shapely.get_parts(shape), key=lambda part: part.area)
    return np.array(shape.exterior.coords)[:-1]


def _with_tab(outline: Floats) -> Floats:
    """A hood's sector with a tab along its last straight edge, from the tip to the base."""
    tip, foot = outline[0], outline[-1]
    along = (foot - tip) / np.hypot(*(foot - tip))
    aside = np.array([-along[1], along[0]])
    return np.vstack([outline, foot - TAB * along + TAB * aside, tip + 1.5 * TAB * along + TAB * aside])


def mask_words(masks: Sequence[Mask]) -> Drawing:
    """Instructions for all masks, on a separate slip."""
    kinds = {mask.kind for mask in masks}
    uses = {
        "hood": "Hood: roll it into a cone over spike and ring while you paint the plates; the tab goes inside.",
        "collar": "Collar: put it around ring or spike while you brush spike and ring; it opens at its first slit. "
        "It protects the plate, not the ring: do not spray a spike that has one.",
        "plate": "Plate: covers one plate to the middle of its grooves; its hole goes over the spike.",
        "band": "Band: put it along the rim, its longer edge on the rim's edge, while you paint the edging.",
    }
    instructions = [
        notes.PRINT,
        "Masks: print them on plain paper, cut them out with a knife and hold them with low-tack tape.",
        "Where a mask says make 18, you need 18 of it: trace the printed one, or print its page again.",
        *(("L/R: make two and flip one over, for the other side.",) if any(mask.flips for mask in masks) else ()),
        *(text for kind, text in uses.items() if kind in kinds),
        "Slits: overlap their edges by about the figure on the mask, or let them meet where it gives none, and tape "
        "them. The mask then follows the curve of the dome.",
        notes.KNIFE,
        notes.SPRAY,
    ]
    return slip("about the masks", instructions)
