"""What a placing is given, the places that it gives, and what several placings need."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely

from shellgen.core.arrays import Bools, Floats
from shellgen.errors import PresetError
from shellgen.geom.closest_parameters import closest_parameters
from shellgen.model import Layout, ShellMesh, Surface
from shellgen.spikes.groups import Group

DRAWN = "drawn"
"""The word for every circle of a drawing."""
PITCH = 1.5
"""Distance from spike to spike over the base with its ring, where the preset says none. Chosen: half a base of bare
plate between two lets the eye tell them apart, and a thumb reach the rings."""
PAIRED, ALONE = 4, 5
"""The last places in the order in which the spikes of one plate are numbered: those on the midline come last, so that
the others have their mirror images' numbers."""

foot = partial(closest_parameters, rounds=30, step=0.2, close=1e-11)
"""The place on the outer face under a point, from a guess that may be some way off: all else is measured from it."""


@dataclass(frozen=True, slots=True, eq=False)
class PlaceGround:
    """Where the spikes of one group may be placed.

    centres : (plates, 2) uv of the plates' centres
    plates  : the plates that carry them, by index; circles : the layers of circles that are theirs
    taken   : (k, 2) uv of the places of the groups before
    ring    : mm, thickness of the ring around each; where : the group's path in the preset
    """

    surface: Surface
    mesh: ShellMesh
    layout: Layout
    centres: Floats
    plates: frozenset[int]
    circles: frozenset[str]
    taken: Floats
    ring: float
    where: str

    @property
    def all_plates(self) -> bool:
        return len(self.plates) == len(self.layout.plates)

    def pitch(self, group: Group) -> float:
        """mm from spike to spike where the preset says none."""
        return PITCH * (max(group.base_diameter, group.base_width or 0.0) + 2 * self.ring)


@dataclass(frozen=True, slots=True, eq=False)
class AskedPlace:
    """A place for a spike.

    uv    : (2,); plate : index of its plate; size : mm across its base, if it was drawn
    order : the spikes of one plate are numbered by it, and then as they come
    """

    uv: Floats
    plate: int
    size: float | None = None
    order: int = PAIRED


def mirrored(on: PlaceGround, uv: Floats) -> Iterator[AskedPlace]:
    """Places in the left half or on the midline (n, 2), each with its mirror image, on the nearest plate that carries
    spikes."""
    own, shapes = left_cells(on)
    tree = shapely.STRtree(shapes)
    for at in uv:
        near = tree.query_nearest(shapely.Point(at), all_matches=True)
        plate = min((own[int(k)] for k in near), key=lambda p: (on.layout.plates[p].side != "C", p))
        yield AskedPlace(at, plate, order=PAIRED if at[1] else ALONE)
        if at[1] > 0:
            yield AskedPlace(at * (1, -1), on.layout.plates[plate].mirror)


def left_cells(on: PlaceGround) -> tuple[list[int], list[shapely.Polygon]]:
    """The cells of the left half that carry spikes: the plate of each, and its shape in uv."""
    found = [(c, plate) for c, plate in enumerate(on.layout.cell_plate) if plate in on.plates]
    borders = {c: border(on.layout, c) for c, _ in found}
    left = [(c, plate) for c, plate in found if borders[c][:, 1].max() > -borders[c][:, 1].min()]
    return [plate for _, plate in left], [shapely.Polygon(borders[c]) for c, _ in left]


def carried(on: PlaceGround, uv: Floats) -> Bools:
    """(n,) whether places lie on plates that carry spikes, or on those plates' mirror images."""
    if on.all_plates:
        return np.ones(len(uv), bool)
    area = shapely.union_all(left_cells(on)[1])
    return np.asarray(shapely.intersects_xy(area, uv[:, 0], np.abs(uv[:, 1])))


def border(layout: Layout, cell: int) -> Floats:
    """(n, 2) uv around a cell."""
    return np.concatenate([layout.lines[i].uv[::turn][:-1] for i, turn in layout.cells[cell]])


def named(layout: Layout, word: str) -> list[int]:
    """The plates that a word names: a name, a kind or all."""
    return [i for i, plate in enumerate(layout.plates) if word in ("all", plate.kind, plate.name)]


def unknown(layout: Layout, word: str, where: str, *, more: Sequence[str] = ("all",)) -> PresetError:
    """The error for a word that names no plate. more : what may stand there besides plates"""
    kinds = sorted({p.kind for p in layout.plates})
    near = difflib.get_close_matches(word, [*kinds, *(p.name for p in layout.plates), *more], n=1)
    hint = f"Did you mean {near[0]}?" if near else ""
    remedy = f"Give {''.join(f'{one}, ' for one in more)}a kind ({', '.join(kinds)}) or a plate's name."
    return PresetError(where, f'"{word}" names no plate of this layout.', remedy, hint=hint)
