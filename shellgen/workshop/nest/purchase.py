"""Which sheets to take: the cheapest set whose area suffices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from shellgen.fields import params as field

NODES = 2000
"""Branches that the search for whole numbers may open; counted, not timed, so that equal input gives equal output."""
EACH = 1e-4
"""What one sheet more weighs against the cost of a mean sheet: of equal costs, the fewest sheets (chosen small)."""


@dataclass(frozen=True, slots=True, eq=False)
class Stock:
    """One kind of sheet to be had, or an offcut."""

    length: float = field.length(field.REQUIRED, 50, 5000, "Length of the sheet; the grain runs along it.")
    width: float = field.length(field.REQUIRED, 50, 5000, "Width of the sheet.")
    thickness: float | None = field.length(None, 0.5, 100, "Its thickness; that of the shell's foam if left out.")
    count: int | None = field.count(None, 0, 999, "How many there are; as many as needed if left out.")
    price: float | None = field.number(
        None, 0, 1e6, "Price of one, in any currency; 0 for an offcut, its area if left out.", "money"
    )
    name: str | None = field.text(None, "What you call it.")

    def __str__(self) -> str:
        size = f"{self.length:g} x {self.width:g} mm"
        return f"{self.name} ({size})" if self.name else size

    def room(self, margin: float) -> tuple[float, float]:
        """Length and width within the margins."""
        return max(self.length - 2 * margin, 0.0), max(self.width - 2 * margin, 0.0)


def costs(kinds: Sequence[Stock]) -> tuple[float, ...]:
    """What one of each kind costs: its price; without one, its area at the mean rate of those priced."""
    paid = [k for k in kinds if k.price]
    area = sum(k.length * k.width for k in paid)
    rate = sum(k.price or 0.0 for k in paid) / area if area else 1.0
    return tuple(rate * k.length * k.width if k.price is None else k.price for k in kinds)


def cheapest(rooms: Sequence[float], prices: Sequence[float], counts: Sequence[int], area: float) -> tuple[int, ...]:
    """How many of each kind to take so that their rooms (mm2) reach `area` at the least cost; all if they never do."""
    if area <= 0:
        return (0,) * len(rooms)
    most = np.minimum(counts, np.ceil(area / np.maximum(rooms, 1e-9)))
    if most @ np.array(rooms) < area:
        return tuple(counts)
    cost = np.array(prices, float)
    cost += EACH * (cost.mean() or 1.0)
    found = milp(
        cost,
        constraints=LinearConstraint(np.array(rooms)[None] / area, 1.0, np.inf),
        integrality=np.ones(len(rooms)),
        bounds=Bounds(0, most),
        options={"node_limit": NODES},
    )
    return tuple(round(float(n)) for n in (most if found.x is None else found.x))


def bound(rooms: Sequence[float], counts: Sequence[int], area: float) -> int:
    """Fewest sheets that any layout could need, by area alone: the largest first."""
    needed = 0
    for room, count in sorted(zip(rooms, counts, strict=True), reverse=True):
        if area <= 1e-9 or room <= 0:
            break
        taken = min(count, int(np.ceil(area / room - 1e-9)))
        needed, area = needed + taken, area - taken * room
    return needed
