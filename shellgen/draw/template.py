"""The template of one piece: outline, score lines, registration marks, seats and the words a maker needs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shellgen.canvas import Drawing, Path, Text
from shellgen.draw.placing import Room, texts, upright
from shellgen.flatmap import chain
from shellgen.geom.curves import at_arc_length, length
from shellgen.lettering import width
from shellgen.model import Piece, Shell, Side

MARGIN = 8.0
TICK = 6.0
JUNCTION_RADIUS = 8.0
TITLE_HEIGHTS = (14.0, 10.0, 7.0, 5.0, 3.5)
NOTE_HEIGHTS = (5.0, 3.5, 2.5)
SMALL_HEIGHTS = (3.5, 2.5, 1.8)  # ISO 3098
INSETS = np.array([5.5, 8.0, 11.0, 15.0, 20.0])  # where a side's name may stand: mm in from the edge ...
SHARES = np.array([0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74])  # ... and how far along it, best first
NOTEWORTHY_STRETCH = 0.01  # said in words above this
NOTEWORTHY_BEVEL = np.radians(3.0)  # a knife held by hand is no truer than this (common practice, no source)


def template(shell: Shell, index: int) -> Drawing:
    """Piece `index` at true size, outside up, on a sheet just large enough for it."""
    piece, flat = shell.cut.pieces[index], shell.pattern.flats[index].flat
    low = flat.min(axis=0) - MARGIN
    width, height = flat.max(axis=0) + MARGIN - low
    outline = np.concatenate([flat[side.vertices[:-1]] for side in piece.sides]) - low
    lines = [
        *cut_paths(shell, index, low),
        *score_paths(shell, index, low),
        *seat_paths(shell, index, low),
        *mark_paths(shell, index, low),
        *junction_paths(shell, index, low),
    ]
    room = Room(outline, [_drawn(path) for path in lines if path.layer != "cut"])
    words = [
        *_title(shell, index, low, room),
        *_mark_numbers(shell, index, low, room),
        *_side_names(shell, index, low, room),
        *_stretch_words(shell, index, low, room),
    ]
    return Drawing(piece.name, float(width), float(height), (*lines, *words), title=f"{shell.name} {piece.name}")


def _drawn(path: Path) -> NDArray:
    return np.vstack([path.points, path.points[:1]]) if path.closed else path.points


def cut_paths(shell: Shell, index: int, low: NDArray) -> list[Path]:
    """Each side of the outline as a path of its own, so that mates can be found by their seam."""
    piece, flat = shell.cut.pieces[index], shell.pattern.flats[index].flat
    result = []
    for side in piece.sides:
        data = {"edge": "rim"} if side.seam < 0 else {"seam": shell.cut.seams[side.seam].name}
        result.append(Path(flat[side.vertices] - low, "cut", data=data))
    return result


def score_paths(shell: Shell, index: int, low: NDArray) -> list[Path]:
    """Plate lines inside the piece that are burnt or carved, not cut."""
    piece, flat = shell.cut.pieces[index], shell.pattern.flats[index].flat
    cut = set(shell.cut.cut_lines)
    result = []
    for number, line in enumerate(shell.layout.lines):
        if line.kind != "plate" or number in cut or not {line.left, line.right} & set(piece.cells):
            continue
        vertices = chain(piece, shell.mesh, shell.layout, number)
        if vertices is not None:
            result.append(Path(flat[vertices] - low, "score", data={"line": str(number)}))
    return result


def seat_paths(shell: Shell, index: int, low: NDArray) -> list[Path]:
    """Where spikes stand."""
    return [Path(points - low, "seat", data={"spike": name}) for name, points in shell.seats[index]]


def _inward(angle: float) -> NDArray:
    return np.array([np.cos(angle), np.sin(angle)])


def _marks_of(shell: Shell, index: int, low: NDArray) -> list[tuple[int, str, float, NDArray, NDArray]]:
    """(number, seam name, share, place, direction of the tick) for every mark of the piece.

    At a seam's ends the tick leans away from the corner, so that it stays inside the piece.
    """
    result = []
    for mark in shell.marks:
        seam = shell.cut.seams[mark.seam]
        for (piece, x, y, angle), (_, side_index) in zip(mark.at, seam.sides, strict=True):
            if piece != index:
                continue
            forward = shell.cut.pieces[piece].sides[side_index].forward
            lean = 0.0 if 0 < mark.fraction < 1 else np.radians(60) * (1 if (mark.fraction == 1) == forward else -1)
            result.append((mark.number, seam.name, mark.fraction, np.array([x, y]) - low, _inward(angle + lean)))
    return result


def mark_paths(shell: Shell, index: int, low: NDArray) -> list[Path]:
    """Ticks across the edge, inwards."""
    return [
        Path(np.array([at, at + TICK * inward]), "mark", data={"seam": seam, "mark": str(number)})
        for number, seam, _, at, inward in _marks_of(shell, index, low)
    ]


def _mark_numbers(shell: Shell, index: int, low: NDArray, room: Room) -> list[Text]:
    words: list[Text] = []
    for number, _, _, at, inward in _marks_of(shell, index, low):
        aside = np.array([-inward[1], inward[0]])
        spots = [at + r * inward + s * aside for r in (TICK + 3.5, TICK + 5.5, 4.5, 9.5) for s in (0, 3.5, -3.5, 6, -6)]
        words += room.place([str(number)], SMALL_HEIGHTS, np.array(spots))
    return words


def junction_paths(shell: Shell, index: int, low: NDArray) -> list[Path]:
    """Arcs round the corners where three pieces meet: glued straight, they make one round circle."""
    piece, flat = shell.cut.pieces[index], shell.pattern.flats[index].flat
    result = []
    count = len(piece.sides)
    for k, side in enumerate(piece.sides):
        after = piece.sides[(k + 1) % count]
        if side.seam < 0 or after.seam < 0 or side.seam == after.seam:
            continue
        corner = flat[side.vertices[-1]]
        back, ahead = flat[side.vertices[-2]] - corner, flat[after.vertices[1]] - corner
        start = np.arctan2(ahead[1], ahead[0])
        sweep = (np.arctan2(back[1], back[0]) - start) % (2 * np.pi)
        turn = start + sweep * np.linspace(0.0, 1.0, 13)
        arc = corner + JUNCTION_RADIUS * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        result.append(Path(arc - low, "mark", data={"junction": str(piece.shell_vertices[side.vertices[-1]])}))
    return result


def _side_names(shell: Shell, index: int, low: NDArray, room: Room) -> list[Text]:
    """Along each side, the piece it is glued to; the bevel where it matters."""
    piece, flat = shell.cut.pieces[index], shell.pattern.flats[index].flat
    words: list[Text] = []
    for side in piece.sides:
        curve = flat[side.vertices] - low
        along = SHARES * length(curve)
        at, ahead = at_arc_length(curve, along), at_arc_length(curve, along + 1.0)
        back = at_arc_length(curve, along - 1.0)
        angles = np.arctan2(*(ahead - back).T[::-1])
        inward = np.stack([-np.sin(angles), np.cos(angles)], axis=1)
        spots = (at + INSETS[:, None, None] * inward).reshape(-1, 2)
        angles = np.tile(angles, len(INSETS))
        words += room.place([_side_name(shell, index, side)], SMALL_HEIGHTS, spots, angles)
    return words


def _side_name(shell: Shell, index: int, side: Side) -> str:
    if side.seam < 0:
        return "rim"
    seam = shell.cut.seams[side.seam]
    others = [piece for piece, _ in seam.sides if piece != index]
    name = f"to {shell.cut.pieces[others[0]].name}" if others else "dart"
    bevel = shell.bevels[side.seam]
    return f"{name}, bevel {np.degrees(bevel):.0f}°" if abs(bevel) > NOTEWORTHY_BEVEL else name


def _title(shell: Shell, index: int, low: NDArray, room: Room) -> list[Text | Path]:
    """Name, count, which side is up and where the crown is."""
    piece, flat = shell.cut.pieces[index], shell.pattern.flats[index].flat
    centre, arrow = flat.mean(axis=0) - low, _crown_arrow(shell, piece, flat)
    for lines in (
        [piece.name, "cut 1, this side up", f"{shell.thickness:g} mm foam"],
        [piece.name, "cut 1, this side up"],
        [piece.name],
    ):
        words = room.place(lines, TITLE_HEIGHTS if len(lines) == 1 else TITLE_HEIGHTS[2:], room.spots(centre))
        if words:
            break
    return [*words, *_arrow(arrow, "head" if _holds_crown(shell, piece) else "crown", centre, room)]


def _arrow(direction: NDArray, word: str, near: NDArray, room: Room) -> list[Text | Path]:
    """An arrow with its word under it, as large as there is room for near the point `near`."""
    angle = float(np.arctan2(direction[1], direction[0]))
    for shaft_length, height in ((40.0, 5.0), (25.0, 3.5), (14.0, 2.5)):
        spots = room.spots(near)[:200]
        found = room.reserve((max(shaft_length, width(word, height)), 3.0 * height), spots, angle)
        if found is None:
            continue
        aside = np.array([-np.sin(upright(angle)), np.cos(upright(angle))])
        shaft = spots[found] + 0.8 * height * aside
        tip, tail = shaft + shaft_length / 2 * direction, shaft - shaft_length / 2 * direction
        barb = np.array([-direction[1], direction[0]]) * 0.5 * height
        head = np.array([tip - height * direction + barb, tip, tip - height * direction - barb])
        return [
            Path(np.array([tail, tip]), "label"),
            Path(head, "label"),
            *texts([word], spots[found] - 0.7 * height * aside, height, angle),
        ]
    return []


def _crown_arrow(shell: Shell, piece: Piece, flat: NDArray) -> NDArray:
    """Unit direction on the flat piece towards the crown, or towards the head on the piece that holds the crown."""
    uv = shell.mesh.uv[piece.shell_vertices]
    toward = -np.linalg.norm(uv, axis=1) if not _holds_crown(shell, piece) else uv[:, 0]
    centred = flat - flat.mean(axis=0)
    slope = np.linalg.lstsq(centred, toward - toward.mean(), rcond=None)[0]
    return slope / np.linalg.norm(slope)


def _holds_crown(shell: Shell, piece: Piece) -> bool:
    return bool(np.argmin(np.linalg.norm(shell.mesh.uv, axis=1)) in piece.shell_vertices)


def _stretch_words(shell: Shell, index: int, low: NDArray, room: Room) -> list[Text]:
    """The largest stretch and compression in words, at the place where they are."""
    piece, of = shell.cut.pieces[index], shell.pattern.flats[index]
    words: list[Text] = []
    for ratio, face in (
        (of.stretch[:, 1].max() - 1, of.stretch[:, 1].argmax()),
        (of.stretch[:, 0].min() - 1, of.stretch[:, 0].argmin()),
    ):
        if abs(ratio) > NOTEWORTHY_STRETCH:
            verb = "stretch" if ratio > 0 else "press in"
            at = of.flat[piece.faces[face]].mean(axis=0) - low
            words += room.place([f"{verb} {abs(ratio):.1%}"], SMALL_HEIGHTS, room.spots(at)[:40])
    return words
