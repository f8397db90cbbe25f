"""Carries points and lines of the dome over to the flat pieces."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shellgen.geom.triangles import locate
from shellgen.model import Cut, Layout, Line, Pattern, Piece, ShellMesh, Spike


def chain(piece: Piece, mesh: ShellMesh, layout: Layout, line: int) -> NDArray | None:
    """(k,) the piece's own vertices along a line of the net that runs through it; None if it does not.

    A vertex of a dart stands twice in a piece, so the chain is read off the triangles on the line's left (or right).
    """
    of: Line = layout.lines[line]
    vertices = mesh.line_vertices[line]
    for cell, ends in ((of.left, (vertices[:-1], vertices[1:])), (of.right, (vertices[1:], vertices[:-1]))):
        if cell not in piece.cells:
            continue
        corners = piece.shell_vertices[piece.faces]
        starts, nexts = corners.ravel(), np.roll(corners, -1, axis=1).ravel()
        own, own_next = piece.faces.ravel(), np.roll(piece.faces, -1, axis=1).ravel()
        size = len(mesh.points)
        key, wanted = starts * size + nexts, ends[0] * size + ends[1]
        order = np.argsort(key, kind="stable")
        hit = order[np.searchsorted(key, wanted, sorter=order)]
        first, second = (own[hit], own_next[hit]) if cell == of.left else (own_next[hit], own[hit])
        return np.append(first, second[-1])
    return None


def carry(uv: NDArray, mesh: ShellMesh, cut: Cut, pattern: Pattern, *, closed: bool) -> list[tuple[int, NDArray]]:
    """A dense polyline on the dome as flat polylines: (piece, (n, 2) mm) for each stretch that stays in one piece.

    uv : (n, 2); the parts of a closed line meet end to start unless a seam divides them
    """
    piece_of = np.full(len(mesh.faces), -1)
    local = np.zeros(len(mesh.faces), int)
    for index, piece in enumerate(cut.pieces):
        piece_of[piece.shell_faces] = index
        local[piece.shell_faces] = np.arange(len(piece.shell_faces))
    face, weights = locate(mesh.uv, mesh.faces, uv)
    owner = piece_of[face]
    flat = np.empty((len(uv), 2))
    for index in np.unique(owner):
        rows = owner == index
        own = cut.pieces[index].faces[local[face[rows]]]
        # A piece lists a triangle's corners in an order of its own: match them by the shell's vertices.
        same = mesh.faces[face[rows]][:, :, None] == cut.pieces[index].shell_vertices[own][:, None, :]
        own = np.take_along_axis(own, same.argmax(axis=2), axis=1)
        flat[rows] = np.einsum("nk,nkd->nd", weights[rows], pattern.flats[index].flat[own])
    breaks = np.flatnonzero(owner != np.roll(owner, 1))
    if len(breaks) == 0 or not closed:
        starts = [0, *breaks[breaks > 0]]
        runs = [np.arange(a, b) for a, b in zip(starts, [*starts[1:], len(uv)], strict=True)]
        if closed:
            runs = [np.append(runs[0], 0)]
    else:
        ends = np.roll(breaks, -1)
        runs = [np.arange(a, b if b > a else b + len(uv)) % len(uv) for a, b in zip(breaks, ends, strict=True)]
    return [(int(owner[run[0]]), flat[run]) for run in runs if len(run) > 1]


def seats(
    mesh: ShellMesh, cut: Cut, pattern: Pattern, spikes: tuple[Spike, ...]
) -> tuple[tuple[tuple[str, NDArray], ...], ...]:
    """Per piece, (spike name, flat polyline) of the outlines on which spikes stand; open where a seam cuts one."""
    found: list[list[tuple[str, NDArray]]] = [[] for _ in cut.pieces]
    for spike in spikes:
        for piece, points in carry(spike.seat_uv, mesh, cut, pattern, closed=True):
            found[piece].append((spike.name, points))
    return tuple(map(tuple, found))
