"""Who wears it, what it takes and when it is made."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from shellgen.core.arrays import Floats
from shellgen.model._freeze import freeze
from shellgen.model.built import Finding


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """Who wears the shell, as far as the shell must know; mm and kg, in everyday clothes without shoes.

    group           : "adult" or "child"
    shoulder_breadth: biacromial, between the bony points of the shoulders
    back_length     : from the bone at the base of the neck down the spine to the waist
    neck_height     : of the bone at the base of the neck above the floor
    stated          : names of the measures that were measured; the others are estimated from a survey
    """

    group: str
    stature: float
    mass_kg: float
    shoulder_breadth: float
    back_length: float
    chest_depth: float
    chest_breadth: float
    hip_breadth: float
    neck_girth: float
    neck_height: float
    sitting_height: float
    stated: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Amount:
    """One line of the buying list.

    amount : without spare, in `unit`; buy : with it, rounded up to what can be measured out
    how    : the sum in words and figures
    """

    item: str
    amount: float
    buy: float
    unit: str
    how: str


@dataclass(frozen=True, slots=True, eq=False)
class Materials:
    """amounts; mass_g of the finished shell and its standard uncertainty; centre (3,) of mass, mm"""

    amounts: tuple[Amount, ...]
    mass_g: float
    mass_uncertainty_g: float
    mass_parts: tuple[tuple[str, float], ...]
    centre: Floats

    def __post_init__(self) -> None:
        freeze(self)


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """Something to do: hours at the bench, hours to dry, and the names of what must be dry before."""

    name: str
    hands_h: float
    dry_h: float
    after: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """A task in the calendar: the stretches of work, its first beginning, its last end, and when it is dry."""

    task: Task
    spans: tuple[tuple[datetime, datetime], ...]
    begin: datetime
    end: datetime
    dry: datetime


@dataclass(frozen=True, slots=True, eq=False)
class Saving:
    """A change that saves time: how many days later work may begin, and whether that is soon enough."""

    change: str
    gained_days: int
    enough: bool


@dataclass(frozen=True, slots=True, eq=False)
class Schedule:
    """Jobs by their beginning; the critical chain and its hours, drying counted; hours at the bench in all.

    event : the day it is worn; None where none is given: the days then only tell how far they lie apart
    ready : when all is dry
    """

    jobs: tuple[Job, ...]
    chain: tuple[str, ...]
    chain_h: float
    hands_h: float
    begin: datetime
    findings: tuple[Finding, ...]
    event: date | None
    ready: datetime
    ways: tuple[Saving, ...]

    def day(self, at: datetime) -> int:
        """Number of a day, the first day of work being 1."""
        return (at.date() - self.begin.date()).days + 1
