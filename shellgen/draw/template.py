"""The template of one piece: outline, score lines, registration marks, seats and instructions."""

from __future__ import annotations

import numpy as np

from shellgen.canvas import Drawing, Path, Text
from shellgen.canvas.lettering import width
from shellgen.canvas.reading import upright
from shellgen.core.arrays import Floats
from shellgen.draw.lines import (
    JUNCTION_RADIUS,
    TICK,
    Tick,
    anchor_paths,
    cut_paths,
    junction_paths,
    mark_paths,
    midline_paths,
    outline,
    score_paths,
    seat_paths,
    sheet_of,
    ticks,
    turning_paths,
)
from shellgen.draw.placing import Room, size_of, texts
from shellgen.geom.curves import at_arc_length, length
from shellgen.model import Piece, ShellMesh, Side, Spike
from shellgen.pattern.flatmap import Seats
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.wear import Anchor

TITLE_HEIGHTS = (14.0, 10.0, 7.0, 5.0, 3.5, 2.5, 1.8)  # ISO 3098
SMALL_HEIGHTS = (3.5, 2.5, 1.8)
SEAT_HEIGHTS = (2.5, 1.8)
NUMBER_GAP = 1.3  # mm from the end of a tick to its number
NEAR = 14.0  # mm: a side's name this near to it is clear; further off it gets a leader line
INSETS = np.array([5.5, 8.0, 11.0, NEAR])  # places for a side's name: mm in from the edge ...
SHARES = np.array([0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74, 0.18, 0.82])  # ... and how far along it, best first
SHOWN_STRETCH = 0.01  # shown in words above this
NOTEWORTHY_BEVEL = np.radians(3.0)  # a hand-held knife is no more exact than this (common practice, no source)
SIDES = {"L": "left half", "R": "right half", "C": "centre piece"}

Items = list[Text | Path]


def templates(
    shell_name: str,
    ground: Ground,
    foam: Foam,
    seats: Seats,
    spikes: tuple[Spike, ...],
    anchors: tuple[Anchor, ...],
) -> tuple[Drawing, ...]:
    """The templates of all pieces, in their order."""
    return tuple(
        template(shell_name, ground, foam, seats, spikes, anchors, index) for index in range(len(foam.cut.pieces))
    )


def template(
    shell_name: str,
    ground: Ground,
    foam: Foam,
    seats: Seats,
    spikes: tuple[Spike, ...],
    anchors: tuple[Anchor, ...],
    index: int,
) -> Drawing:
    """Piece `index` at true size, outside up, on a sheet just large enough for it."""
    piece = foam.cut.pieces[index]
    low, across, up = sheet_of(foam.pattern, index)
    lines = [
        *cut_paths(foam, index, low),
        *score_paths(ground, foam, index, low),
        *seat_paths(seats, index, low),
        *turning_paths(ground.mesh, foam, seats, spikes, index, low),
        *mark_paths(foam, index, low),
        *junction_paths(foam, index, low),
        *midline_paths(ground.mesh, foam, index, low),
        *anchor_paths(ground, foam, anchors, index, low),
    ]
    lines, room, edge = _along_the_edge(foam, index, low, lines)
    words = [
        *edge,
        *seat_names(seats, spikes, index, low, room),
        *_anchor_names(lines, room),
        *_title(ground.mesh, foam, index, low, room),
        *_stretch_words(foam, index, low, room),
    ]
    return Drawing(piece.name, across, up, (*lines, *words), title=f"{shell_name} {piece.name}")


def _along_the_edge(foam: Foam, index: int, low: Floats, lines: list[Path]) -> tuple[list[Path], Room, Items]:
    """Numbers of marks and names of sides; smaller on crowded pieces, and without the midline's ends if need be."""
    marks, edge = ticks(foam, index, low), outline(foam, index) - low
    bare = [path for path in lines if path.layer != "symmetry"]
    for heights, kept in ((SMALL_HEIGHTS, lines), (SMALL_HEIGHTS[1:], lines), (SMALL_HEIGHTS[1:], bare)):
        room = Room(edge, [path.line for path in kept if path.layer != "cut"])
        numbers = _mark_numbers(marks, room, heights)
        names = _side_names(foam, index, low, room)
        placed = sum(isinstance(item, Text) for item in (*numbers, *names))
        if placed >= len(marks) + len(foam.cut.pieces[index].sides):
            break
    return kept, room, [*numbers, *names]


