"""The lines of one flat piece: outline, score lines, marks, seats. `low` is the sheet's lower left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shellgen.canvas import Path
from shellgen.core.arrays import Floats
from shellgen.geom.curves import at_arc_length
from shellgen.model import Pattern, ShellMesh, Spike
from shellgen.pattern.flatmap import Seats, carry, chains
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.wear import Anchor

MARGIN = 8.0
TICK = 6.0
JUNCTION_RADIUS = 8.0
TIP_RADIUS = 1.5
MIDLINE = 12.0
"""mm of the midline drawn at each end (chosen: enough to line up a ruler)."""
CROSS = 3.0
"""Length of the arms of an anchor's cross, mm."""
TURNING = 6.0
"""Length of the turning line outside a seat, mm."""


@dataclass(frozen=True, slots=True, eq=False)
class Tick:
    """A registration mark on one piece. at : (2,) on the edge; inward : (2,) unit, along the tick; written : as"""

    number: int
    seam: str
    at: Floats
    inward: Floats
    end: bool
    written: str


def outline(foam: Foam, index: int) -> Floats:
    """(n, 2) the flat outline, counter-clockwise, not closed."""
    return foam.pattern.flats[index].flat[foam.cut.pieces[index].outline]


def sheet_of(pattern: Pattern, index: int) -> tuple[Floats, float, float]:
    """Lower left corner, width and height of the smallest sheet for a piece."""
    flat = pattern.flats[index].flat
    low = flat.min(axis=0) - MARGIN
    width, height = flat.max(axis=0) + MARGIN - low
    return low, float(width), float(height)


def cut_paths(foam: Foam, index: int, low: Floats) -> list[Path]:
    """Each side of the outline as a separate path, so that mates can be found by their seam."""
    piece, flat = foam.cut.pieces[index], foam.pattern.flats[index].flat
    result = []
    for side in piece.sides:
        data = {"edge": "rim"} if side.seam < 0 else {"seam": foam.cut.seams[side.seam].name}
        result.append(Path(flat[side.vertices] - low, "cut", data=data))
    return result


def score_paths(ground: Ground, foam: Foam, index: int, low: Floats) -> list[Path]:
    """Plate lines inside the piece that are burnt or carved, not cut."""
    piece, flat, cut = foam.cut.pieces[index], foam.pattern.flats[index].flat, set(foam.cut.cut_lines)
    scored = [k for k, line in enumerate(ground.layout.lines) if line.kind == "plate" and k not in cut]
    found = chains(piece, ground.mesh, ground.layout, scored)
    return [Path(flat[own] - low, "score", data={"line": str(number)}) for number, own in found.items()]


def seat_paths(seats: Seats, index: int, low: Floats) -> list[Path]:
    """The outlines of the spikes' bases."""
    return [Path(points - low, "seat", data={"spike": name}) for name, points in seats[index]]


def turning_paths(
    mesh: ShellMesh, foam: Foam, seats: Seats, spikes: tuple[Spike, ...], index: int, low: Floats
) -> list[Path]:
    """At each seat, the short line outwards that meets the spike's turning line."""
    here = {name for name, _ in seats[index]}
    lines = []
    for spike in spikes:
        if spike.name not in here:
            continue
        foot, middle = spike.seat_uv[0], spike.seat_uv.mean(axis=0)
        reach = np.linalg.norm(spike.base_curve[0] - spike.base_curve.mean(axis=0))
        uv = middle + np.linspace(1.0, 1.0 + TURNING / reach, 5)[:, None] * (foot - middle)
        if np.hypot(*uv[-1]) < 1:
            lines.append((spike.name, uv))
    return _carried(mesh, foam, index, low, lines, "turning")


def _carried(
    mesh: ShellMesh, foam: Foam, index: int, low: Floats, lines: list[tuple[str, Floats]], what: str
) -> list[Path]:
    """Named lines of the dome on a piece."""
    carried = carry([uv for _, uv in lines], mesh, foam.cut, foam.pattern, closed=False)
    return [
        Path(points - low, "label", data={what: name})
        for (name, _), parts in zip(lines, carried, strict=True)
        for piece, points in parts
        if piece == index
    ]


