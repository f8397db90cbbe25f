"""Which way lettering is read: from the foot of the sheet or from its right-hand side, never standing on its head.

References: ISO 129-1, dimensions are read from the bottom or the right-hand side of the drawing (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from shellgen.canvas import Path, Text, lettering

_NEXT = 2.0
"""Heights from one base line to the next, at most, of lines that are read together (chosen: the widest set is 1.7)."""
_LEVEL = 1e-6


def overturned(angle: float) -> bool:
    """Whether lettering along this direction stands on its head."""
    return bool((angle + np.pi / 2 + _LEVEL) % (2 * np.pi) > np.pi + 2 * _LEVEL)


def upright(angle: float) -> float:
    """The same direction, turned by half a turn where lettering along it would stand on its head."""
    turned = float((angle + np.pi / 2) % (2 * np.pi) - np.pi / 2)
    return turned - np.pi if overturned(angle) else turned


def stood(items: Iterable[Path | Text], turn: float) -> Iterator[Path | Text]:
    """The items of a drawing that is to be turned by `turn`: where lettering would come to stand on its head it is
    turned by half a turn within the room it takes, lines that are read together as one."""
    block: list[Text] = []
    for item in items:
        if block and not (isinstance(item, Text) and _follows(block[-1], item)):
            yield from _halfway(block, turn)
            block = []
        if isinstance(item, Text):
            block.append(item)
        else:
            yield item
    yield from _halfway(block, turn)


def _follows(line: Text, after: Text) -> bool:
    """Whether a line stands under another, as the next that is read."""
    if (line.height, line.angle, line.anchor) != (after.height, after.angle, after.anchor):
        return False
    (dx, dy), cos, sin = np.subtract(after.at, line.at), np.cos(line.angle), np.sin(line.angle)
    return bool(abs(dx * cos + dy * sin) < _LEVEL and 0 < dx * sin - dy * cos < _NEXT * line.height)


def _halfway(block: list[Text], turn: float) -> list[Text]:
    if not block or not overturned(block[0].angle + turn):
        return block
    cos, sin = np.cos(block[0].angle), np.sin(block[0].angle)
    axes = np.array([(cos, -sin), (sin, cos)])
    corners = np.vstack([lettering.box(line) for line in block]) @ axes
    x, y = (corners.min(axis=0) + corners.max(axis=0)) @ axes.T
    return [
        replace(line, at=(float(x - line.at[0]), float(y - line.at[1])), angle=line.angle + np.pi) for line in block
    ]
