"""The order in which parts are cut: a short way from one to the next."""

from __future__ import annotations

import numpy as np

from shellgen.core.arrays import Floats


def tour(places: Floats) -> list[int]:
    """Order in which to visit `places` (n, 2), beginning near the sheet's lower left corner.

    References: nearest neighbour, then 2-opt: Croes, "A method for solving traveling-salesman problems", Operations
    Research 6, 1958.
    """
    points = np.vstack([np.zeros(2), places])
    away = np.linalg.norm(points[:, None] - points[None], axis=2)
    order, left = [0], set(range(1, len(points)))
    while left:
        order.append(min(left, key=lambda k: (away[order[-1], k], k)))
        left.remove(order[-1])
    while (swap := _shorter(order, away)) is not None:
        first, last = swap
        order[first : last + 1] = order[first : last + 1][::-1]
    return [k - 1 for k in order[1:]]


def _shorter(order: list[int], away: Floats) -> tuple[int, int] | None:
    """The stretch whose reversal shortens an open tour most; None if none does."""
    way = np.array(order)
    count = len(way)
    first, last = np.triu_indices(count, 1)
    first, last = first[first > 0], last[first > 0]
    if not len(first):
        return None
    before, after = way[first - 1], way[np.minimum(last + 1, count - 1)]
    inner = last < count - 1
    saved = away[before, way[first]] - away[before, way[last]]
    saved += np.where(inner, away[way[last], after] - away[way[first], after], 0.0)
    best = int(saved.argmax())
    return (int(first[best]), int(last[best])) if saved[best] > 1e-9 else None
