"""Maps points and lines of the dome to the flat pieces."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import accumulate, pairwise

import numpy as np

from shellgen.core.arrays import Floats, Ints
from shellgen.geom.triangles import locate
from shellgen.model import Cut, Layout, Pattern, Piece, ShellMesh, Spike

Seats = tuple[tuple[tuple[str, Floats], ...], ...]
"""For each piece, the names of the spikes on it, each with the (n, 2) mm line around its seat on the flat piece."""

DART, LEAP = 0.5, 3.0
"""mm and usual steps between two points of an outline of which more means that a dart lies open between them (chosen:
steps of an outline on one piece differ by less than twice, and a dart that narrow is closed by a pen's line)."""


def chains(piece: Piece, mesh: ShellMesh, layout: Layout, lines: Iterable[int]) -> dict[int, Ints]:
    """For each of `lines` of the net that is in a piece, by its number, (k,) the piece's own vertices along it.

    A vertex of a dart occurs twice in a piece, so a chain is found from the triangles on the line's left (or right).
    """
    corners, size = piece.shell_vertices[piece.faces], len(mesh.points)
    own, own_next = piece.faces.ravel(), np.roll(piece.faces, -1, axis=1).ravel()
    key = corners.ravel() * size + np.roll(corners, -1, axis=1).ravel()
    order, cells, found = np.argsort(key, kind="stable"), set(piece.cells), {}
    for number in lines:
        line = layout.lines[number]
        if not {line.left, line.right} & cells:
            continue
        start, end = mesh.line_vertices[number][:-1], mesh.line_vertices[number][1:]
        left = line.left in cells
        hit = order[np.searchsorted(key, start * size + end if left else end * size + start, sorter=order)]
        first, second = (own[hit], own_next[hit]) if left else (own_next[hit], own[hit])
        found[number] = np.append(first, second[-1])
    return found


def carry(
    lines: Sequence[Floats], mesh: ShellMesh, cut: Cut, pattern: Pattern, *, closed: bool, leap: float = np.inf
) -> list[list[tuple[int, Floats]]]:
    """For each dense polyline on the dome its flat polylines: (piece, (n, 2) mm) for each part within one piece.

    lines : each (n, 2) uv; the parts of a closed line meet end to start unless a seam separates them
    leap  : mm between points on one piece above which an open dart lies between them, beyond LEAP times the usual step
    """
    if not lines:
        return []
    piece_of = np.full(len(mesh.faces), -1)
    local = np.zeros(len(mesh.faces), int)
    for index, piece in enumerate(cut.pieces):
        piece_of[piece.shell_faces] = index
        local[piece.shell_faces] = np.arange(len(piece.shell_faces))
    face, weights = locate(mesh.uv, mesh.faces, np.vstack(lines))
    owner = piece_of[face]
    flat = np.empty((len(face), 2))
    for index in np.unique(owner):
        rows = owner == index
        own = cut.pieces[index].faces[local[face[rows]]]
        # A piece lists a triangle's corners in an order of its own: match them by the shell's vertices.
        same = mesh.faces[face[rows]][:, :, None] == cut.pieces[index].shell_vertices[own][:, None, :]
        own = np.take_along_axis(own, same.argmax(axis=2), axis=1)
        flat[rows] = np.einsum("nk,nkd->nd", weights[rows], pattern.flats[index].flat[own])
    ends = pairwise(accumulate(map(len, lines), initial=0))
    return [_split_by_piece(owner[a:b], flat[a:b], closed=closed, leap=leap) for a, b in ends]


def _split_by_piece(owner: Ints, flat: Floats, *, closed: bool, leap: float) -> list[tuple[int, Floats]]:
    """A line's points, split where another piece begins, or the other edge of a dart."""
    step = np.linalg.norm(flat - np.roll(flat, 1, axis=0), axis=1)
    count, breaks = len(owner), np.flatnonzero((owner != np.roll(owner, 1)) | (step > leap + LEAP * np.median(step)))
    if len(breaks) == 0 or not closed:
        starts = [0, *breaks[breaks > 0]]
        runs = [np.arange(a, b) for a, b in zip(starts, [*starts[1:], count], strict=True)]
        if closed:
            runs = [np.append(runs[0], 0)]
    else:
        ends = np.roll(breaks, -1)
        runs = [np.arange(a, b if b > a else b + count) % count for a, b in zip(breaks, ends, strict=True)]
    return [(int(owner[run[0]]), flat[run]) for run in runs if len(run) > 1]


def seats(mesh: ShellMesh, cut: Cut, pattern: Pattern, spikes: tuple[Spike, ...]) -> Seats:
    """Per piece, (spike name, flat polyline) of the outlines of the spikes; open if a seam cuts one."""
    found: list[list[tuple[str, Floats]]] = [[] for _ in cut.pieces]
    carried = carry([spike.seat_uv for spike in spikes], mesh, cut, pattern, closed=True, leap=DART)
    for spike, parts in zip(spikes, carried, strict=True):
        for piece, points in parts:
            found[piece].append((spike.name, points))
    return tuple(map(tuple, found))
