"""Cutting the foam, sheet by sheet."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.draw.template import NOTEWORTHY_BEVEL
from shellgen.guide.kit import Kit, plural
from shellgen.guide.leaf import Block, Gallery, Picture, Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import KNIFE
from shellgen.guide.steps._pieces import bare
from shellgen.guide.steps.paper import twice

PLACE = 50
DEGREE = 57.29577951308232
TALL = 85.0
SQUARISH = 1.2
"""Width over height up to which two sheets are shown side by side (chosen: their names can still be read)."""


def steps(kit: Kit) -> Iterator[Step]:
    sheets = kit.figures.sheets
    shown = "picture" if len(sheets) == 1 else "pictures"
    yield kit.step(
        "cut",
        "Cut the foam",
        needs=("templates", "materials", "tools"),
        makes=("flat pieces",),
        equipment=("knife with a new blade", "cutting mat", "long steel rule", "pins", "masking tape", "pencil",
              "pricking wheel", f"{kit.mm(3)} hole punch"),
        tasks=("cut the foam",),
        blocks=(
            KNIFE,
            Words(f"{plural(len(sheets), 'sheet')} of foam, textured side up, laid out as in the {shown}. If your "
                  "sheets are another size, arrange the templates as you like without overlaps."),
            *_pictures(kit),
            Ticks(
                (
                    "Pin or tape the templates down and draw around them. Prick the registration marks into the edge "
                    "and write their numbers next to them in pencil, on the textured side.",
                    *_flipped(kit),
                    "Transfer the score lines, the seats of the spikes and their names through the paper, with a "
                    "pricking wheel or through slits.",
                    *_corners(kit),
                    *_anchors(kit),
                    "Cut with a new blade in two or three long strokes; do not press through in one. Follow the "
                    f"numbers in the {shown}: that order keeps the sheet in one piece as long as possible.",
                    *_darts(kit),
                    "Write each piece's name on its inside before you put it aside.",
                )
            ),
            *_bevels(kit),
        ),
    )  # fmt: skip


def _darts(kit: Kit) -> Iterator[str]:
    if any(join.dart for join in kit.figures.joins):
        yield (f"Darts: punch a {kit.mm(3)} hole at the small circle, cut in from the edge and stop at the hole. "
               "It keeps the foam from tearing.")  # fmt: skip


def _flipped(kit: Kit) -> Iterator[str]:
    pairs, halves = twice(kit)
    if halves:
        yield ("Where the paper is a half, cut it along the flip line and draw a straight line on the foam. Lay the "
               "flip line on it, draw around the paper, flip it over there and draw around it again.")  # fmt: skip
    if pairs:
        yield "Where the paper is one of a pair, flip it over for the other piece."
    if pairs or halves:
        yield ("The back of the paper is blank. So prick every line, mark and seat through it, with the print up, "
               "before you flip it. Then hold its back against a bright window and write next to the holes what shows "
               "through: of two numbers or names the second counts, so of 3/7 write 7, of L/R write R.")  # fmt: skip


def _corners(kit: Kit) -> Iterator[str]:
    if any(line.kind == "plate" for line in kit.ground.layout.lines):
        yield ("Prick the corners of the plates right through the foam too: then you find the plates on the inside, "
               "where you heat and push.")  # fmt: skip


def _anchors(kit: Kit) -> Iterator[str]:
    if kit.figures.wear.anchors:
        yield ("Prick the crosses of the strap anchors right through the foam. You need them on the inside when you "
               "fit the straps.")  # fmt: skip


def _pictures(kit: Kit) -> Iterator[Picture | Gallery]:
    """Every sheet, side by side if all are about as high as they are wide."""
    pictures = []
    for sheet in kit.figures.sheets:
        drawing = bare(kit.drawings[f"sheets/{sheet.id}-order.svg"])
        size = f"{kit.mm(sheet.length_mm)} by {kit.mm(sheet.width_mm)}"
        pictures.append(Picture(drawing, f"{sheet.id}, {size}: {', '.join(sheet.pieces)}.", TALL))
    if len(pictures) > 1 and all(of.drawing.width < SQUARISH * of.drawing.height for of in pictures):
        yield Gallery(tuple(pictures))
        return
    yield from pictures


def _bevels(kit: Kit) -> Iterator[Block]:
    tilted = [s for s in kit.figures.seams if abs(s.bevel_deg) > NOTEWORTHY_BEVEL * DEGREE]
    if not tilted:
        yield Words("Hold the blade upright at every edge. You form the pieces to the dome's curve before you glue "
                    "them, so the edges meet square: no seam of this shell needs a bevel.")  # fmt: skip
        return
    yield Words("Tilt the blade along these seams by the angle given, the same on both pieces, so that the inner face "
                "is shorter than the outer face. If the angle is negative, the inner face is longer. Cut all other "
                "edges upright.")  # fmt: skip
    yield Rows(("seam", "bevel", "marks"), tuple(
        (s.id, f"{s.bevel_deg:.0f}°", f"{s.marks[0]} to {s.marks[-1]}") for s in tilted))  # fmt: skip
