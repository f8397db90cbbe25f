"""Curves on a dome measured along its face: lines that meet well at their nodes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shellgen.core.arrays import Floats, Ints
from shellgen.geom.curves import arc_length
from shellgen.geom.straightest import closest_uv, inward, unit
from shellgen.model import Surface

STEP = 4.0
"""mm between the points of a line. Chosen: the chord of an arc of 60 mm radius then deviates by 0.03 mm."""
LEAST = 8
"""Fewest steps of a line, however short. Chosen: a line bends by at most a few degrees per step."""


def frames(surface: Surface, uv: Floats) -> Floats:
    """(n, 2, 3) orthonormal tangent vectors, the first along growing u."""
    first = unit(surface.tangents(uv)[:, :, 0])
    return np.stack([first, np.cross(surface.normals(uv), first)], axis=1)


def directions(surface: Surface, nodes: Floats, links: Ints, fixed: Sequence[int], *, ease: float) -> Floats:
    """(m, 2, 3) unit tangents in which each link leaves its two nodes, for lines that meet at even angles.

    The straight directions are turned towards a star of equal angles: wholly where two lines meet (so that they run
    through without a kink) or one meets the rim, by `ease` (0 to 1) where three or more do. At a node on the midline
    the mirror images of the links count too; `fixed` are links along the midline, which keep their direction.
    """
    points, frame = surface.points(nodes), frames(surface, nodes)
    at = links.ravel()
    chord = points[links[:, ::-1].ravel()] - points[at]
    angle = np.arctan2(*np.einsum("nki,ni->kn", frame[at], chord)[::-1])
    straight = np.isin(np.arange(len(at)) // 2, fixed)
    aim = angle.copy()
    rim = np.linalg.norm(nodes, axis=1) > 1 - 1e-12
    to_crown = np.zeros(len(nodes))
    to_crown[rim] = np.arctan2(*np.einsum("nki,ni->kn", frame[rim], inward(surface, nodes[rim]))[::-1])
    for node in range(len(nodes)):
        ends = np.flatnonzero(at == node)
        if rim[node]:
            aim[ends] = to_crown[node]
            continue
        mirrored = ends[~straight[ends]] if nodes[node, 1] == 0 else ends[:0]
        star = _evened(np.concatenate([angle[ends], -angle[mirrored]]))[: len(ends)]
        share = 1.0 if len(ends) + len(mirrored) == 2 else ease
        aim[ends] = angle[ends] + share * (star - angle[ends])
    aim[straight] = angle[straight]
    tangent = np.cos(aim)[:, None] * frame[at, 0] + np.sin(aim)[:, None] * frame[at, 1]
    return np.asarray(tangent.reshape(len(links), 2, 3))


def _evened(angle: Floats) -> Floats:
    """The star of equal angles nearest to the given directions, in the same order and not turned by whole rounds."""
    order = np.argsort(angle)
    even = 2 * np.pi * np.arange(len(angle)) / len(angle)
    star = np.empty_like(angle)
    star[order] = even + (angle[order] - even).mean()
    return star


def joined(surface: Surface, nodes: Floats, links: Ints, tangent: Floats) -> list[Floats]:
    """For each link a smooth line of uv points along the face, leaving its nodes along `tangent` (m, 2, 3).

    References: cubic Hermite curve between the nodes in space, brought down to the nearest points of the face.
    """
    ends = surface.points(nodes)[links]
    span = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    count = np.maximum(LEAST, np.ceil(span / STEP)).astype(int) + 1
    owner = np.repeat(np.arange(len(links)), count)
    t = np.concatenate([np.linspace(0, 1, n) for n in count])[:, None]
    pull = span[owner, None] * t * (1 - t)
    middle = t * t * (3 - 2 * t)
    space = (1 - middle) * ends[owner, 0] + middle * ends[owner, 1]
    space = space + pull * ((1 - t) * tangent[owner, 0] + t * tangent[owner, 1])
    guess = (1 - t) * nodes[links[owner, 0]] + t * nodes[links[owner, 1]]
    lines = np.split(closest_uv(surface, space, guess), np.cumsum(count)[:-1])
    for line, (start, end) in zip(lines, links, strict=True):
        line[0], line[-1] = nodes[start], nodes[end]
    return lines


def lengths_along(surface: Surface, uv: Floats) -> Floats:
    """(n,) mm along the face from the first point of a line."""
    return arc_length(surface.points(uv))


def yielded(surface: Surface, nodes: Floats, links: Ints, share: float) -> Floats:
    """(k, 2) nodes moved by the pull of their links (equal unit pulls), those on rim and midline kept.

    The full move (share 1) is a quarter of a node's shortest link for an unbalanced unit pull: chosen, about what
    turns a T into a Y.
    """
    points = surface.points(nodes)
    chord = points[links[:, 1]] - points[links[:, 0]]
    span = np.linalg.norm(chord, axis=1)
    pull, shortest = np.zeros((len(nodes), 3)), np.full(len(nodes), np.inf)
    for end, sign in ((0, 1), (1, -1)):
        np.add.at(pull, links[:, end], sign * chord / span[:, None])
        np.minimum.at(shortest, links[:, end], span)
    free = (nodes[:, 1] > 0) & (np.linalg.norm(nodes, axis=1) < 1 - 1e-12)
    moved = nodes.copy()
    moved[free] = closest_uv(surface, (points + 0.25 * share * shortest[:, None] * pull)[free], nodes[free])
    return moved


def along_middle(surface: Surface, start: Floats, end: Floats) -> Floats:
    """(n, 2) straight along the midline."""
    return np.linspace(start, end, _steps(surface, start, end) + 1)


def along_rim(surface: Surface, start: Floats, end: Floats) -> Floats:
    """(n, 2) on the unit circle, the short way."""
    first, last = np.arctan2(start[1], start[0]), np.arctan2(end[1], end[0])
    angle = np.linspace(first, last, _steps(surface, start, end) + 1)
    line = np.column_stack([np.cos(angle), np.sin(angle)])
    line[0], line[-1] = start, end
    return line


def _steps(surface: Surface, start: Floats, end: Floats) -> int:
    span = np.linalg.norm(np.subtract(*surface.points(np.stack([start, end]))))
    return max(LEAST, int(np.ceil(span / STEP)))
