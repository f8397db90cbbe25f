"""The finished shell from the side, from the head and from above, with the measures to check by tape."""

from __future__ import annotations

import numpy as np
import shapely

from shellgen.canvas import Drawing, Path, Text, frozen_array
from shellgen.canvas.lettering import width
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.model import ShellMesh

GAP = 16.0
OUT = 6.0
"""mm from an outline to its dimension line."""
HEIGHT = 3.5
ARROW = 2.2
Items = list[Path | Text]


def measures(shell_name: str, mesh: ShellMesh, words: dict[str, str], *, across: float) -> Drawing:
    """words : what is written at "length", "width" and "height", each with its unit"""
    points = mesh.points - mesh.points.min(axis=0)
    long, wide, high = points.max(axis=0)
    scale = (across - GAP - 2 * (OUT + 10.0)) / (long + wide)
    left = OUT + 10.0
    side = scale * _hull(points[:, [0, 2]]) + (left, 12.0)
    front = scale * _hull(points[:, [1, 2]]) + (left + scale * long + GAP, 12.0)
    items: Items = [Path(side, "cut", closed=True), Path(front, "cut", closed=True)]
    items += _dimension(side.min(axis=0), (side[:, 0].max(), side[:, 1].min()), words["length"], -OUT)
    items += _dimension(front.min(axis=0), (front[:, 0].max(), front[:, 1].min()), words["width"], -OUT)
    right = front[:, 0].max()
    items += _dimension((right, front[:, 1].min()), (right, front[:, 1].max()), words["height"], -OUT)
    top = 12.0 + scale * high + 3.0
    for word, x in (("from the right, head on the right", side[:, 0].mean()), ("from the head", front[:, 0].mean())):
        items.append(Text(word, (float(x), top), 2.5, anchor="middle", layer="note"))
    return Drawing("measures", across, top + 5.0, tuple(items), f"{shell_name}: size of the finished shell")


@remembered
def _hull(points: Floats) -> Floats:
    fine = shapely.simplify(shapely.convex_hull(shapely.multipoints(points)), 0.2)
    return frozen_array(shapely.get_coordinates(fine)[:-1])


def _dimension(
    start: Floats | tuple[float, float], end: Floats | tuple[float, float], words: str, aside: float
) -> Items:
    """A dimension line next to the line from `start` to `end`, level or upright, with arrows and its words along it."""
    a, b = np.array(start, float), np.array(end, float)
    ahead = (b - a) / np.hypot(*(b - a))
    out = aside * np.array([-ahead[1], ahead[0]])
    line = np.array([a + out, b + out])
    items: Items = [Path(line, "note"), *(Path(np.array([p + 0.2 * out, p + 1.2 * out]), "note") for p in (a, b))]
    for tip, back in ((line[0], ahead), (line[1], -ahead)):
        barb = np.array([-back[1], back[0]]) * ARROW / 4
        items.append(Path(np.array([tip + ARROW * back + barb, tip, tip + ARROW * back - barb]), "note"))
    angle = float(np.arctan2(ahead[1], ahead[0]))
    upright = abs(angle) > 0.1
    middle = line.mean(axis=0) + (np.array([HEIGHT + 1.2, 0.0]) if upright else np.array([0.0, -HEIGHT - 1.4]))
    height = HEIGHT if width(words, HEIGHT) < np.hypot(*(b - a)) or not upright else 2.5
    items.append(Text(words, (float(middle[0]), float(middle[1])), height, angle, "middle", "note"))
    return items
