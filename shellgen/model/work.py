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
    """Something to do: hours at the bench, hours to dry, and the names of what must be done and dry before.

    printer_h : hours for which a printer then runs by itself, before anything dries
    """

    name: str
    hands_h: float
    dry_h: float
    after: tuple[str, ...]
    printer_h: float = 0.0

    @property
    def wait_h(self) -> float:
        """Hours from the end of the work until the next task may begin."""
        return self.printer_h + self.dry_h


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """A task in the calendar: the stretches of work, its first beginning, its last end, and when it is
    dry or printed."""

    task: Task
    spans: tuple[tuple[datetime, datetime], ...]
    begin: datetime
    end: datetime
    dry: datetime


@dataclass(frozen=True, slots=True, eq=False)
class Saving:
    """A change that saves time: how many days later work may begin, or sooner it ends if one works early; and whether
    that is enough."""

    change: str
    gained_days: int
    enough: bool


@dataclass(frozen=True, slots=True, eq=False)
class Concession:
    """A change that gains time: what changes, what it costs in looks or money, and how painful that is."""

    change: str
    cost: str
    points: int


@dataclass(frozen=True, slots=True, eq=False)
class Offer:
    """Changes that together make the day, the lines that make them in the preset, and the plan's first and last moment
    with them."""

    changes: tuple[Concession, ...]
    lines: str
    points: int
    begin: datetime
    ready: datetime


@dataclass(frozen=True, slots=True, eq=False)
class Schedule:
    """Jobs by their beginning; the critical chain and its hours, printing and drying counted; all hours at the bench.

    event : the day it is worn; None where none is given: the days then only tell how far they lie apart
    ready : when all is dry
    fits  : whether it begins no sooner than the start, and ends in time
    ways  : single changes that gain days
    prefer   : "late" or "early"
    offers   : where it does not fit, the least painful sets of changes that make the day
    earliest : where none does, the first day that the event could be on, with all changes and without any
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
    prefer: str = "late"
    fits: bool = True
    offers: tuple[Offer, ...] = ()
    earliest: tuple[date, date] | None = None

    def day(self, at: datetime) -> int:
        """Number of a day, the first day of work being 1."""
        return (at.date() - self.begin.date()).days + 1