def _mark_numbers(marks: list[Tick], room: Room, heights: tuple[float, ...]) -> Items:
    """All of one height if possible; those without room at their tick get a leader line."""
    for height in heights:
        words: Items = []
        with room.trial() as undo:
            for tick in marks:
                found = room.place([str(tick.number)], (height,), _by_tick(tick, height, marks))
                if not found:
                    break
                words += found
            else:
                undo.clear()
                return words
    placed: Items = []
    waiting = []
    for tick in marks:
        near = np.vstack([_by_tick(tick, height, marks) for height in heights])
        found = room.place([str(tick.number)], heights, near)
        placed += found
        waiting += [] if found else [tick]
    for tick in waiting:
        placed += room.lead([str(tick.number)], SMALL_HEIGHTS[1:], tick.at + TICK * tick.inward)
    return placed


def _by_tick(tick: Tick, height: float, marks: list[Tick]) -> Floats:
    """Places for a tick's number: beyond its end, else at its side, and nearer to it than to any other tick."""
    half = np.array(size_of([str(tick.number)], height)) / 2
    aside = np.array([-tick.inward[1], tick.inward[0]])
    reach, wide = np.abs(tick.inward) @ half, np.abs(aside) @ half
    start = (JUNCTION_RADIUS if tick.end else TICK) + NUMBER_GAP + reach
    beyond = [(start + far, side) for far in (0.0, 1.5, 3.0) for side in (0.0, 2.0, -2.0, 4.0, -4.0)]
    at_side = [(r, s * (wide + NUMBER_GAP)) for r in (TICK - reach, 0.5 * TICK, TICK + 1.0) for s in (1, -1)]
    places = np.array([(*beyond[:3], *at_side, *beyond[3:])])[0]
    spots: Floats = tick.at + places[:, :1] * tick.inward + places[:, 1:] * aside
    tips = np.array([other.at + TICK * other.inward for other in marks if other is not tick])
    if not len(tips):
        return spots
    own = np.linalg.norm(spots - (tick.at + TICK * tick.inward), axis=1)
    others = np.linalg.norm(spots[:, None] - tips, axis=2).min(axis=1)
    return np.asarray(spots[own < others])


def _side_names(foam: Foam, index: int, low: Floats, room: Room) -> Items:
    """Along each side, the piece it is glued to, and the bevel if it matters."""
    flat = foam.pattern.flats[index].flat
    words: Items = []
    for side in foam.cut.pieces[index].sides:
        curve = flat[side.vertices] - low
        along = SHARES * length(curve)
        ahead, back = at_arc_length(curve, along + 1.0), at_arc_length(curve, along - 1.0)
        angles = np.arctan2(*(ahead - back).T[::-1])
        inward = np.stack([-np.sin(angles), np.cos(angles)], axis=1)
        spots = (at_arc_length(curve, along) + INSETS[:, None, None] * inward).reshape(-1, 2)
        names = side_names(foam, index, side)
        found: tuple[Text | Path, ...] = ()
        for height in SMALL_HEIGHTS:
            for name in names:
                found = found or room.place([name], (height,), spots, np.tile(angles, len(INSETS)))
        middle = at_arc_length(curve, 0.5 * length(curve))
        bare = names[-1].removeprefix("to ")  # if there is no room for more
        words += (
            found
            or room.lead([names[-1]], SMALL_HEIGHTS[1:], middle)
            or room.place([bare], SMALL_HEIGHTS[1:], spots, np.tile(angles, len(INSETS)))
            or room.lead([bare], SMALL_HEIGHTS[1:], middle)
        )
    return words


def side_names(foam: Foam, index: int, side: Side) -> tuple[str, ...]:
    """The words along a side, the full text first."""
    if side.seam < 0:
        return ("rim",)
    seam, bevel = foam.cut.seams[side.seam], foam.bevels[side.seam]
    others = [piece for piece, _ in seam.sides if piece != index]
    name = f"to {foam.cut.pieces[others[0]].name}" if others else "dart"
    if abs(bevel) <= NOTEWORTHY_BEVEL:
        return (name,)
    return f"{name}, bevel {np.degrees(bevel):.0f}°", f"{name} {np.degrees(bevel):.0f}°"


def _title(mesh: ShellMesh, foam: Foam, index: int, low: Floats, room: Room) -> Items:
    """Name, half, number to cut, the side that is up and the direction of the crown."""
    piece, flat = foam.cut.pieces[index], foam.pattern.flats[index].flat
    centre = flat.mean(axis=0) - low
    spots = room.spots(centre)
    fine = room.spots(centre, step=2.0) if len(spots) < 300 else spots
    words: tuple[Text, ...] = ()
    for lines, heights in (
        (
            [piece.name, f"{SIDES[piece.side]}, cut 1", f"textured side up, {foam.thickness:g} mm foam"],
            (7.0, 5.0, 3.5),
        ),
        ([piece.name, "cut 1, textured side up"], (5.0, 3.5, 2.5)),
        ([piece.name, "textured", "side up"], (3.5, 2.5)),
        ([piece.name], TITLE_HEIGHTS),
    ):
        words = words or room.place(lines, heights, fine)
    arrow = _crown_arrow(mesh, piece, flat)
    return [*words, *_arrow(arrow, "head" if _holds_crown(mesh, piece) else "crown", centre, room)]


