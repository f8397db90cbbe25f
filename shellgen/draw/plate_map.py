"""The dome from above with the names of the plates that a step speaks of."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from shellgen.canvas import Drawing, Path, Text
from shellgen.canvas.lettering import width
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.draw.placing import Room
from shellgen.draw.topview import HEAD, Net, TopView, head_word, net_lines, net_of, view
from shellgen.pipeline.dome import Ground

HEIGHT = 2.5  # ISO 3098
PITCH = 1.6 * HEIGHT
GAP = 2.0
"""mm between a name next to the dome and its leader line."""


def plate_map(shell_name: str, ground: Ground, plates: Sequence[str], *, across: float, up: float) -> Drawing:
    """Every plate line; the names of `plates` on them, or next to the dome with a leader line."""
    margin = max((width(name, HEIGHT) for name in plates), default=0.0) + GAP
    seen = view(ground.mesh, across - 2 * margin, up)
    seen = TopView(seen.scale, seen.shift + np.array([margin, 0.0]), (across, seen.size[1]))
    points, owner = seen.at(ground.mesh.points), np.array(ground.layout.cell_plate)[ground.mesh.face_cell]
    named = tuple(
        (plate.name, points[ground.mesh.faces[owner == index]])
        for index, plate in enumerate(ground.layout.plates)
        if plate.name in plates
    )
    net, rim = net_of(ground, points, skip=set()), points[ground.mesh.rim]
    return _named(f"{shell_name}: plates from above", seen, net, rim, named)


@remembered
def _named(title: str, seen: TopView, net: Net, rim: Floats, named: Sequence[tuple[str, Floats]]) -> Drawing:
    """named : names with the (m, 3, 2) triangles of the plate"""
    lines, middles = net_lines(net), dict[str, Floats]()
    room, words = Room(rim, [line.points for line in lines]), list[Path | Text]()
    for name, triangles in named:
        area = shapely.union_all(shapely.polygons(triangles))
        middle = shapely.get_coordinates(shapely.maximum_inscribed_circle(area, tolerance=0.1))[0]
        spots = room.spots(middle, step=1.0, most=200)
        found = room.place([name], (HEIGHT,), spots[shapely.contains_xy(area, spots)] if len(spots) else spots)
        words += found
        if not found:
            middles[name] = middle
    centre = seen.size[0] / 2
    for left in (True, False):
        side = {name: at for name, at in middles.items() if (at[0] < centre) == left}
        words += _in_margin(side, seen, left=left)
    return Drawing("plate-map", *seen.size, (*lines, *words, head_word(seen)), title)


def _in_margin(middles: dict[str, Floats], seen: TopView, *, left: bool) -> list[Path | Text]:
    """Names in a column next to the dome, in the order of their plates, each with a leader line to its plate."""
    names = sorted(middles, key=lambda name: float(middles[name][1]))
    heights = _spread([float(middles[name][1]) for name in names], seen.size[1] - HEAD)
    words: list[Path | Text] = []
    for name, y in zip(names, heights, strict=True):
        far = width(name, HEIGHT)
        x = far if left else seen.size[0] - far
        words.append(Text(name, (x, y - HEIGHT / 2), HEIGHT, anchor="end" if left else "start"))
        start = np.array([x + (GAP / 2 if left else -GAP / 2), y])
        words.append(Path(np.array([start, middles[name]]), "label", data={"leader": "yes"}))
    return words


def _spread(wanted: Sequence[float], top: float) -> list[float]:
    """Heights as near as possible to those wanted, a line of lettering apart, lowest first."""
    heights: list[float] = []
    for y in wanted:
        heights.append(max(y, PITCH / 2, heights[-1] + PITCH if heights else 0.0))
    limit = top - PITCH / 2
    for k in range(len(heights) - 1, -1, -1):
        heights[k] = limit = min(heights[k], limit)
        limit -= PITCH
    return heights
