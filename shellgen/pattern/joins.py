"""The order in which the seams are glued: each can be reached by hand, and each join begins where the pieces already
hold.

The darts of a piece are closed while it is still separate. Then the others are joined one by one to the piece with the
crown, those nearest the crown first, a left one before its mirror image. A piece is joined first where it is nearest
the crown, and from there along its edge in both directions, so that no gap has to be bridged.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from shellgen.model import Cut, Mark, ShellMesh, Side

SIDES = "CLR"


@dataclass(frozen=True, slots=True, eq=False)
class Join:
    """One seam to glue.

    number : 1, 2, 3 ... in the order of gluing
    piece, to : names; the same for a dart
    forward : whether it is glued from the seam's own beginning
    marks  : numbers, in the order in which they are glued
    """

    number: int
    seam: int
    piece: str
    to: str
    dart: bool
    forward: bool
    marks: tuple[int, ...]


def joins(cut: Cut, mesh: ShellMesh, marks: Sequence[Mark]) -> tuple[Join, ...]:
    """Every seam once, in the order of gluing."""
    radius = np.hypot(*mesh.uv.T)
    order = _pieces(cut, mesh, radius)
    made: list[Join] = []
    done: list[int] = []

    def join(seam: int, piece: int, forward: bool) -> None:
        of = cut.seams[seam]
        other = next((k for k, _ in of.sides if k != piece), piece)
        along = sorted((m.fraction, m.number) for m in marks if m.seam == seam)
        numbers = tuple(number for _, number in (along if forward else along[::-1]))
        names = cut.pieces[piece].name, cut.pieces[other].name
        made.append(Join(len(made) + 1, seam, *names, of.dart, forward, numbers))

    for piece in order:
        for seam, forward in _darts(cut, mesh, piece, radius):
            join(seam, piece, forward)
    for piece in order:
        for seam, forward in _to_joined(cut, piece, done, radius):
            join(seam, piece, forward)
        done.append(piece)
    return tuple(made)


def _pieces(cut: Cut, mesh: ShellMesh, radius: np.ndarray) -> list[int]:
    """The piece with the crown first. Each next one touches one before: it is the mirror image of the last, or else the
    nearest to the crown, from the head to the tail."""
    key = [
        (
            round(float(radius[piece.shell_vertices].mean()), 6),
            round(-float(mesh.uv[piece.shell_vertices, 0].mean()), 6),
            SIDES.index(piece.side),
            piece.name,
        )
        for piece in cut.pieces
    ]  # the same for a left piece and its mirror image, except for the side
    crown = int(np.argmin(radius))
    start = min((k for k, p in enumerate(cut.pieces) if crown in p.shell_vertices), key=lambda k: key[k])
    order, left = [start], set(range(len(cut.pieces))) - {start}
    adjacent: dict[int, set[int]] = {k: set() for k in range(len(cut.pieces))}
    for seam in cut.seams:
        (a, _), (b, _) = seam.sides
        adjacent[a].add(b)
        adjacent[b].add(a)
    while left:
        pair = cut.pieces[order[-1]].mirror
        nearest = min((k for k in left if adjacent[k] & set(order)), key=lambda k: (k != pair, key[k]))
        order.append(nearest)
        left.remove(nearest)
    return order


def _darts(cut: Cut, mesh: ShellMesh, piece: int, radius: np.ndarray) -> Iterator[tuple[int, bool]]:
    """The darts of a piece, each from its tip, the one that reaches nearest to the crown first, left before right.

    A dart that forks is closed branch by branch, then the trunk where they met. A dart without a tip leads from the
    outline to a hole for another piece, which is joined later; it is closed from its end at the crown.
    """

    def key(k: int) -> tuple[float, float, bool]:
        vertices = cut.seams[k].vertices
        x, y = mesh.uv[vertices].mean(axis=0)
        return round(float(radius[vertices].min()), 6), round(-float(x), 6), float(y) < 0

    left = sorted((k for k, seam in enumerate(cut.seams) if seam.dart and seam.sides[0][0] == piece), key=key)
    mouths = {end for side in cut.pieces[piece].sides if side.seam not in left for end in _corners(cut, piece, side)}
    while left:
        meeting = Counter(end for k in left for end in _ends(cut, k))
        tips = {end for end, count in meeting.items() if count == 1} - mouths
        seam = next((k for k in left if tips & _ends(cut, k)), left[0])
        left.remove(seam)
        yield seam, _begins(cut, seam, tips, radius)


def _corners(cut: Cut, piece: int, side: Side) -> Iterator[int]:
    """Both ends of a side of a piece, as vertices of the shell."""
    return (int(v) for v in cut.pieces[piece].shell_vertices[side.vertices[[0, -1]]])


def _to_joined(cut: Cut, piece: int, done: Sequence[int], radius: np.ndarray) -> Iterator[tuple[int, bool]]:
    """Seams between a piece and those already joined: the nearest to the crown first, then those that touch it, and so
    on."""
    left = [k for k, seam in enumerate(cut.seams) if not seam.dart and _between(cut, k, piece, done)]
    held: set[int] = set()
    while left:
        touching = [k for k in left if held & _ends(cut, k)] or left
        seam = min(touching, key=lambda k: (_nearest(cut, k, radius), k))
        left.remove(seam)
        yield seam, _begins(cut, seam, held, radius)
        held |= _ends(cut, seam)


def _between(cut: Cut, seam: int, piece: int, done: Sequence[int]) -> bool:
    (a, _), (b, _) = cut.seams[seam].sides
    return (a == piece and b in done) or (b == piece and a in done)


def _begins(cut: Cut, seam: int, among: set[int], radius: np.ndarray) -> bool:
    """Whether a seam is glued from its own beginning: it is glued from the end that is in `among`, else from the end
    nearest the crown."""
    first, last = (int(v) for v in cut.seams[seam].vertices[[0, -1]])
    return first in among if (first in among) != (last in among) else bool(radius[first] <= radius[last])


def _ends(cut: Cut, seam: int) -> set[int]:
    return {int(v) for v in cut.seams[seam].vertices[[0, -1]]}


def _nearest(cut: Cut, seam: int, radius: np.ndarray) -> float:
    return round(float(radius[cut.seams[seam].vertices].min()), 6)
