"""The dome from above, head up: the joins, and the places of the spikes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from shellgen.canvas import Drawing, Path, Text
from shellgen.canvas.lettering import width
from shellgen.core.arrays import Floats
from shellgen.core.memory import remembered
from shellgen.draw.placing import Room
from shellgen.geom.curves import arc_length, at_arc_length
from shellgen.model import Cut, ShellMesh, Spike
from shellgen.pattern.joins import Join
from shellgen.pipeline.dome import Ground

EDGE = 6.0
HEAD = 6.0
"""mm above the dome for the word that marks the head."""
DISC = 2.6
DOT = 1.1
HEIGHTS = (3.5, 2.5, 1.8)  # ISO 3098
FINE = 0.05
Items = list[Path | Text]
Net = tuple[tuple[Floats, str], ...]
"""Lines of plates and rim on the sheet, each with its layer."""


@dataclass(frozen=True, slots=True, eq=False)
class TopView:
    """Points of the dome, (n, 3) mm, to the sheet: x up, the wearer's left on the left."""

    scale: float
    shift: Floats
    size: tuple[float, float]

    def at(self, points: Floats) -> Floats:
        return self.scale * np.column_stack([-points[:, 1], points[:, 0]]) + self.shift


def view(mesh: ShellMesh, across: float, up: float) -> TopView:
    """A view as large as fits a sheet of `across` x `up` mm; the sheet is only as high as the dome needs."""
    plan = np.column_stack([-mesh.points[:, 1], mesh.points[:, 0]])
    low, size = plan.min(axis=0), np.ptp(plan, axis=0)
    scale = float(((np.array([across, up - HEAD]) - 2 * EDGE) / size).min())
    tall = scale * float(size[1]) + 2 * EDGE + HEAD
    shift = np.array([(across - scale * size[0]) / 2, EDGE]) - scale * low
    return TopView(scale, shift, (across, tall))


def join_map(shell_name: str, ground: Ground, cut: Cut, joins: Sequence[Join], *, across: float, up: float) -> Drawing:
    """Every seam as a wide line with its join's number in a disc, and a dot where gluing starts."""
    seen = view(ground.mesh, across, up)
    points = seen.at(ground.mesh.points)
    seams = tuple((j.number, points[cut.seams[j.seam].vertices], j.forward) for j in joins)
    pieces = tuple((piece.name, points[piece.shell_vertices[piece.outline]]) for piece in cut.pieces)
    net = net_of(ground, points, skip=set(cut.cut_lines))
    return _joined(f"{shell_name}: joins from above", seen, net, seams, points[ground.mesh.rim], pieces)


@remembered
def _joined(
    title: str, seen: TopView, net: Net, seams: Sequence[tuple[int, Floats, bool]], rim: Floats,
    pieces: Sequence[tuple[str, Floats]],
) -> Drawing:  # fmt: skip
    """seams : the number of each one's join, its line, whether gluing starts at the start of the line
    pieces : name and outline"""
    items: Items = list(net_lines(net))
    items += [Path(_simple(line), "cut", data={"join": str(number)}) for number, line, _ in seams]
    edges = [item.points for item in items if isinstance(item, Path) and item.layer == "cut"]
    room, discs = Room(_frame(seen), []), list[Floats]()
    for join, line, ahead in seams:
        ring, number = _disc(join, line, room, discs)
        discs.append(ring.points)
        items += [ring, number, dot(line[0] if ahead else line[-1])]
    outside = Room(_frame(seen), edges)
    outside.close(rim)
    for name, outline in pieces:
        items += _name(name, outline, edges, discs) or outside.place([name], HEIGHTS, _near(outline.mean(axis=0)))
    return Drawing("join-map", *seen.size, (*items, head_word(seen)), title)


def seat_map(shell_name: str, ground: Ground, spikes: tuple[Spike, ...], *, across: float, up: float) -> Drawing:
    """Every seat with the number of its spike, counted in the order of the spikes."""
    seen = view(ground.mesh, across, up)
    seats = tuple((spike.name, seen.at(spike.base_curve)) for spike in spikes)
    net = net_of(ground, seen.at(ground.mesh.points), skip=set())
    return _seated(f"{shell_name}: seats of the spikes from above", seen, net, seats)


