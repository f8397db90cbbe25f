"""Everything needed to make the spikes: printed masters, press moulds, foam cores, and how much of what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from shellgen.model import Finding
from shellgen.model.said import several
from shellgen.spikes import clay, core, mould, printing
from shellgen.spikes.making import Params
from shellgen.spikes.solids import Master

SHRINKS = "masters and moulds are at finished size, but clay shrinks"
"""How the finding about clay that was not measured begins."""


@dataclass(frozen=True, slots=True, eq=False)
class Casting:
    """prints  : masters first, then moulds, each part as it lies on the bed
    cores    : by the name of the master that they are for
    clay     : for all spikes
    """

    prints: tuple[printing.PrintedPart, ...]
    cores: Mapping[str, core.Core]
    clay: clay.Clay
    findings: tuple[Finding, ...]


class Prints(NamedTuple):
    """Parts for the printer, and what is to be said of them."""

    prints: tuple[printing.PrintedPart, ...]
    findings: tuple[Finding, ...] = ()


def build(masters: tuple[Master, ...], params: Params) -> Casting:
    """Masters, moulds and cores, larger than the finished spikes by the clay's shrinkage."""
    cores = cores_of(masters, params)
    amount = clay_of(masters, cores, params)
    return together(masters, cores, amount, masters_of(masters, params), moulds_of(masters, params), params)


def cores_of(masters: tuple[Master, ...], params: Params) -> dict[str, core.Core]:
    """By the name of the master; none where there are to be none, or no room for one."""
    scale = clay.enlargement(params.shrinks)
    return {
        m.name: found
        for m in masters
        if params.core
        and params.way == "clay"
        and (found := core.core(m, thickness=params.core, clay=params.clay, scale=scale))
    }


def clay_of(masters: tuple[Master, ...], cores: Mapping[str, core.Core], params: Params) -> clay.Clay:
    """Clay for all spikes; none if they are printed or bought."""
    return clay.amount(masters, cores, params.shrinks) if params.way == "clay" else clay.Clay(0.0, 0.0, True)


def masters_of(masters: tuple[Master, ...], params: Params) -> Prints:
    """The masters for the printer; if the spikes are printed, with how many of each."""
    prints = printing.masters(masters, params.printer, scale=clay.enlargement(params.shrinks))
    if params.way == "printed":
        many = {master.name: len(master.spikes) for master in masters}
        prints = tuple(replace(part, copies=many[part.serves]) for part in prints)
    return Prints(prints, printing.unpinned(prints))


def moulds_of(masters: tuple[Master, ...], params: Params) -> Prints:
    """The moulds for the printer."""
    moulded = params.moulds and params.way == "clay"
    moulds = _moulds(masters, params, clay.enlargement(params.shrinks)) if moulded else {}
    prints = (part for name, made in moulds.items() if made.draws for part in _printed(name, made, params))
    return Prints(tuple(prints), mould.findings(moulds))


def together(
    masters: tuple[Master, ...],
    cores: Mapping[str, core.Core],
    amount: clay.Clay,
    whole: Prints,
    moulds: Prints,
    params: Params,
) -> Casting:
    """What the masters and moulds are for. Nothing is printed of spikes that are bought."""
    if params.way == "bought":
        return Casting((), cores, amount, ())
    prints = (*whole.prints, *moulds.prints)
    findings = (*moulds.findings, *whole.findings, *_solid(masters, cores, params), *_too_large(prints))
    return Casting(prints, cores, amount, (*findings, *_unmeasured(masters, amount), *_hard(masters, params)))


def _solid(masters: Sequence[Master], cores: Mapping[str, core.Core], params: Params) -> list[Finding]:
    """What gets no core although cores are asked for, and why."""
    if not params.core or params.way != "clay":
        return []
    without = [master for master in masters if master.name not in cores]
    bent = [m.name for m in without if not core.straight_and_round(m)]
    small = [m.name for m in without if core.straight_and_round(m)]
    why = {
        "a core is rolled from a sheet, and fits only into a straight, round spike": bent,
        f"under {params.clay:g} mm of clay there is no room for a core {core.LEAST:g} mm high": small,
    }
    return [
        Finding(
            "caution",
            "spikes",
            f"No core for {several(names)}: {reason}. Make {'it' if len(names) == 1 else 'them'} of clay all through.",
        )
        for reason, names in why.items()
        if names
    ]


def _moulds(masters: tuple[Master, ...], params: Params, scale: float) -> dict[str, mould.PressMould]:
    """One mould for all masters of the same shape and tilt, named after the first."""
    same_shape: dict[tuple[object, float], list[Master]] = {}
    for master in masters:
        same_shape.setdefault((master.body.shape, round(master.tilt, 9)), []).append(master)
    named = {f"mould-{group[0].name}": tuple(group) for group in same_shape.values()}
    return {name: mould.press_mould(name, group, params.mould, scale=scale) for name, group in named.items()}


def _printed(name: str, made: mould.PressMould, params: Params) -> list[printing.PrintedPart]:
    roles = ("half-a", "half-b", *("foot" for _ in made.feet))
    parts = zip((*made.halves, *made.feet), roles, strict=True)
    return [printing.mould_part(solid, name, role, params.printer) for solid, role in parts]


def _too_large(prints: Sequence[printing.PrintedPart]) -> list[Finding]:
    """A caution for parts that do not fit the printer's bed."""
    names = [part.name for part in prints if not part.fits]
    if not names:
        return []
    return [
        Finding("caution", "spikes", f"{', '.join(names)}: larger than the printer's bed; have it printed elsewhere.")
    ]


def _hard(masters: tuple[Master, ...], params: Params) -> list[Finding]:
    """A word on printed spikes, which are not as soft as they look."""
    if params.way != "printed" or not masters:
        return []
    text = "the spikes are printed plastic: hard, with sharp edges where it breaks. Keep tips round; none for a child."
    return [Finding("caution", "spikes", text)]


def _unmeasured(masters: tuple[Master, ...], amount: clay.Clay) -> list[Finding]:
    """A word where the clay's shrinkage is not known."""
    if amount.measured or not masters:
        return []
    text = f"{SHRINKS}: dry a test cube first and enter its shrinkage."
    return [Finding("caution", "spikes", text)]
