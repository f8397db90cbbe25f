"""Where plate lines meet: at every corner of three plates or more, inside the rim."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shellgen.core.arrays import Ints
from shellgen.model import Layout
from shellgen.spikes.groups import Group
from shellgen.spikes.placings._ground import AskedPlace, PlaceGround, mirrored

ON_LINES = True


def expected(group: Group, plates: float, area: float) -> float:
    """Of F plates, each corner of three lines: 2 (F - 1), less those on the rim.

    References: L. Euler, Elementa doctrinae solidorum (1758), with three lines at each corner.
    """
    return 2 * plates


def places(on: PlaceGround, group: Group) -> Iterator[AskedPlace]:
    """The corners of the plates that carry spikes."""
    at = {
        node
        for line in on.layout.lines
        if line.kind == "plate" and {on.layout.cell_plate[line.left], on.layout.cell_plate[line.right]} & on.plates
        for node in (line.start, line.end)
    }
    uv = on.layout.nodes[[n for n in corners(on.layout).tolist() if n in at]]
    yield from mirrored(on, uv[uv[:, 1] >= 0])


def corners(layout: Layout) -> Ints:
    """(k,) the nodes inside the rim where three plate lines or more meet."""
    ends = np.array([(line.start, line.end) for line in layout.lines if line.kind == "plate"], int)
    rim = [node for line in layout.lines if line.kind == "rim" for node in (line.start, line.end)]
    meeting = np.bincount(ends.ravel(), minlength=len(layout.nodes)) >= 3
    meeting[rim] = False
    return np.flatnonzero(meeting)