@remembered
def _seated(title: str, seen: TopView, net: Net, seats: Sequence[tuple[str, Floats]]) -> Drawing:
    items: Items = list(net_lines(net))
    items += [Path(_simple(points), "seat", closed=True, data={"spike": name}) for name, points in seats]
    for number, (_, points) in enumerate(seats, 1):
        items += disc(number, points.mean(axis=0))
    return Drawing("seat-map", *seen.size, (*items, head_word(seen)), title)


def dot(at: Floats) -> Path:
    """A dot where gluing starts."""
    turn = 2 * np.pi * np.arange(12) / 12
    return Path(at + DOT * np.stack([np.cos(turn), np.sin(turn)], axis=1), "cut", closed=True, fill=(0, 0, 0))


def disc(number: int, at: Floats) -> tuple[Path, Text]:
    """A join's number in a white disc."""
    turn = 2 * np.pi * np.arange(28) / 28
    radius = max(DISC, 0.8 + width(str(number), 2.5) / 2)
    ring = at + radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    return (
        Path(ring, "note", closed=True, fill=(255, 255, 255)),
        Text(str(number), (float(at[0]), float(at[1]) - 1.25), 2.5, anchor="middle", layer="note"),
    )


def _disc(number: int, line: Floats, room: Room, others: Sequence[Floats]) -> tuple[Path, Text]:
    """A place on the line, as near its middle as other discs allow; on a short line as far from them as possible."""
    whole = arc_length(line)[-1]
    shares = 0.5 + np.array([0, 0.1, -0.1, 0.2, -0.2, 0.3, -0.3])
    spots = at_arc_length(line, shares * whole)
    taken = room.reserve((2 * DISC, 2 * DISC), spots)
    if taken is None:
        middles = np.array([ring.mean(axis=0) for ring in others]).reshape(-1, 2)
        taken = int(np.linalg.norm(spots[:, None] - middles, axis=2).min(axis=1, initial=np.inf).argmax())
    return disc(number, spots[taken])


def _name(name: str, rim: Floats, edges: Sequence[Floats], discs: Sequence[Floats]) -> Items:
    """A piece's name on it, nearest to the place farthest from its edges."""
    area = shapely.make_valid(shapely.polygons(rim)).buffer(-FINE)
    middle = shapely.get_coordinates(shapely.maximum_inscribed_circle(area))[0]
    room = Room(rim, edges)
    for ring in discs:
        room.close(ring)
    return list(room.place([name], HEIGHTS, room.spots(middle, step=1.0)))


def net_of(ground: Ground, points: Floats, *, skip: set[int]) -> Net:
    """Lines of plates and rim but those in `skip`. points : of the mesh, on the sheet"""
    return tuple(
        (points[vertices], "cut" if line.kind == "rim" else "score")
        for number, (line, vertices) in enumerate(zip(ground.layout.lines, ground.mesh.line_vertices, strict=True))
        if number not in skip and line.kind in ("plate", "rim")
    )


@remembered
def net_lines(net: Net) -> tuple[Path, ...]:
    """The lines with as few points as show them."""
    return tuple(Path(_simple(points), layer) for points, layer in net)


def _simple(points: Floats) -> Floats:
    return np.asarray(shapely.get_coordinates(shapely.simplify(shapely.linestrings(points), FINE)))


def _frame(seen: TopView) -> Floats:
    across, up = seen.size
    return np.array([(0.5, 0.5), (across - 0.5, 0.5), (across - 0.5, up - HEAD), (0.5, up - HEAD)])


def _near(at: Floats) -> Floats:
    """Places around a point, nearest first."""
    x, y = np.meshgrid(*2 * [np.arange(-12.0, 12.1, 1.5)])
    order = np.argsort(np.hypot(x, 1.5 * y).ravel(), kind="stable")
    return np.asarray(at + np.column_stack([x.ravel(), y.ravel()])[order])


def head_word(seen: TopView) -> Text:
    """Where the head is."""
    across, up = seen.size
    return Text("head", (across / 2, up - HEAD + 0.5), 3.5, anchor="middle", layer="note")
