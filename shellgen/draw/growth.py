"""Where a flat piece must grow or shrink in forming: one measure for the words on its template and for its picture."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.spatial import KDTree

from shellgen.canvas import Path, Text
from shellgen.core.arrays import Floats
from shellgen.draw.placing import Room

PALM = 20.0
"""mm around a spot over which its growth is averaged (chosen: what the heel of a hand presses at once)."""
SHOWN = 0.01
"""Growth that is written on a template (chosen: 1 mm in 100 is what a maker can measure)."""
NEAR_MOST = 0.9
"""Share of the largest growth that the foam has where the words lie (chosen)."""
HEIGHTS = (3.5, 2.5, 1.8)  # ISO 3098


def growth(middles: Floats, stretch: Floats) -> Floats:
    """(m,) by how much lengths change at each triangle of a flat piece, averaged over a palm; below 0 they shrink.

    middles : (m, 2) mm, of the triangles; stretch : (m, 2) as `FlatPiece.stretch`
    References: the root of a ratio of areas is the geometric mean of the two principal stretches.
    """
    grown = np.sqrt(stretch.prod(axis=1)) - 1
    return np.array([grown[near].mean() for near in KDTree(middles).query_ball_point(middles, PALM)])


def growth_words(
    middles: Floats, stretch: Floats, room: Room, *, shows: Callable[[Floats], bool] = lambda _: True
) -> list[Text | Path]:
    """The largest growth and shrinkage in words: where they are, or at the end of a leader line from there.

    middles : (m, 2) mm on the sheet; shows : whether the sheet shows a point
    """
    change, words = growth(middles, stretch), list[Text | Path]()
    shown, triangles = np.array([shows(at) for at in middles]), KDTree(middles)
    for verb, share in (("stretch", change), ("compress", -change)):
        share = np.where(shown, share, 0.0)
        most = float(share.max())
        if most > SHOWN:
            there, said = middles[share.argmax()], [f"{verb} here {100 * most:.1f} %"]
            spots = room.spots(there, most=40)
            spots = spots[share[triangles.query(spots)[1]] >= NEAR_MOST * most] if len(spots) else spots
            words += room.place(said, HEIGHTS, spots) or room.lead(said, HEIGHTS[1:], there)
    return words
