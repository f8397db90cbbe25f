"""How much clay the spikes take, and how a maker measures what the clay does in drying."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shellgen.canvas.rule import METRIC, Rule
from shellgen.spikes.core import Core
from shellgen.spikes.solids import Master, volume

EDGE = 40.0
"""mm of the test cube (chosen: large enough to be measured to half a per cent with a school ruler)."""


def cube_steps(rule: Rule = METRIC) -> tuple[str, ...]:
    """The recipe, step by step (common practice, no source: no published figure for foam clay was found)."""
    return (
        f"Press clay from the lot you will use into a cube of {rule.mm(EDGE)}; mark it and measure all three ways at "
        "once.",
        "Weigh it, write weight and date on a card, and stand it on a rack where the spikes will dry.",
        "Turn it daily; when two weighings a day apart agree within 1 % it is dry (2 to 5 days; longer in the cold).",
        "Measure the three ways again at the marks and take the mean of each set.",
        "shrinkage = 1 - dry mean / wet mean. Write it into the preset (making: shrinkage), such as 4 %.",
        f"Wet and dry weight over the wet volume, {rule.volume(EDGE**3)}, show how much to buy and what the finished "
        "spikes will weigh.",
        "Sand and drill dry clay outdoors or with a dust mask that suits fine dust, and follow the clay's own label.",
    )


@dataclass(frozen=True, slots=True)
class Clay:
    """dry, wet : mm3 of clay in all spikes, cores subtracted; the same where the shrinkage is not yet measured."""

    dry: float
    wet: float
    measured: bool

    @property
    def cube(self) -> float:
        """mm3 of clay for a test cube, where one is still to be dried."""
        return EDGE**3 if self.wet and not self.measured else 0.0


def enlargement(rate: float | None) -> float:
    """How much larger than the finished spike clay is laid: 1 / (1 - shrinkage); 1 where it was not measured."""
    return 1.0 if rate is None else 1 / (1 - rate)


def amount(masters: tuple[Master, ...], cores: Mapping[str, Core], rate: float | None) -> Clay:
    """Clay for every spike of the masters. The cores, by master, are as large as the wet clay that covers them."""
    larger = enlargement(rate) ** 3
    saved = {name: core.volume for name, core in cores.items()}
    wet = 0.0 + sum(len(m.spikes) * (larger * volume(m.solid) - saved.get(m.name, 0.0)) for m in masters)
    return Clay(wet / larger, wet, rate is not None)
