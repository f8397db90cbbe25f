"""What the plan is computed from: the maker's hours and choices, and how much there is to do."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from shellgen.fields import params as field

SHADING_DRY = {"oil": 72.0, "alkyd": 24.0, "acrylic": 1.0}
"""Hours until shading may be touched. Oil up to three days in a thin film of fast colours, alkyd 12 to 48 hours
(makers of artists' colours), acrylic minutes; acrylic is given an hour here (common practice)."""

LONGER_WEEKENDS, MOST_WEEKEND = 2.5, 10.0
"""Free hours on a day of the weekend for each on a working day, and the most (chosen: two become five)."""
WEEKENDS_ONLY = 5.0
"""Free hours on a day of the weekend where working days have none (chosen)."""


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    event: date | None = field.date(None, "The day the shell is worn, YYYY-MM-DD; without it days are only counted.")
    start: date | None = field.date(None, "The first day there is time; left out, the plan only says when to begin.")
    prefer: str = field.choice(
        "late",
        ("late", "early"),
        "Work as late as possible, or early, from the start: spare days come before the event.",
    )
    weekday_hours: float = field.number(2.0, 0, 16, "Free hours on a working day.", "h")
    weekend_hours: float | None = field.number(
        None,
        0,
        16,
        "Free hours on a Saturday or Sunday; left out, 2.5 for each hour on a working day, 10 at most.",
        "h",
    )
    begin_at: float = field.number(18.0, 0, 23, "Hour of the day at which they begin.", "h")
    reserve: int = field.count(1, 0, 30, "Whole days kept free before the event.")
    hands: int = field.count(1, 1, 24, "How many people work; two are not twice as fast.")
    printers: int = field.count(1, 1, 24, "How many 3D printers you can use at the same time.")
    printer_hours: float = field.number(
        24.0, 1, 24, "Hours a day in which a printer may run, counted from the hour at which you begin.", "h"
    )
    shading: str = field.choice("oil", tuple(SHADING_DRY), "What the grooves are shaded with: oil dries longest.")
    pace: float = field.ratio(1.0, 0.3, 4.0, "Your pace: 2 if everything takes you twice as long as estimated.")
    glue_dry: float = field.number(12.0, 0, 96, "From gluing to full strength.", "h")
    clay_dry: float = field.number(36.0, 2, 240, "Foam clay from wet to dry: about a day, two in a mould.", "h")
    cube_dry: float = field.number(72.0, 12, 240, "The 40 mm test cube of foam clay from wet to dry: 2 to 5 days.", "h")
    primer_dry: float = field.number(1.5, 0.1, 48, "Between coats of PVA wood glue.", "h")
    paint_dry: float = field.number(1.0, 0.1, 48, "Between coats of acrylic paint.", "h")

    def free(self, day: date) -> float:
        """Free hours of a day."""
        return self.weekend if day.weekday() >= 5 else self.weekday_hours

    @property
    def weekend(self) -> float:
        """Free hours on a Saturday or Sunday."""
        if self.weekend_hours is not None:
            return self.weekend_hours
        return min(LONGER_WEEKENDS * self.weekday_hours, MOST_WEEKEND) if self.weekday_hours else WEEKENDS_ONLY

    @property
    def evening(self) -> float:
        """Hours of an evening's work: a job up to this long is done in one."""
        return self.weekday_hours or self.weekend


@dataclass(frozen=True, slots=True)
class ToPrint:
    """One part for the printer.

    mould : whether it belongs to a mould; else to a master, of which `copies` spikes are made
    walls, space  : mm3 of its skin, and of all it encloses
    across, along : mm that it covers on the bed
    """

    mould: bool
    copies: int
    walls: float
    space: float
    across: float
    along: float

    def hours(self, infill: float, flow: float) -> float:
        """infill : share of the inside; flow : mm3/s"""
        return (self.walls + infill * (self.space - self.walls)) / flow / 3600


@dataclass(frozen=True, slots=True, eq=False)
class WorkAmounts:
    """What there is to do: numbers, and metres along the lines.

    test_cube : whether the clay's shrinkage is still to be measured, which says how large masters and moulds are
    way       : how the spikes are made, as in the preset; moulds : whether clay is pressed into moulds
    coats     : of paint, by zone
    masks     : to cut out; varnish_coats : on all, at the end
    straps    : by which the shell hangs; trial : whether the glue of their patches is still to be tested
    prints    : every part that can be printed, whether or not it is; infill, flow, bed : of the printer
    """

    pieces: int
    cut_m: float
    score_m: float
    seam_m: float
    spikes: int
    masters: int
    ring_m: float
    rim_m: float
    area_m2: float
    primer_coats: int
    coats: tuple[tuple[str, int], ...]
    masks: int = 0
    varnish_coats: int = 1
    straps: int = 0
    trial: bool = False
    test_cube: bool = False
    way: str = "clay"
    moulds: bool = True
    prints: tuple[ToPrint, ...] = ()
    infill: float = 0.15
    flow: float = 6.0
    bed: tuple[float, float] = (220.0, 220.0)
