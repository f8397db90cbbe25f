"""Words under a drawing: what to do with it, and the usual caution where a step can hurt."""

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
"""mm of a sheet with words under it (chosen: some fifty letters to a line)."""

KNIFE = (
    "Caution, knife: a sharp blade on a cutting mat, strokes away from your hand and fingers, the blade out of "
    "children's reach."
)
BURN = (
    "Caution, hot tool: it burns skin and the foam gives off fumes. Work outdoors or with the air drawn away from you, "
    "use the respirator and gloves that the labels of foam and tool name, never burn foam that may be PVC, keep the "
    "tool in its stand and water at hand."
)
CARVE = (
    "Caution, knife and dust: cut away from your hand; rasps and grinders make fine dust, so work outdoors or with "
    "extraction, with the mask and goggles that the tool's label names."
)
HEAT = (
    "Caution, heat gun: its nozzle and the foam burn skin. Keep it moving, work with fresh air, follow the labels of "
    "gun and foam, and let nothing that burns lie near."
)
GLUE = (
    "Caution, contact adhesive: many give off vapours that burn and harm. Read the label, no flames or hot tools near, "
    "fresh air, and the respirator and gloves it names."
)
SPRAY = coats.SPRAYED
STRAPS = (
    "First sew: each strap's end to the tab of its patch, round the square and across it, with strong thread and a "
    "thick needle, before any glue.",
    "Then glue: mark the anchor inside the shell, roughen the foam, spread contact adhesive on foam and patch, wait as "
    "its label says, press hard from the middle outwards. Where a groove or seam runs under a patch, the patch goes "
    "over it. Let it set for a day.",
    "Then the hang test: hang the shell by each strap for an hour, a bag of three times its weight in it, close above "
    "the floor, and look at the edges of every patch. Look again before every wearing.",
)
"""How straps are fastened, in this order, on paper and in the guide."""


def with_notes(drawing: Drawing, notes: Sequence[str]) -> Drawing:
    """The drawing with lines of words below it; it grows as it must, and what stood on it moves up unchanged."""
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
