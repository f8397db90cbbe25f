"""What stands large on a piece: its name, what to do with it, and the arrow to the crown."""

from __future__ import annotations

import numpy as np

from shellgen.canvas import Path, Text
from shellgen.canvas.lettering import width
from shellgen.canvas.reading import upright
from shellgen.canvas.rule import Rule
from shellgen.core.arrays import Floats
from shellgen.draw.flip import Flip, both
from shellgen.draw.placing import Room, texts
from shellgen.model import Piece, ShellMesh
from shellgen.pipeline.foam import Foam

TITLE_HEIGHTS = (14.0, 10.0, 7.0, 5.0, 3.5, 2.5, 1.8)  # ISO 3098
Sized = tuple[float, float]
ARROWS: tuple[Sized, ...] = ((40.0, 5.0), (25.0, 3.5), (14.0, 2.5), (10.0, 1.8))
"""Length and height of the word, mm, of the arrows that are tried."""
SIDES = {"L": "left half", "R": "right half", "C": "centre piece"}

Items = list[Text | Path]


def title(mesh: ShellMesh, foam: Foam, index: int, low: Floats, room: Room, flip: Flip | None, rule: Rule) -> Items:
    """Name, half, number to cut, the side that is up and the direction of the crown."""
    piece, flat = foam.cut.pieces[index], foam.pattern.flats[index].flat
    centre = flat.mean(axis=0) - low
    name, what = piece.name, f"{SIDES[piece.side]}, cut 1"
    if flip:
        half = flip.axis is not None
        name, what = both(name), "half of the piece, cut 1 whole" if half else "cut 1, flip the paper, cut 1"
        centre = np.array([centre[0] if flip.axis is None else flip.axis / 2, centre[1]])
    spots = room.spots(centre)
    fine = room.spots(centre, step=2.0) if len(spots) < 300 else spots
    words: tuple[Text, ...] = ()
    for lines, heights in (
        *(([name, what, *lines], (7.0, 5.0, 3.5)) for lines in _side_up(foam.thickness, rule)),
        ([name, what], (5.0, 3.5, 2.5)),
        ([name, "textured", "side up"], (3.5, 2.5)),
        ([name], TITLE_HEIGHTS),
    ):
        words = words or room.place(lines, heights, fine)
    return [*words, *pointer(mesh, piece, flat, centre, room)]


def _side_up(thickness: float, rule: Rule) -> list[list[str]]:
    """The side that is up, and the foam: with inches if they have room."""
    up, foam = "textured side up", f"{thickness:g} mm foam"
    return [*([[f"{up},", rule.both(foam)]] if rule.inches else []), [f"{up}, {foam}"]]


def pointer(
    mesh: ShellMesh, piece: Piece, flat: Floats, near: Floats, room: Room, *, sizes: tuple[Sized, ...] = ARROWS
) -> Items:
    """An arrow towards the crown, or towards the head on the piece with the crown. flat : points of the piece"""
    word = "head" if _holds_crown(mesh, piece) else "crown"
    return _arrow(_crown_arrow(mesh, piece, flat), word, near, room, sizes)


def _arrow(direction: Floats, word: str, near: Floats, room: Room, sizes: tuple[Sized, ...]) -> Items:
    """An arrow with its word below, as large as fits near the point `near`."""
    angle = float(np.arctan2(direction[1], direction[0]))
    for shaft_length, height in sizes:
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
