"""The straps of a harness on the figure of the wearer, as ribbons that do not pass through it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from scipy.ndimage import gaussian_filter1d

from shellgen.canvas import Colour, ScenePart
from shellgen.core.arrays import Floats, Ints
from shellgen.core.memory import remembered
from shellgen.geom.curves import arc_length, at_arc_length
from shellgen.model import Body
from shellgen.pipeline.wear import Worn
from shellgen.wear import Run
from shellgen.wear.wearer import mannequin
from shellgen.wear.wearer.fit import Fit

WEBBING: Colour = (70, 74, 78)
STEP = 6.0
"""mm from one cross-line of a ribbon to the next (chosen)."""
GAP, THICK = 3.0, 3.0
"""mm between figure and ribbon, and of the ribbon: so that none of it sinks into the figure (chosen)."""
SMOOTH = 2.5
"""Cross-lines over which a ribbon's bends are rounded (chosen)."""
SHOULDER = 90.0
"""mm below the neck, above which a ribbon also faces upwards (chosen)."""


def straps(worn: Worn) -> tuple[ScenePart, ...]:
    """One part for each strap of webbing of a shell whose wearer is known."""
    if worn.body is None or worn.fit is None:
        return ()
    parts, at = [], 0
    for strand in worn.wear.strands:
        for line in _lines(worn.wear.runs[at : at + strand.count]) if not strand.cloth else ():
            vertices, faces = _ribbon(line, strand.width, worn.body, worn.fit)
            parts.append(ScenePart(strand.name, vertices, faces, WEBBING, "wearer", solid=False))
        at += strand.count
    return tuple(parts)


def _lines(runs: Sequence[Run]) -> Iterator[Floats]:
    """(n, 3) the way of each strap from end to end: one on each side, or one around to its own mirror image."""
    if len(runs) == 1:
        yield np.vstack([runs[0].path, runs[0].mirrored().path[::-1]])
        return
    for first, second in (runs, [run.mirrored() for run in runs]):
        yield np.vstack([first.path, second.path[::-1]])


@remembered
def _ribbon(line: Floats, width: float, body: Body, fit: Fit) -> tuple[Floats, Ints]:
    """Vertices and faces, both sides of it."""
    long = arc_length(line)[-1]
    middle = at_arc_length(line, np.linspace(0.0, long, max(4, round(long / STEP))))
    middle = mannequin.clear_of(middle, body, fit, GAP + THICK)
    middle = gaussian_filter1d(middle, SMOOTH, axis=0, mode="nearest")
    along = np.gradient(middle, axis=0)
    outward = middle - [0.0, 0.0, fit.back - body.chest_depth / 2]
    outward[:, 0] = np.maximum(middle[:, 0] - (fit.neck - SHOULDER), 0.0)
    aside = np.cross(along, outward)
    aside /= np.linalg.norm(aside, axis=1, keepdims=True)
    out = np.cross(aside, along)
    out /= np.linalg.norm(out, axis=1, keepdims=True)
    rails = [mannequin.clear_of(middle + k * width / 2 * aside, body, fit, GAP) for k in (-1, 0, 1)]
    under = np.vstack(rails)
    over = under + THICK * np.vstack([out] * len(rails))
    count = len(middle)
    one = (np.arange(len(rails) - 1)[:, None] * count + np.arange(count - 1)).ravel()
    faces = np.vstack([
        np.column_stack([one, one + 1, one + 1 + count]), np.column_stack([one, one + 1 + count, one + count])
    ])  # fmt: skip
    return np.vstack([under, over]), np.vstack([faces[:, ::-1], faces + len(under)])
