"""What a step of the guide uses: the record, the drawings and the maker's units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from shellgen.canvas import Drawing
from shellgen.canvas.rule import INCH, Rule
from shellgen.core.arrays import Floats
from shellgen.draw.order import PaperEntry
from shellgen.guide.leaf import Block, Step, Warn
from shellgen.model import Spike
from shellgen.pattern.joins import Join
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.preset import Preset
from shellgen.record import Record
from shellgen.record.plan import TaskEntry
from shellgen.spikes.core import Core
from shellgen.wear import Wear

OUNCE, POUND, FLUID_OUNCE = 28.349523125, 453.59237, 29.5735295625
"""g, g and mL: exact by definition, or with far more digits than a scale shows (NIST Handbook 44, appendix C)."""


@dataclass(frozen=True, slots=True, eq=False)
class Kit:
    """name, ground, foam : of the shell; heat : as `Proof.heat`; cores : of its spikes; centre : of its mass

    figures : the record; pages, drawings and prints : as `papers` made them; across : mm, width of the text on a page
    inches  : whether inches, ounces and pounds are added to millimetres and grams
    """

    preset: Preset
    name: str
    ground: Ground
    foam: Foam
    heat: Floats
    spikes: tuple[Spike, ...]
    cores: Mapping[str, Core]
    centre: Floats
    wear: Wear
    figures: Record
    joins: tuple[Join, ...]
    pages: Mapping[str, Mapping[str, tuple[str, ...]]]
    drawings: Mapping[str, Drawing]
    prints: tuple[PaperEntry, ...]
    across: float
    inches: bool

    def mm(self, value: float, digits: int = 0) -> str:
        """A length: "560 mm", or "560 mm (22 1/16 in)"."""
        return Rule(self.inches).mm(value, digits)

    def metres(self, value: float) -> str:
        """A length in metres, from mm."""
        return Rule(self.inches).metres(value)

    def grams(self, value: float) -> str:
        text = f"{value:.0f} g" if value < 1000 else f"{value / 1000:.2f} kg"
        other = f"{value / OUNCE:.1f} oz" if value < POUND else f"{value / POUND:.1f} lb"
        return f"{text} ({other})" if self.inches else text

    def amount(self, value: float, unit: str) -> str:
        """A line of the buying list."""
        unit = unit.removesuffix("s") if value == 1 else unit.replace("cm2", "cm²")
        text = f"{value:.3g} {unit}" if value < 1000 else f"{value:.0f} {unit}"
        if not self.inches or unit not in ("g", "mL", "m", "cm²"):
            return text
        if unit == "g":
            return self.grams(value)
        if unit == "cm²":
            return f"{text} ({100 * value / INCH**2:.0f} in²)"
        fluid = value / FLUID_OUNCE
        return (
            f"{text} ({fluid:.{1 if fluid >= 1 else 2}f} fl oz)"
            if unit == "mL"
            else f"{text} ({value / 0.3048:.1f} ft)"
        )

    def celsius(self, value: float) -> str:
        return f"{value:.0f} °C ({value * 1.8 + 32:.0f} °F)" if self.inches else f"{value:.0f} °C"

    def bought(self, item: str) -> str:
        """How much of an item the shell needs, by the start of its name; "" if it is not on the buying list."""
        found = [line for line in self.figures.materials if line.item.startswith(item)]
        found = [line for line in found if line.item == item] or found
        return " and ".join(f"{self.amount(line.amount, line.unit)} {line.item}" for line in found)

    def step(
        self, key: str, title: str, *, needs: Sequence[str], makes: Sequence[str], blocks: Sequence[Block | None],
        equipment: Sequence[str] = (), tasks: Sequence[str] = (),
    ) -> Step:  # fmt: skip
        """A step with its time from the plan. tasks : how the names of its tasks in the plan start"""
        mine = [t for t in self.figures.schedule if any(t.task.startswith(task) for task in tasks)]
        present = [block for block in blocks if block is not None]
        shown = tuple(sorted(present, key=lambda block: not isinstance(block, Warn)))  # cautions before any work
        hours = sum(t.hands_h for t in mine)
        dry = mine[-1].dry_h if mine else 0.0
        return Step(key, title, tuple(needs), tuple(makes), shown, tuple(equipment), hours, dry, when(mine))


def when(tasks: Sequence[TaskEntry]) -> str:
    """The days of the plan on which tasks are done."""
    if not tasks:
        return ""
    first = min(tasks, key=lambda t: t.day)
    last = max(tasks, key=lambda t: t.dry_day)
    if first.begin is None or last.dry is None:
        day = f"day {first.day}"
        return day if last.dry_day == first.day else f"days {first.day} to {last.dry_day}"
    begin, dry = (f"{datetime.fromisoformat(time):%d %B}".lstrip("0") for time in (first.begin, last.dry))
    return begin if begin == dry else f"{begin} to {dry}"


def plural(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def listed(words: Sequence[str]) -> str:
    """ "a, b and c"."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""
