"""What there is to say of spikes that do not fit, with what would make them fit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from shellgen.model import Finding, Spike
from shellgen.model.said import several

SMALLEST = 8.0
"""mm: a base under this is left out (chosen: no strip of foam closes round it)."""
NEIGHBOUR = "a neighbour"
OFF = "the place where the shell turns away from its base"
"""What a spike is too near to that does not meet the shell all round, or runs out on it too thin."""


@dataclass(frozen=True, slots=True)
class Short:
    """A spike that may not be made smaller and is `distance` from what it is too near to, or from its neighbour
    `other`, where `asked` is the least; distance is None for one that does not meet the shell all round."""

    spike: int
    asked: float
    distance: float | None = None
    other: int | None = None
    near: str = OFF


@dataclass(frozen=True, slots=True)
class Cure:
    """base : the largest that fits; tip : the bluntest that it then takes, or 0 if that asked for does; upright :
    whether it must not lean"""

    base: float
    tip: float
    upright: bool

    def __str__(self) -> str:
        sharp = f" with a tip of radius {self.tip:g} mm" if self.tip else ""
        return f"a base of at most {self.base:g} mm{sharp}{' and no lean' if self.upright else ''}"


def faults(asked: list[Spike], short: list[Short], cures: dict[int, Cure]) -> list[Finding]:
    """A fault for each thing that some come too near to."""
    found = []
    for words in dict.fromkeys(s.near for s in short if s.distance is not None):
        some = [s for s in short if s.near == words]
        worst = min(some, key=_spare)
        who = asked[worst.spike].name + (f" and {asked[worst.other].name}" if worst.other is not None else "")
        ill = list(dict.fromkeys(i for s in some for i in (s.spike, s.other) if i is not None))
        text = (
            f"{several(asked[i].name for i in ill)}: too near to {words}. The worst is {who}, "
            f"{_away(worst)} where {worst.asked:g} mm is asked.{_help(asked, ill, cures)}"
        )
        found.append(Finding("fault", "spikes", text))
    return found


def _spare(short: Short) -> float:
    assert short.distance is not None
    return short.distance - short.asked


def _away(short: Short) -> str:
    assert short.distance is not None
    near = "over it by" if short.distance < 0 else "off by"
    return f"{near} {abs(short.distance):.1f} mm"


def _help(asked: list[Spike], ill: list[int], cures: dict[int, Cure]) -> str:
    """What would let all of them stand, as far as anything would: the remedy of the one that needs the most."""
    text, hopeless = "", [asked[i].name for i in ill if i not in cures]
    if cured := [cures[i] for i in ill if i in cures]:
        text = f" Ask for {_least(cured)}, or set may_shrink: yes."
    if hopeless:
        text += f" {several(hopeless)} would not fit with a base of {SMALLEST:g} mm: ask for fewer or move them."
    return text


def _least(cures: Iterable[Cure]) -> Cure:
    """What lets all of them stand."""
    of = list(cures)
    tip = min((cure.tip for cure in of if cure.tip), default=0.0)
    return Cure(min(cure.base for cure in of), tip, any(cure.upright for cure in of))


def shrunk(asked: list[Spike], kept: list[Spike | None], cures: dict[int, Cure], why: dict[int, str]) -> list[Finding]:
    """What was made smaller or left out: a sentence for each change, and for each cause. why : of those left out"""
    said: dict[str, list[str]] = {}
    gone: dict[tuple[str, bool], list[int]] = {}
    for i, (before, after) in enumerate(zip(asked, kept, strict=True)):
        if after is None:
            gone.setdefault((why[i], i in cures), []).append(i)
        elif after.shape != before.shape:
            change = f"base reduced from {before.base_diameter:g} to {after.base_diameter:g} mm, so that it fits"
            said.setdefault(change, []).append(before.name)
    for (cause, cured), spikes in gone.items():
        needs = f"it takes {_least(cures[i] for i in spikes)}" if cured else f"not even a base of {SMALLEST:g} mm fits"
        text = f"left out, too near to {cause}: {needs}{'' if cured else ', so move it'}"
        said.setdefault(text, []).extend(asked[i].name for i in spikes)
    return [Finding("caution", "spikes", f"{several(names)}: {change}.") for change, names in said.items()]
