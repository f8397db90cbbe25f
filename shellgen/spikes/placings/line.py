"""Along a line at equal steps: the midline, the rim, a row of plates, or the line between two plates or kinds.

`place: {at: line, along: midline, every: 60}`. Other lines: `rim`, the kind of a row (`pleural`), and two plates or
kinds with a slash between them (`vertebral / pleural`). Half a step or more stays free at each end of a line.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.errors import PresetError
from shellgen.fields import params as field
from shellgen.geom.curves import arc_length
from shellgen.spikes.groups import Group
from shellgen.spikes.placings import _lines
from shellgen.spikes.placings._ground import PITCH, AskedPlace, PlaceGround, mirrored

ON_LINES = True
EXACT = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Params:
    along: str = field.text(
        "midline", "Which line: midline, rim, a row of plates by its kind, or the line between two, such as "
        "vertebral / pleural."
    )  # fmt: skip
    count: int | None = field.count(None, 1, 99, "How many stand on each line, left and right counted on their own.")
    every: float | None = field.length(
        None, 8, 500, "From one to the next along the line. If left out: by count, or 1.5 times base and ring."
    )
    away: float | None = field.length(
        None, 0, 300, "How far from the rim or the midline they stand. If left out: a base's width, or on the midline."
    )

    def __post_init__(self) -> None:
        if self.count is not None and self.every is not None:
            raise PresetError("every", "Both count and every say how far apart they stand.", "Leave one out.")
        if self.away is not None and self.along not in (_lines.MIDLINE, _lines.RIM):
            problem = f'The line "{self.along}" runs on the plates themselves.'
            raise PresetError("away", problem, "Leave away out, or write along: midline or along: rim.")


def graded(params: Params, scale: float) -> Params:
    """The same on a dome of another size."""
    every = None if params.every is None else scale * params.every
    return replace(params, every=every, away=None if params.away is None else scale * params.away)


def expected(group: Group, plates: float, area: float) -> float:
    """Where plates of one kind meet, three lines for each plate, as long as plates are wide; else a line and its mirror
    image, four times as long as the dome is wide."""
    own: Params = group.place.own
    words = [word.strip() for word in own.along.split("/")]
    among = len(words) > 1 and (len(set(words)) == 1 or "all" in words)
    lines = 3.0 * plates if among else 2.0
    length = 3 * np.sqrt(plates * area) if among else 4 * np.sqrt(area)
    return lines * own.count if own.count else float(max(lines, length / (own.every or PITCH * group.base_diameter)))


def places(on: PlaceGround, group: Group) -> Iterator[AskedPlace]:
    """Places at equal steps, measured along the line on the dome."""
    own: Params = group.place.own
    every = own.every or on.pitch(group)
    away = own.away
    if away is None:
        away = max(group.base_diameter, group.base_width or 0.0) if own.along == _lines.RIM else 0.0
    for line in _lines.found(on, own.along, away):
        yield from mirrored(on, _at_steps(on, line, own.count, every))


def _at_steps(on: PlaceGround, line: _lines.HalfLine, count: int | None, every: float) -> Floats:
    """(n, 2) uv of the places in the left half."""
    along = arc_length(on.surface.points(line.uv))
    steps = stations(float(along[-1]), line.crosses, count, every, closed=line.closed)
    uv = np.column_stack([np.interp(steps, along, line.uv[:, k]) for k in (0, 1)])
    uv[(steps <= 0) & line.crosses[0], 1] = 0.0
    uv[(steps >= along[-1]) & line.crosses[1], 1] = 0.0
    return uv


def stations(
    length: float, crosses: tuple[bool, bool], count: int | None, every: float, *, closed: bool = False
) -> Floats:
    """(n,) mm along a line in the left half, evenly on it and, where it crosses the midline, on its mirror image.

    crosses : whether it goes on as its mirror image at its start and at its end; if at both, it runs all round
    count   : of the whole line, or None for as many as `every` mm allow; all round, steps may be a little more
    """
    whole = length * (2 if any(crosses) else 1)
    number = count or max(1, int(whole / every + EXACT))
    even = count is not None or closed or all(crosses)
    step = whole / number if even else every
    at = (whole - (number - 1) * step) / 2 + step * np.arange(number)
    if any(crosses) and not all(crosses):
        at = at - length  # from where it crosses
        at = at if crosses[0] else length - at
    own = at[(at > -EXACT * whole) & (at < (1 + EXACT) * length)]
    return np.asarray(np.where(own < EXACT * whole, 0.0, np.minimum(own, length)))
