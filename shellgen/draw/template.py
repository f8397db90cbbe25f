"""The template of one piece: outline, score lines, registration marks, seats and instructions."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shellgen.canvas import Drawing, Path, Text
from shellgen.canvas.rule import METRIC, Rule
from shellgen.core.arrays import Floats
from shellgen.draw.flip import Flip, both
from shellgen.draw.growth import growth_words
from shellgen.draw.heading import title
from shellgen.draw.lines import (
    JUNCTION_RADIUS,
    MARGIN,
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
from shellgen.draw.placing import Room, size_of
from shellgen.geom.curves import at_arc_length, length
from shellgen.model import Side, Spike
from shellgen.pattern.flatmap import Seats
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.wear import Anchor

SMALL_HEIGHTS = (3.5, 2.5, 1.8)  # ISO 3098
SEAT_HEIGHTS = (2.5, 1.8)
NUMBER_GAP = 1.3  # mm from the end of a tick to its number
NEAR = 14.0  # mm: a side's name this near to it is clear; further off it gets a leader line
INSETS = np.array([5.5, 8.0, 11.0, NEAR])  # places for a side's name: mm in from the edge ...
SHARES = np.array([0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74, 0.18, 0.82])  # ... and how far along it, best first
ACROSS = 4.0  # mm from a tick's tip: here its leader line may cross the arc around the corner
FAR = (0.0, 1.5, 3.0, 5.0, 7.0)  # places for a mark's number: mm beyond its tick ...
ASIDE = (0.0, 2.0, -2.0, 4.0, -4.0, 6.0, -6.0, 9.0, -9.0)  # ... and to its side, best first
NOTEWORTHY_BEVEL = np.radians(3.0)  # a hand-held knife is no more exact than this (common practice, no source)
OFF_SEAT = 1.2  # mm from a seat to the leader line of its name
AROUND = np.array([(np.cos(turn), np.sin(turn)) for turn in np.radians((0, 180, 90, 270, 45, 135, 225, 315))])

Items = list[Text | Path]
Placed = tuple[Text | Path, ...]


def templates(
    shell_name: str, ground: Ground, foam: Foam, seats: Seats, spikes: tuple[Spike, ...], anchors: tuple[Anchor, ...],
    *, rule: Rule = METRIC,
) -> tuple[Drawing, ...]:  # fmt: skip
    """The templates of all pieces, in their order."""
    return tuple(
        template(shell_name, ground, foam, seats, spikes, anchors, index, rule=rule)
        for index in range(len(foam.cut.pieces))
    )


def template(
    shell_name: str,
    ground: Ground,
    foam: Foam,
    seats: Seats,
    spikes: tuple[Spike, ...],
    anchors: tuple[Anchor, ...],
    index: int,
    flip: Flip | None = None,
    *,
    rule: Rule = METRIC,
    joints: Sequence[Floats] = (),
) -> Drawing:
    """Piece `index` at true size, outside up, on a sheet just large enough for it.

    flip : what its paper serves for; joints : lines on the sheet where paper is joined, which no lettering crosses
    """
    piece = foam.cut.pieces[index]
    low, across, up = sheet_of(foam.pattern, index)
    flip = flip and flip.moved(low)
    lines = [
        *cut_paths(foam, index, low),
        *score_paths(ground, foam, index, low),
        *seat_paths(seats, index, low),
        *turning_paths(ground.mesh, foam, seats, spikes, index, low),
        *junction_paths(foam, index, low),
        *midline_paths(ground.mesh, foam, index, low),
        *anchor_paths(ground, foam, anchors, index, low),
    ]
    marks = list(flip.ticks) if flip else ticks(foam, index, low)
    if flip:
        lines = flip.clipped(lines, outline(foam, index) - low)
        across = across if flip.axis is None else flip.axis + MARGIN
    of = foam.pattern.flats[index]
    middles = of.flat[piece.faces].mean(axis=1) - low
    lines, room, edge = _along_the_edge(foam, index, low, [*lines, *mark_paths(marks)], marks, flip, joints)
    words = [
        *edge,
        *_fold_words(lines, room, flip),
        *seat_names(seats, spikes, index, low, room, flip),
        *_anchor_names(lines, room, flip),
        *title(ground.mesh, foam, index, low, room, flip, rule),
        *growth_words(middles, of.stretch, room, shows=flip.shows if flip else lambda _: True),
    ]
    name = both(piece.name) if flip else piece.name
    return Drawing(name, across, up, (*lines, *words), title=f"{shell_name} {name}")


def _along_the_edge(
    foam: Foam,
    index: int,
    low: Floats,
    lines: list[Path],
    marks: list[Tick],
    flip: Flip | None,
    joints: Sequence[Floats],
) -> tuple[list[Path], Room, Items]:
    """Numbers of marks and names of sides; smaller on crowded pieces, and without the midline's ends if need be."""
    edge, sides = outline(foam, index) - low, len(_shown_sides(foam, index, low, flip))
    edge = flip.half(edge) if flip else edge
    bare = lines if flip else [path for path in lines if path.layer != "symmetry"]
    for heights, kept in ((SMALL_HEIGHTS, lines), (SMALL_HEIGHTS[1:], lines), (SMALL_HEIGHTS[1:], bare)):
        room = Room(edge, [*(path.line for path in kept if path.layer != "cut"), *joints])
        numbers = _mark_numbers(marks, room, heights)
        names = _side_names(foam, index, low, room, flip)
        placed = sum(isinstance(item, Text) for item in (*numbers, *names))
        if placed >= len(marks) + sides:
            break
    return kept, room, [*numbers, *names]


