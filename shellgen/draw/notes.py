"""Words under a drawing: what to do with it, and the usual caution if a step can hurt."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import accumulate

import numpy as np

from shellgen.canvas import Drawing, Path, Text, frozen_array
from shellgen.canvas.lettering import wrapped
from shellgen.finish.paint import coats

HEIGHTS = ((400.0, 5.0), (180.0, 3.5), (0.0, 2.5))
"""mm: from this width of a sheet, lettering of this height (ISO 3098)."""
LEADING = 1.7
EDGE = 8.0
NARROWEST = 110.0
"""Least width in mm of a sheet with words under it (chosen: about fifty letters to a line)."""

KNIFE = (
    "Caution, knife: use a sharp blade on a cutting mat, cut away from your hand and fingers, and keep the blade out "
    "of children's reach."
)
BURN = (
    "Caution, hot tool: it burns skin and the foam gives off fumes. Work outdoors or with extraction, use "
    "the respirator and gloves that the labels of foam and tool name, never burn foam that may be PVC, put the tool in "
    "its stand and keep water within reach."
)
CARVE = (
    "Caution, knife and dust: cut away from your hand. Rasps and grinders make fine dust: work outdoors or with "
    "extraction, and wear the mask and goggles that the tool's label names."
)
HEAT = (
    "Caution, heat gun: its nozzle and the foam burn skin. Keep it moving, work in fresh air, follow the labels of "
    "gun and foam, and keep away anything that burns easily."
)
GLUE = (
    "Caution, contact adhesive: many give off harmful vapours that catch fire. Read the label, keep flames and hot "
    "tools away, work in fresh air, and wear the respirator and gloves it names."
)
SPRAY = coats.SPRAYED


def fastening(*, vest: bool) -> tuple[str, ...]:
    """How straps or a vest are fastened, in this order, on paper and in the guide."""
    sewn = (
        "Sew first: before you use any glue, sew the vest to each patch, around its square and across it"
        if vest
        else "Sew first: before you use any glue, lay the end of each piece on the square of its patch, on the side "
        "that will face the wearer, so that the piece runs off along the arrow. Sew it on around the square and "
        "across it"
    )
    held = "the vest at each patch" if vest else "each strap, closed,"
    return (
        f"{sewn}, with strong thread and a thick needle.",
        "Then glue the other side of the patch: mark the anchor inside the shell, roughen the foam, spread contact "
        "adhesive on foam and patch, wait as its label says, and press hard from the middle outwards. A patch may go "
        "over a groove or seam. Let it set for a day.",
        f"Then test: hang the shell by {held} for an hour, just above the floor, with a bag of three times its weight "
        "in it, and look at the edges of every patch. Look again every time before the shell is worn.",
    )


PRINT = "Print at 100 %. The rule at the foot of each page must be 100 mm long."


def with_notes(drawing: Drawing, notes: Sequence[str]) -> Drawing:
    """The drawing with lines of words below it; the sheet grows and its items move up unchanged."""
    across = max(drawing.width, NARROWEST)
    height = next(h for least, h in HEIGHTS if across >= least)
    lines = [line for note in notes for line in wrapped(note, across - 2 * EDGE, height)]
    up = EDGE + LEADING * height * len(lines)
    shifted = raised(drawing.items, up)
    words = [
        Text(line, (EDGE, up - LEADING * height * (k + 0.6)), height, layer="note") for k, line in enumerate(lines)
    ]
    return replace(drawing, width=across, height=drawing.height + up, items=(*shifted, *words))


def raised(items: Sequence[Path | Text], up: float) -> Iterator[Path | Text]:
    """The items moved up by `up` mm."""
    paths = [item.points for item in items if isinstance(item, Path)]
    points = frozen_array(np.concatenate([np.empty((0, 2)), *paths]) + np.array([0.0, up]))
    ends = accumulate(len(path) for path in paths)
    start = 0
    for item in items:
        if isinstance(item, Path):
            end = next(ends)
            yield Path(points[start:end], item.layer, item.closed, item.data, item.fill)
            start = end
        else:
            yield replace(item, at=(item.at[0], item.at[1] + up))
