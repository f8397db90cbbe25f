"""What a step of the guide uses: the record, the drawings and the maker's units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from shellgen.canvas import Drawing
from shellgen.canvas.rule import Rule
from shellgen.core.arrays import Floats
from shellgen.draw.order import PaperEntry
from shellgen.guide.leaf import Block, Step, Warn, both
from shellgen.model import Spike
from shellgen.model.said import three
from shellgen.pattern.joins import Join
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.preset import Preset
from shellgen.record import Record
from shellgen.record.plan import TaskEntry
from shellgen.spikes.core import Core
from shellgen.wear import Wear
from shellgen.workshop.materials import OILY

WORN = {"mask": "breathing mask", "goggles": "goggles", "gloves": "gloves"}
"""What the signs of a caution ask for, as it is called on the list of tools."""


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

    @property
    def rule(self) -> Rule:
        return Rule(self.inches)

    @property
    def oily(self) -> bool:
        """Whether the grooves are shaded with a paint whose rags can catch fire."""
        return self.preset.schedule.shading in OILY

    def mm(self, value: float, digits: int = 0) -> str:
        """A length: "560 mm", or "560 mm (22 1/16 in)"."""
        return self.rule.mm(value, digits)

    def metres(self, value: float) -> str:
        """A length in metres, from mm."""
        return self.rule.metres(value)

    def grams(self, value: float) -> str:
        text = f"{value:.0f} g" if value < 1000 else f"{value / 1000:.2f} kg"
        return self.rule.both(text)

    def amount(self, value: float, unit: str) -> str:
        """A line of the buying list."""
        unit = unit.removesuffix("s") if value == 1 else unit.replace("cm2", "cm²")
        text = f"{three(value)} {unit}"
        return self.grams(value) if unit == "g" and self.rule.inches else self.rule.both(text)

    def celsius(self, value: float) -> str:
        return self.rule.both(f"{value:.0f} °C")

    def bought(self, item: str) -> str:
        """How much of an item the shell needs, by the start of its name; "" if it is not on the buying list."""
        found = [line for line in self.figures.materials if line.item.startswith(item)]
        found = [line for line in found if line.item == item] or found
        return " and ".join(f"{self.amount(line.amount, line.unit)} {line.item}" for line in found)

    def step(
        self, key: str, title: str, *, needs: Sequence[str], makes: Sequence[str], blocks: Sequence[Block | None],
        equipment: Sequence[str] = (), tasks: Sequence[str] = (),
    ) -> Step:  # fmt: skip
        """A step with its time from the plan, and what its cautions ask you to wear among its tools.

        tasks : how the names of its tasks in the plan start
        """
        mine = [t for t in self.figures.schedule if any(t.task.startswith(task) for task in tasks)]
        present = [both(block, self.rule) for block in blocks if block is not None]
        shown = tuple(sorted(present, key=lambda block: not isinstance(block, Warn)))  # cautions before any work
        signs = {sign for block in shown if isinstance(block, Warn) for sign in block.signs}
        worn = [thing for sign, thing in WORN.items() if sign in signs and equipment]
        hours = sum(t.hands_h for t in mine)
        dry = mine[-1].dry_h if mine else 0.0
        return Step(key, title, tuple(needs), tuple(makes), shown, (*equipment, *worn), hours, dry, when(mine))


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