def anchor_paths(ground: Ground, foam: Foam, anchors: tuple[Anchor, ...], index: int, low: Floats) -> list[Path]:
    """A cross, head up, at each anchor of the harness on the inside."""
    lines = []
    for anchor in anchors:
        tangent = ground.surface.tangents(anchor.uv[None])[0]
        along = CROSS * np.linspace(-1.0, 1.0, 5)[:, None]
        for way in np.linalg.qr(tangent)[0].T:
            lines.append((anchor.name, anchor.uv + along * np.linalg.lstsq(tangent, way, rcond=None)[0]))
    return _carried(ground.mesh, foam, index, low, lines, "anchor")


def ticks(foam: Foam, index: int, low: Floats) -> list[Tick]:
    """Every mark of the piece. At a seam's ends the tick leans away from the corner, so that it stays inside."""
    result = []
    for mark in foam.marks:
        seam = foam.cut.seams[mark.seam]
        for (piece, x, y, angle), (_, side) in zip(mark.at, seam.sides, strict=True):
            if piece != index:
                continue
            forward = foam.cut.pieces[piece].sides[side].forward
            end = not 0 < mark.fraction < 1
            lean = np.radians(60) * (1 if (mark.fraction == 1) == forward else -1) if end else 0.0
            inward = np.array([np.cos(angle + lean), np.sin(angle + lean)])
            result.append(Tick(mark.number, seam.name, np.array([x, y]) - low, inward, end, str(mark.number)))
    return result


def mark_paths(ticks: Sequence[Tick]) -> list[Path]:
    """Ticks across the edge, inwards."""
    return [
        Path(np.array([t.at, t.at + TICK * t.inward]), "mark", data={"seam": t.seam, "mark": t.written}) for t in ticks
    ]


def junction_paths(foam: Foam, index: int, low: Floats) -> list[Path]:
    """Arcs around the corners where seams meet (glued straight, they form a circle), and a small circle at the tip of a
    dart, where the knife stops."""
    piece, flat = foam.cut.pieces[index], foam.pattern.flats[index].flat
    result = []
    for k, side in enumerate(piece.sides):
        after = piece.sides[(k + 1) % len(piece.sides)]
        if side.seam < 0 or after.seam < 0:
            continue
        corner = flat[side.vertices[-1]]
        if side.seam == after.seam:
            full = np.linspace(0.0, 2 * np.pi, 16, endpoint=False)
            ring = corner + TIP_RADIUS * np.stack([np.cos(full), np.sin(full)], axis=1)
            result.append(Path(ring - low, "mark", closed=True, data={"tip": foam.cut.seams[side.seam].name}))
            continue
        back = at_arc_length(flat[side.vertices][::-1], JUNCTION_RADIUS) - corner
        ahead = at_arc_length(flat[after.vertices], JUNCTION_RADIUS) - corner
        start = np.arctan2(ahead[1], ahead[0])
        sweep = (np.arctan2(back[1], back[0]) - start) % (2 * np.pi)
        turn = start + sweep * np.linspace(0.0, 1.0, 13)
        arc = corner + JUNCTION_RADIUS * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        result.append(Path(arc - low, "mark", data={"junction": str(piece.shell_vertices[side.vertices[-1]])}))
    return result


def midline_paths(mesh: ShellMesh, foam: Foam, index: int, low: Floats) -> list[Path]:
    """Both ends of the midline on a centre piece, to line up a ruler."""
    piece, flat = foam.cut.pieces[index], foam.pattern.flats[index].flat
    if piece.side != "C":
        return []
    uv = mesh.uv[piece.shell_vertices]
    on = np.flatnonzero(np.abs(uv[:, 1]) < 1e-12)
    line = flat[on[np.argsort(uv[on, 0])]] - low
    if len(line) < 2 or np.hypot(*(line[-1] - line[0])) < 3 * MIDLINE:
        return []
    along = (line[-1] - line[0]) / np.hypot(*(line[-1] - line[0]))
    ends = ((line[0], line[0] + MIDLINE * along), (line[-1], line[-1] - MIDLINE * along))
    return [Path(np.array(end), "symmetry") for end in ends]
