"""What goes to the 3D printer: a list for casting the spikes, and one for printing the spikes themselves."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from shellgen.guide.kit import Kit, listed
from shellgen.guide.leaf import Block, Rows, Words
from shellgen.record.spikes import PrintEntry

COLUMNS = ("3mf files in the folder prints", "how many", "hours", "plastic")
REST = "…"
"""In the name of a file what stands in the first column, so that most fit in a line."""
Counted = Sequence[tuple[PrintEntry, int]]
"""Parts, and how many of each are printed."""


def lists(kit: Kit) -> Iterator[Block]:
    """Both lists, and what their words mean; only the second if there are no moulds."""
    moulds = list(dict.fromkeys(p.for_ for p in kit.figures.prints if p.role == "foot"))
    if moulds:
        yield Words(
            "There are two ways to use the printer; choose one for each size. To cast, print moulds: two halves "
            "close around the clay, and the foot closes them from below and shapes the underside to its place. Sizes "
            "that differ only underneath share the halves. Or print masters, the spikes themselves, some in two halves "
            f"to glue. Plan and buying list allow for one of each: {_sum([(p, 1) for p in kit.figures.prints])}."
        )
        yield Words("To cast all spikes, print these, one of each:")
        groups = [(name, [(p, 1) for p in kit.figures.prints if p.for_ == name]) for name in moulds]
        yield Rows(("mould", *COLUMNS), _rows(kit, groups))
        yield Words("To print all spikes instead, print these:")
    yield printed(kit)


def printed(kit: Kit) -> Rows:
    """The parts of all spikes themselves."""
    count = Counter(spike.master for spike in kit.figures.spikes)
    sizes = [(name, [(p, many) for p in kit.figures.prints if p.for_ == name]) for name, many in count.items()]
    return Rows(("size", *COLUMNS), _rows(kit, sizes))


def _rows(kit: Kit, groups: Sequence[tuple[str, Counted]]) -> tuple[tuple[str, ...], ...]:
    rows = [(name, _files(name, parts), *_figures(kit, parts)) for name, parts in groups]
    return (*rows, ("in all", "", *_figures(kit, [part for _, parts in groups for part in parts])))


def _files(name: str, parts: Counted) -> str:
    files = [(p.id.replace(name, REST, 1) if p.id != name else name, many) for p, many in parts]
    return listed([f"{many} × {file}" if many > 1 else file for file, many in files])


def _figures(kit: Kit, parts: Counted) -> tuple[str, str, str]:
    grams = kit.grams(sum(many * p.plastic_g for p, many in parts))
    return str(sum(many for _, many in parts)), f"{_hours(parts):.1f} h", grams


def _hours(parts: Counted) -> float:
    return sum(many * p.minutes for p, many in parts) / 60


def _sum(parts: Counted) -> str:
    return f"{sum(many for _, many in parts)} parts, {_hours(parts):.0f} hours"