def _mark_numbers(marks: list[Tick], room: Room, heights: tuple[float, ...]) -> Items:
    """All of one height if possible; those without room at their tick get a leader line."""
    for height in heights:
        words: Items = []
        with room.trial() as undo:
            for tick in marks:
                found: Placed = room.place([tick.written], (height,), _by_tick(tick, [tick.written], height, marks))
                if not found:
                    break
                words += found
            else:
                undo.clear()
                return words
    placed: Items = []
    waiting = []
    for tick in marks:
        found = ()
        for lines in _written(tick):
            near = np.vstack([_by_tick(tick, lines, height, marks) for height in heights])
            found = found or room.place(lines, heights, near)
        placed += found
        waiting += [] if found else [tick]
    for tick in waiting:
        tip, found = tick.at + TICK * tick.inward, ()
        for lines in _written(tick):
            found = found or room.lead(lines, SMALL_HEIGHTS[1:], tip, across=ACROSS)
        placed += found
    return placed


def _written(tick: Tick) -> list[list[str]]:
    """A tick's number in a line, or two numbers one above the other."""
    numbers = tick.written.split("/")
    return [[tick.written], numbers] if len(numbers) == 2 and all(numbers) else [[tick.written]]


def _by_tick(tick: Tick, lines: list[str], height: float, marks: list[Tick]) -> Floats:
    """Places for a tick's number: beyond its end, else at its side, and nearer to it than to any other tick."""
    half = np.array(size_of(lines, height)) / 2
    aside = np.array([-tick.inward[1], tick.inward[0]])
    reach, wide = np.abs(tick.inward) @ half, np.abs(aside) @ half
    start = (JUNCTION_RADIUS if tick.end else TICK) + NUMBER_GAP + reach
    beyond = [(start + far, side) for far in FAR for side in ASIDE]
    at_side = [(r, s * (wide + NUMBER_GAP)) for r in (TICK - reach, 0.5 * TICK, TICK + 1.0) for s in (1, -1)]
    places = np.array([(*beyond[:3], *at_side, *beyond[3:])])[0]
    spots: Floats = tick.at + places[:, :1] * tick.inward + places[:, 1:] * aside
    tips = np.array([other.at + TICK * other.inward for other in marks if other is not tick])
    if not len(tips):
        return spots
    own = np.linalg.norm(spots - (tick.at + TICK * tick.inward), axis=1)
    others = np.linalg.norm(spots[:, None] - tips, axis=2).min(axis=1)
    return np.asarray(spots[own < others])


