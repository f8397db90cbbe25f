"""A mosaic of cells as a half net: links between corners, and a name for every cell."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from shellgen.core.arrays import Bools, Floats
from shellgen.errors import GeometryError
from shellgen.model import Surface
from shellgen.plates._draft import Draft
from shellgen.plates._honeycomb import Contacts
from shellgen.plates._net import MIDLINE, PLATE, RIM, PlateLabel


def walks(found: Contacts, rings: Sequence[Sequence[int]]) -> dict[tuple[int, int], int]:
    """The cell on the left of each step from corner to corner.

    GeometryError if the cells along the rim do not stand in one row.
    """
    left = {step: cell for cell, ring in enumerate(rings) for step in _ways(ring)}
    if not left.keys() >= set(pairwise(found.rim)):
        raise GeometryError("the cells along the rim do not stand in one row; ask for another size")
    return left


def _ways(ring: Sequence[int]) -> list[tuple[int, int]]:
    return list(pairwise([*ring, ring[0]]))


def drafted(
    surface: Surface, found: Contacts, rings: list[list[int]], central: Bools, uv: Floats, *, kinds: tuple[str, str]
) -> Draft:
    """The half net of cells with these corners (n, 2). GeometryError as `walks`.

    central : cells across the midline, of which the ring is one half
    kinds   : of the cells inside and of those on the rim; numbered ring by ring from the crown, from neck to tail
    """
    left = walks(found, rings)
    rim = {step for a, b in pairwise(found.rim) for step in ((a, b), (b, a))}
    middle = {step for a, b in pairwise(found.middle) for step in ((a, b), (b, a))}
    names = _named(surface.points(uv), rings, left, [not rim.isdisjoint(_ways(ring)) for ring in rings], kinds)
    draft = Draft()
    draft.add(uv)
    for (a, b), cell in left.items():
        if a < b or (b, a) not in left:
            kind = RIM if (a, b) in rim else MIDLINE if (a, b) in middle and central[cell] else PLATE
            across = left.get((b, a), -1)
            draft.link(a, b, left=names[cell], right=names[across] if across >= 0 else None, kind=kind)
    return draft


def _named(
    points: Floats,
    rings: list[list[int]],
    left: dict[tuple[int, int], int],
    outer: list[bool],
    kinds: tuple[str, str],
) -> list[PlateLabel]:
    centre = np.array([points[ring].mean(axis=0) for ring in rings])
    neighbours: list[set[int]] = [set() for _ in rings]
    for (a, b), cell in left.items():
        neighbours[cell].add(left.get((b, a), cell))
    distance = {int(centre[:, 2].argmax()): 0}
    for cell in (queue := list(distance)):
        fresh = sorted(neighbours[cell] - distance.keys())
        distance |= dict.fromkeys(fresh, distance[cell] + 1)
        queue += fresh
    angle = np.arctan2(centre[:, 1], centre[:, 0])
    order = sorted(range(len(rings)), key=lambda c: (distance[c], angle[c]))
    count = {False: 0, True: 0}
    names = [PlateLabel("")] * len(rings)
    for cell in order:
        count[outer[cell]] += 1
        names[cell] = PlateLabel(kinds[outer[cell]], count[outer[cell]])
    return names
