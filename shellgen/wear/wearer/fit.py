"""Which dome fits a body, where it sits on the back, and what is wrong with one that does not fit.

The neck edge of the shell lies a little below the bone at the base of the neck, whatever the shell's size; the rim's
plane lies on the padding that the back carries. Lengths along the back are measured against the trunk (seat to base of
the neck, sitting), widths against the bony points of the shoulders: they grow with the wearer, so one set of shares
serves children and adults.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.model import Body, Finding, ShellMesh, Spike
from shellgen.wear.wearer import Params, age, complete, trunk

NECK_GAP = 0.04
"""Share of the trunk from the base of the neck down to the shell (chosen: two fingers, for a collar and to look up)."""

SEAT_GAP = 0.13
"""Share of the trunk from the shell down to the seat (chosen: a hand's width; a slumping trunk sinks by this)."""

SEAT_LEAST = 0.06
"""Share of the trunk: with less room above the seat, every move pushes the shell up (chosen, half the gap)."""

BACK_LEAST = 0.75
"""Share of the back's length: a shorter shell looks like a knapsack (chosen)."""

WIDTH = 1.11
"""Share of the shoulders' breadth (chosen: it passes the bony points by two fingers on each side)."""

ELBOWS = 1.23
"""Share of the shoulders' breadth: the arms hang outside this, so a wider rim pushes them out. Breadth across the upper
arms over breadth across the bony points, medians of ANSUR II: 509 / 415 of men, 450 / 365 of women."""

ARMPITS = 0.11
"""Share of the trunk from the base of the neck down to the shoulder joints (75 mm in 680, from memory)."""

HEIGHT = 0.39
"""Share of the shell's width (chosen: round as a tortoise, and still shallow enough to sit down with)."""

PADDING = 10.0
"""Distance from the back to the plane of the rim (chosen: soft foam or a folded towel under the rim)."""

CHAIR = 420.0
"""Depth of a chair's seat (common practice); PERCH, a third of it, must be left to sit on (chosen)."""

PERCH = CHAIR / 3

DOORWAY = 815.0
"""Clear width of a doorway on an accessible way: 32 in, 2010 ADA Standards 404.2.3 (from memory)."""

HAND = 50.0
"""Room to keep on both sides in a doorway (chosen: a hand that guides the rim)."""

EYES = 0.53
"""Height of the eyes, as a share of the height from the base of the neck to the top of the head
(from memory: 113 mm below 238)."""

SEEN = 2500.0
"""Distance behind from which the floor must be visible over the shoulder (chosen: three steps back)."""


SMALLEST = 5.0
"""Percentile of grown women (ANSUR II) whose dome is the smallest that counts as a grown wearer's (chosen)."""

SCALES = (0.3, 1.4)
"""Sizes of an average adult that are tried for a dome without a wearer (chosen: 0.5 to 2.37 m)."""


@dataclass(frozen=True, slots=True)
class DomeSize:
    """The outer figures of a dome, mm."""

    length: float
    width: float
    height: float


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Where a body is in the shell's frame, and the findings.

    neck, seat : x of the bone at the base of the neck, and of the seat of a chair when sitting upright
    back       : z of the plane that touches the back
    advised    : the dome that would fit
    fits       : whether this dome has no fault or caution; `findings` holds remarks as well
    """

    neck: float
    seat: float
    back: float
    advised: DomeSize
    findings: tuple[Finding, ...]
    fits: bool = True


def size(body: Body) -> DomeSize:
    """The dome that fits, to 5 mm."""
    just = exact(body)
    return DomeSize(*(5.0 * round(x / 5) for x in (just.length, just.width, just.height)))


def exact(body: Body) -> DomeSize:
    """The dome that fits, unrounded."""
    width = WIDTH * body.shoulder_breadth
    return DomeSize((1 - NECK_GAP - SEAT_GAP) * trunk(body), width, HEIGHT * width)


def wearer_of(params: Params, dome: Floats) -> Body:
    """A body for a dome without a wearer: of usual proportions, and of the size that the dome would fit.

    params : what the preset says about the wearer; only the group and the survey count
    dome   : (n, 3) points of its outer face
    """
    long, wide = np.ptp(dome[:, 0]), np.ptp(dome[:, 1])
    whose = Params(group="adult", survey=params.survey)
    least = exact(complete(replace(whose, survey="female", percentile=SMALLEST)))
    group = age.of_shell(params.group, long, wide, least={"length": least.length, "width": least.width})
    usual = complete(whose)
    fits = exact(usual)
    scale = float(np.clip(np.sqrt(long / fits.length * wide / fits.width), *SCALES))
    return complete(replace(whose, group=group, stature=scale * usual.stature))


def neck_of(body: Body, outside: Floats) -> float:
    """x of the bone at the base of the neck, mm, behind a dome with these points (n, 3)."""
    return float(outside[:, 0].max()) + NECK_GAP * trunk(body)


def build(body: Body, mesh: ShellMesh, spikes: tuple[Spike, ...], *, notes: tuple[Finding, ...] = ()) -> Fit:
    """A dome with its spikes on a body. `notes` come before the findings here."""
    neck = neck_of(body, mesh.points)
    placed = Fit(neck, neck - trunk(body), -PADDING, size(body), ())
    tips = [spike.frame[:3, 3] + spike.height * spike.frame[:3, 2] for spike in spikes]
    outside = np.vstack([mesh.points, *tips])
    found = (
        *_along(body, placed, mesh.points),
        *_across(body, placed, mesh.points),
        *_head(body, placed, outside),
        *_going(body, placed, outside),
    )
    text = "The dome fits: arms, head and sight are free, and the wearer can sit and go through doors."
    said = found or (Finding("ok", "wearer", text),)
    return replace(placed, findings=(*notes, *said), fits=not found)


def _caution(text: str) -> Finding:
    return Finding("caution", "wearer", text)


def _limit(figure: float) -> float:
    """Rounded down to 10 mm, so that a limit does not reveal the measure behind it."""
    return 10.0 * (figure // 10)


def _along(body: Body, at: Fit, dome: Floats) -> Iterator[Finding]:
    """Covered share of the back, and sitting."""
    long, left = np.ptp(dome[:, 0]), float(dome[:, 0].min()) - at.seat
    most = _limit((1 - NECK_GAP - SEAT_LEAST) * trunk(body))
    if left < 0:
        text = (
            f"The shell reaches about {_limit(-left) + 10:.0f} mm below the seat of a chair, so the wearer cannot sit"
        )
        yield Finding("fault", "wearer", f"{text}. Make the dome at most {most:.0f} mm long; it is {long:.0f} mm.")
    elif long > most:
        text = "When the wearer sits, less than two fingers are left between shell and seat, so every move pushes it up"
        yield _caution(f"{text}. Make the dome at most {most:.0f} mm long; it is {long:.0f} mm.")
    if long < BACK_LEAST * body.back_length:
        text = f"The shell covers less than {100 * BACK_LEAST:.0f} % of the back and looks like a knapsack"
        yield _caution(f"{text}. Make the dome longer than {long:.0f} mm, at best {_limit(at.advised.length):.0f} mm.")


def _across(body: Body, at: Fit, dome: Floats) -> Iterator[Finding]:
    """Room for the arms, hanging and raised."""
    wide, most = np.ptp(dome[:, 1]), _limit(ELBOWS * body.shoulder_breadth)
    if wide > most:
        text = f"The rim is {wide:.0f} mm wide and pushes the arms out, which hang {most:.0f} mm apart"
        yield _caution(
            f"{text}. Make the dome at most {most:.0f} mm wide, or better {_limit(at.advised.width):.0f} mm."
        )
    level = at.neck - ARMPITS * trunk(body)
    upper = dome[dome[:, 0] >= level]
    high = np.ptp(upper[:, 1]) if len(upper) else 0.0
    if high > body.shoulder_breadth:
        most = _limit(body.shoulder_breadth)
        text = f"At the shoulders the shell is {high:.0f} mm wide, so the arms cannot be raised freely"
        yield _caution(f"{text}. There is room for {most:.0f} mm: reduce squareness or taper to narrow the neck end.")


def _head(body: Body, at: Fit, outside: Floats) -> Iterator[Finding]:
    """Turning and tipping the head, and the view over the shoulder."""
    over = float(outside[:, 0].max()) - at.neck
    if over > 0:
        text = f"A spike is about {_limit(over) + 10:.0f} mm above the base of the neck, where the head turns"
        yield _caution(f"{text}. Lean it towards the rear, shorten it or leave it out.")
    seen = sight(body, at, outside)
    if seen > SEEN:
        where = f"nearer than {seen / 1000:.1f} m" if np.isfinite(seen) else "at all"
        text = f"Over the shoulder, the wearer cannot see the floor behind {where}; {SEEN / 1000:.1f} m would be safe"
        yield _caution(
            f"{text}. Make the dome with its spikes lower than {np.ptp(outside[:, 2]):.0f} mm, or walk with a guide."
        )


def sight(body: Body, at: Fit, outside: Floats) -> float:
    """Distance behind the eyes from which the floor is visible over the shell, mm; inf if it never is.

    outside : (n, 3) points of the shell. The eyes of the turned head are taken a quarter of the chest's depth before
    the back; a line of sight is free when it passes above every point.
    """
    head = body.stature - body.neck_height
    across, up = at.neck + EYES * head, at.back - body.chest_depth / 4
    behind = outside[outside[:, 2] > up]
    slope = ((across - behind[:, 0]) / (behind[:, 2] - up)).min()
    return float((body.neck_height + EYES * head) / slope) if slope > 0 else float("inf")


def _going(body: Body, at: Fit, outside: Floats) -> Iterator[Finding]:
    """Chairs and doorways."""
    tall, wide = float(outside[:, 2].max()), float(np.ptp(outside[:, 1]))
    depth, room = body.chest_depth - at.back + tall, DOORWAY - 2 * HAND
    if PADDING + tall > CHAIR - PERCH:
        text = f"On a chair with a back, the shell pushes the wearer {PADDING + tall:.0f} mm forward"
        yield _caution(f"{text}; up to {CHAIR - PERCH:.0f} mm leave room to sit. Provide a stool or bench.")
    if wide > room:
        yield _caution(
            f"The shell is {wide:.0f} mm wide; an accessible doorway has room for {room:.0f} mm. Go through sideways."
        )
    if depth > room:
        text = f"Sideways, wearer and shell are {_limit(depth) + 10:.0f} mm deep; a doorway has room for {room:.0f} mm"
        yield _caution(f"{text}. Make the dome lower, or watch the spikes at every door.")
