"""The buying list: every amount with its spare, rounded up to what shops sell, and what it comes to in money."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

from shellgen.canvas import Table
from shellgen.model import Amount
from shellgen.model.said import three
from shellgen.spikes.casting import Casting
from shellgen.workshop import prices
from shellgen.workshop.nest import Nest
from shellgen.workshop.stock import CutList

EXACT = 1e-9
"""Share by which a pack may be overfilled: rounding, no more."""


@dataclass(frozen=True, slots=True, eq=False)
class Purchase:
    """One line of the list.

    amount : without spare, in `unit`; buy : packs times pack
    pack   : what one pack holds, in `unit`; price, cost : of one pack and of all, None without a price
    how    : the sum in words and figures, from what was measured to what to buy
    """

    item: str
    amount: float
    unit: str
    spare: float
    pack: float
    packs: int
    price: float | None
    how: str

    @property
    def buy(self) -> float:
        return self.packs * self.pack

    @property
    def cost(self) -> float | None:
        return None if self.price is None else round(self.packs * self.price, 2)


@dataclass(frozen=True, slots=True, eq=False)
class Buying:
    """All lines; the total of those with a price, None if none has one."""

    lines: tuple[Purchase, ...]
    currency: str
    total: float | None


def build(
    amounts: Sequence[Amount],
    nested: Nest,
    ring_stock: CutList,
    edging_stock: CutList,
    cast: Casting,
    params: prices.Params,
    spare: float,
) -> Buying:
    """The list, in the order of the amounts, sheets of foam first and filament last.

    spare : share to buy more of what is poured and spread, where the maker names none for an item
    """
    lines = [*_foam(nested)]
    cuts = {"ring strip": ring_stock, "edging": edging_stock}
    for amount in (*amounts, *_filament(cast)):
        if amount.item in cuts:
            lines += _strips(amount, cuts[amount.item], params, spare)
        elif amount.unit != "m2":  # areas of foam, which is bought by the sheet
            lines.append(_poured(amount, params, spare))
    costs = [line.cost for line in lines if line.cost is not None]
    return Buying(tuple(lines), params.currency or "", round(sum(costs), 2) if costs else None)


def _foam(nested: Nest) -> Iterator[Purchase]:
    """One line for each kind of sheet."""
    kinds = dict.fromkeys((sheet.thickness, str(sheet.stock), sheet.stock.price) for sheet in nested.sheets)
    for thickness, name, price in kinds:
        mine = [s for s in nested.sheets if (s.thickness, str(s.stock), s.stock.price) == (thickness, name, price)]
        area = sum(sheet.stock.length * sheet.stock.width for sheet in mine) / 1e6
        used = sum(sheet.utilisation * sheet.stock.length * sheet.stock.width for sheet in mine) / 1e6
        parts = sum(len(sheet.placements) for sheet in mine)
        how = (
            f"{_count(parts, 'piece')}, {used:.3f} m2, laid on {area:.3f} m2 by the nesting: {used / area:.0%} is used"
        )
        count, unit = len(mine), "sheets" if len(mine) > 1 else "sheet"
        yield Purchase(f"foam {thickness:g} mm, {name}", float(count), unit, 0.0, 1.0, count, price, how)


def _strips(amount: Amount, cuts: CutList, params: prices.Params, usual: float) -> Iterator[Purchase]:
    """As many lengths as the cut list takes, and more if they leave less over than the spare."""
    if not cuts.lengths:
        return
    terms = prices.terms(params, amount.item, spare=usual)
    pack, spare, least = cuts.stock / 1000, terms.spare or 0.0, len(cuts.lengths)
    packs = max(least, ceil(amount.amount * (1 + spare) / pack - EXACT))
    how = f"{amount.how}, cut from {_count(least, 'length')} of {pack:g} m, {cuts.waste:.0%} left over"
    more = f"; {amount.amount:.2f} m x {1 + spare:g} spare = {amount.amount * (1 + spare):.2f} m" if spare else ""
    yield Purchase(amount.item, amount.amount, amount.unit, spare, pack, packs, terms.price, how + more)


def _poured(amount: Amount, params: prices.Params, usual: float) -> Purchase:
    """The amount with its spare, in whole packs."""
    counted = amount.unit in ("", "pieces")
    terms = prices.terms(params, amount.item, spare=0.0 if counted else usual)
    spare = terms.spare or 0.0
    need = amount.amount * (1 + spare)
    pack = terms.pack or amount.buy or 1.0
    packs = ceil(need / pack - EXACT)
    if counted and not spare:
        how = f"{amount.how} = {amount.amount:g}" + (f"; {packs} of {pack:g}" if pack != 1 else "")
        return Purchase(amount.item, amount.amount, amount.unit, spare, pack, packs, terms.price, how)
    unit = f" {amount.unit}" if amount.unit else ""
    sums = f"{amount.how} = {three(amount.amount)}{unit}" if "=" not in amount.how else amount.how
    how = f"{sums} x {1 + spare:g} spare = {three(need)}{unit}; {packs} of {pack:g}{unit}"
    return Purchase(amount.item, amount.amount, amount.unit, spare, pack, packs, terms.price, how)


def _filament(cast: Casting) -> Iterator[Amount]:
    grams = sum(part.copies * part.plastic_g for part in cast.prints)
    if grams:
        parts = sum(part.copies for part in cast.prints)
        how = f"walls and infill of {_count(parts, 'part')} to print"
        yield Amount("print filament", grams, grams, "g", how)


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def table(buying: Buying) -> Table:
    """The list for the shop; prices and costs only if there are any."""
    columns: tuple[str, ...] = ("item", "needed", "buy", "unit", "packs")
    priced = buying.total is not None
    money = f" ({buying.currency})" if buying.currency else ""
    rows = []
    for line in buying.lines:
        row: list[Any] = [line.item, round(line.amount, 2), round(line.buy, 2), line.unit, line.packs]
        row += ["" if figure is None else figure for figure in (line.price, line.cost)] if priced else []
        rows.append((*row, line.how))
    if priced:
        columns += (f"price{money}", f"cost{money}")
        missing = sum(line.price is None for line in buying.lines)
        without = f"{_count(missing, 'line')} without a price not counted" if missing else "every line has a price"
        rows.append(("total", "", "", "", "", "", buying.total, without))
    return Table("buying", (*columns, "how computed"), tuple(rows))
