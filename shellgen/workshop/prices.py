"""What a preset may say about shopping: in what packs things are sold, what they cost, how much more to buy."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

from shellgen.errors import PresetError
from shellgen.fields import params as field
from shellgen.fields.values import listing


@dataclass(frozen=True, slots=True, eq=False)
class Item:
    item: str = field.text(field.REQUIRED, "A line of the buying list, or its first words: paint means every paint.")
    pack: float | None = field.number(None, 0.001, 1e6, "How much one pack holds, in the unit of the buying list.")
    price: float | None = field.number(None, 0.0, 1e6, "Price of one pack, in your currency.", "money")
    spare: float | None = field.ratio(None, 0.0, 3.0, "How much more to buy of this than computed.")


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    currency: str | None = field.text(None, "Your currency, as you write it: EUR, kr, pounds.", longest=12)
    items: tuple[Item, ...] = field.many(
        Item, "Packs, prices and spares of single items; sheets of foam have theirs under nest.sheets."
    )


PACKS = {
    "foam": None,
    "ring strip": None,
    "edging": None,
    "foam clay": 300.0,
    "contact adhesive": 250.0,
    "gap filler": 100.0,
    "PVA wood glue": 500.0,
    "paint": 60.0,
    "oil paint for shading": 37.0,
    "alkyd paint for shading": 37.0,
    "acrylic paint for shading": 60.0,
    "clear varnish": 250.0,
    "thinner for shading": 100.0,
    **{f"brush for {use}": 1.0 for use in ("glue", "primer", "paint", "varnish", "shading")},
    "masking tape": 25.0,
    "print filament": 1000.0,
    "ready-made spikes": 1.0,
    "strap": 1.0,
    "buckle": 1.0,
    "strong thread": 50.0,
    "thick needle": 1.0,
    "shoulder pad": 1.0,
    "soft foam for pads": 2500.0,  # cm2 of sheet
}
"""What one pack usually holds, in the unit of the buying list (common practice, no source); sheets and strips are
counted by the nesting and the cut lists."""


def check(params: Params, items: Iterable[str]) -> None:
    """PresetError for an item that no buying list has, or that stands there twice.

    items : lines that this list may have in addition to the usual ones
    """
    known = {*PACKS, *items}
    for number, entry in enumerate(params.items, 1):
        where = f"prices.items[{number}].item"
        if not any(covers(entry.item, name) for name in known):
            near = get_close_matches(entry.item, known, 1, 0.5)
            hint = f"Did you mean {near[0]}?" if near else ""
            names = listing(sorted(known, key=str.lower), between="; ", rest="shellgen list items")
            problem, remedy = f'"{entry.item}" is not on the buying list.', f"Items are: {names}."
            raise PresetError(where, problem, remedy, hint=hint)
        if any(entry.item == other.item for other in params.items[: number - 1]):
            raise PresetError(where, f'"{entry.item}" stands here twice.', "Name each item once.")


def covers(word: str, item: str) -> bool:
    """Whether `word` is the item's name or its first whole words."""
    return item == word or item.startswith((f"{word} ", f"{word},"))


def terms(params: Params, item: str, *, spare: float) -> Item:
    """Pack, price and spare that hold for an item: what the maker says of it, else what is usual.

    spare : taken where the maker names none
    """
    own = [entry for entry in params.items if covers(entry.item, item)]
    usual = [pack for name, pack in PACKS.items() if covers(name, item)]
    best = max(own, key=lambda entry: len(entry.item), default=Item(item))
    return Item(
        item,
        pack=best.pack if best.pack is not None else (usual or [None])[-1],
        price=best.price,
        spare=spare if best.spare is None else best.spare,
    )