def _side_names(foam: Foam, index: int, low: Floats, room: Room, flip: Flip | None) -> Items:
    """Along each side, the piece it is glued to, and the bevel if it matters."""
    words: Items = []
    for side, curve in _shown_sides(foam, index, low, flip):
        along = SHARES * length(curve)
        ahead, back = at_arc_length(curve, along + 1.0), at_arc_length(curve, along - 1.0)
        angles = np.arctan2(*(ahead - back).T[::-1])
        inward = np.stack([-np.sin(angles), np.cos(angles)], axis=1)
        spots = (at_arc_length(curve, along) + INSETS[:, None, None] * inward).reshape(-1, 2)
        names = side_names(foam, index, side)
        names = tuple(map(both, names)) if flip else names
        found: Placed = ()
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


def _shown_sides(foam: Foam, index: int, low: Floats, flip: Flip | None) -> list[tuple[Side, Floats]]:
    """The sides with their curves, as far as they are drawn."""
    curves = [(side, foam.pattern.flats[index].flat[side.vertices] - low) for side in foam.cut.pieces[index].sides]
    if flip:
        curves = [(side, curve[[flip.shows(point) for point in curve]]) for side, curve in curves]
    return [(side, curve) for side, curve in curves if len(curve) > 1 and length(curve) > NEAR / 2]


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


def seat_names(
    seats: Seats, spikes: tuple[Spike, ...], index: int, low: Floats, room: Room, flip: Flip | None = None
) -> Items:
    """In each seat its spike and the spike's master, as far as there is room; a name without room has a leader line."""
    masters = {spike.name: spike.master for spike in spikes}
    words: Items = []
    waiting: list[tuple[str, Floats, float]] = []
    for name, points in seats[index]:
        middle = points.mean(axis=0) - low
        if flip and not flip.shows(middle):
            continue
        short, master, angle = name.removeprefix("spike-"), masters[name], 0.0
        if flip:
            short, master = flip.spike(name), flip.master(name, masters)
        if flip and flip.axis is not None and points[:, 0].max() - low[0] > flip.axis:  # half a seat: higher than wide
            middle, angle = flip.half(points - low).mean(axis=0), np.pi / 2
        x, y = np.meshgrid(*2 * [np.array([0, 1.5, -1.5, 3, -3, 5, -5, 7, -7])])
        spots = middle + np.column_stack([x.ravel(), y.ravel()])
        spots = spots[np.argsort(np.hypot(x, y).ravel(), kind="stable")]
        found: Placed = ()
        for said in ([short, master], [short], [master]):
            found = found or room.place(said, SEAT_HEIGHTS, spots, angle)
        words += found
        if len(points) > 3:
            room.close(points - low)
        if not any(isinstance(item, Text) and item.text == short for item in found):
            waiting.append((short, middle, float(np.linalg.norm(points - low - middle, axis=1).max())))
    for short, middle, reach in waiting:
        for to in middle + (reach + OFF_SEAT) * AROUND:
            if found := room.lead([short], SEAT_HEIGHTS[1:], to):
                words += found
                break
    return words


def _fold_words(lines: list[Path], room: Room, flip: Flip | None) -> Items:
    """Along the line that the paper is flipped on."""
    if not flip or flip.axis is None:
        return []
    folds = [path.points for path in lines if path.layer == "symmetry"]
    low, high = (np.vstack(folds)[:, 1].min(), np.vstack(folds)[:, 1].max()) if folds else (0.0, 0.0)
    spots = np.array([(flip.axis - inset, low + share * (high - low)) for inset in INSETS for share in SHARES])
    return list(room.place(["flip on this line"], SMALL_HEIGHTS, spots, np.pi / 2))


def _anchor_names(lines: list[Path], room: Room, flip: Flip | None) -> Items:
    """The anchor's name at each cross."""
    crosses: dict[str, Floats] = {p.data["anchor"]: p.points.mean(axis=0) for p in lines if "anchor" in p.data}
    words: Items = []
    for name, at in crosses.items():
        spots = room.spots(at, step=1.5, most=300)
        said = both(name) if flip else name
        words += room.place([said, "inside"], SEAT_HEIGHTS, spots) or room.place([said], SEAT_HEIGHTS, spots)
    return words
