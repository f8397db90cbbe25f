"""What to buy and what it costs, in the record."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen.workshop.buying import Buying


@dataclass(frozen=True, slots=True)
class MaterialEntry:
    """One line of the buying list. amount : without spare; buy : packs times pack; cost : null if there is no price"""

    item: str
    amount: float
    buy: float
    unit: str
    spare: float
    pack: float
    packs: int
    price: float | None
    cost: float | None
    how: str


@dataclass(frozen=True, slots=True)
class CostEntry:
    """Of all lines that have a price; null if none has."""

    currency: str
    total: float | None


def materials(buying: Buying) -> tuple[MaterialEntry, ...]:
    return tuple(
        MaterialEntry(
            item=line.item,
            amount=round(line.amount, 4),
            buy=round(line.buy, 4),
            unit=line.unit,
            spare=line.spare,
            pack=line.pack,
            packs=line.packs,
            price=line.price,
            cost=line.cost,
            how=line.how,
        )
        for line in buying.lines
    )