def _arrow(direction: Floats, word: str, near: Floats, room: Room) -> Items:
    """An arrow with its word below, as large as fits near the point `near`."""
    angle = float(np.arctan2(direction[1], direction[0]))
    for shaft_length, height in ((40.0, 5.0), (25.0, 3.5), (14.0, 2.5), (10.0, 1.8)):
        spots = room.spots(near, step=5.0 if height > 3 else 2.5, most=400)
        found = room.reserve((max(shaft_length, width(word, height)), 3.0 * height), spots, angle)
        if found is None:
            continue
        aside = np.array([-np.sin(upright(angle)), np.cos(upright(angle))])
        shaft = spots[found] + 0.8 * height * aside
        tip, tail = shaft + shaft_length / 2 * direction, shaft - shaft_length / 2 * direction
        barb = np.array([-direction[1], direction[0]]) * 0.5 * height
        head = np.array([tip - height * direction + barb, tip, tip - height * direction - barb])
        return [
            Path(np.array([tail, tip]), "label", data={"towards": word}),
            Path(head, "label"),
            *texts([word], spots[found] - 0.7 * height * aside, height, angle),
        ]
    return []


def _crown_arrow(mesh: ShellMesh, piece: Piece, flat: Floats) -> Floats:
    """Unit direction on the flat piece towards the crown, or towards the head on the piece with the crown."""
    uv = mesh.uv[piece.shell_vertices]
    toward = -np.linalg.norm(uv, axis=1) if not _holds_crown(mesh, piece) else uv[:, 0]
    centred = flat - flat.mean(axis=0)
    slope = np.linalg.lstsq(centred, toward - toward.mean(), rcond=None)[0]
    return np.asarray(slope / np.linalg.norm(slope))


def _holds_crown(mesh: ShellMesh, piece: Piece) -> bool:
    return bool(np.argmin(np.linalg.norm(mesh.uv, axis=1)) in piece.shell_vertices)


def seat_names(seats: Seats, spikes: tuple[Spike, ...], index: int, low: Floats, room: Room) -> Items:
    """In each seat its spike and the spike's master, if there is room."""
    masters = {spike.name: spike.master for spike in spikes}
    words: Items = []
    for name, points in seats[index]:
        x, y = np.meshgrid(*2 * [np.array([0, 1.5, -1.5, 3, -3, 5, -5])])
        spots = points.mean(axis=0) - low + np.column_stack([x.ravel(), y.ravel()])
        spots = spots[np.argsort(np.hypot(x, y).ravel(), kind="stable")]
        short = name.removeprefix("spike-")
        found = room.place([short, masters[name]], SEAT_HEIGHTS, spots)
        words += found or room.place([short], SEAT_HEIGHTS, spots) or room.place([masters[name]], SEAT_HEIGHTS, spots)
        if len(points) > 3:
            room.close(points - low)
    return words


def _anchor_names(lines: list[Path], room: Room) -> Items:
    """The anchor's name at each cross."""
    crosses: dict[str, Floats] = {p.data["anchor"]: p.points.mean(axis=0) for p in lines if "anchor" in p.data}
    words: Items = []
    for name, at in crosses.items():
        spots = room.spots(at, step=1.5, most=300)
        words += room.place([name, "inside"], SEAT_HEIGHTS, spots) or room.place([name], SEAT_HEIGHTS, spots)
    return words


def _stretch_words(foam: Foam, index: int, low: Floats, room: Room) -> Items:
    """The largest stretch and compression in words, at the place where they are."""
    piece, of = foam.cut.pieces[index], foam.pattern.flats[index]
    words: Items = []
    for ratio, face in (
        (of.stretch[:, 1].max() - 1, of.stretch[:, 1].argmax()),
        (of.stretch[:, 0].min() - 1, of.stretch[:, 0].argmin()),
    ):
        if abs(ratio) > SHOWN_STRETCH:
            verb = "stretch here" if ratio > 0 else "compress here"
            at = of.flat[piece.faces[face]].mean(axis=0) - low
            words += room.place([f"{verb} {100 * abs(ratio):.1f} %"], SMALL_HEIGHTS, room.spots(at, most=40))
    return words
