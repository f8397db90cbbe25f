"""The places where spikes stand: what the groups ask for, numbered and named by the plates."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from types import ModuleType

import numpy as np

from shellgen.core import registry
from shellgen.core.arrays import Floats
from shellgen.geom.triangles import areas
from shellgen.model import Layout, ShellMesh, Surface
from shellgen.spikes.groups import PLACINGS, Group
from shellgen.spikes.placings import _by_hand
from shellgen.spikes.placings._ground import DRAWN, AskedPlace, PlaceGround, foot, named, unknown

MIDMOST = 0.5
"""How far from the middle of its piece of the midline a centre plate's centre of area may lie, as a share of half that
piece. Chosen: turtles and honeycombs stay within a quarter, bowed bands lie 1.2 to 2 times as far (measured)."""


@dataclass(frozen=True, slots=True, eq=False)
class SpikeSpot:
    """A place asked for: plate, group, uv (2,) and the spike's name. size : mm across its base, if it was drawn"""

    plate: int
    group: int
    uv: Floats
    name: str
    size: float | None = None


def placing(group: Group) -> ModuleType:
    """What places the spikes of a group: `places(ground, group)`, `expected(group, plates, area)` and `ON_LINES`,
    whether they may stand over plate lines."""
    return _by_hand if group.by_hand else registry.load(PLACINGS, group.place.name)


def serves_plates(group: Group) -> bool:
    """Whether its spikes are placed plate by plate."""
    return not group.by_hand and group.place.name == "plates"


def spots(
    surface: Surface, mesh: ShellMesh, layout: Layout, groups: tuple[Group, ...], *, ring_thickness: float
) -> Iterator[SpikeSpot]:
    """Every place, in the order of the plates. PresetError for a plate that is not there."""
    middle = centres(surface, mesh, layout)
    served, circles = _served(layout, groups)
    found: list[tuple[int, AskedPlace]] = []
    for g, group in enumerate(groups):
        taken = np.array([place.uv for _, place in found]).reshape(-1, 2)
        ring = ring_thickness if group.ring else 0.0
        ground = PlaceGround(surface, mesh, layout, middle, served[g], circles[g], taken, ring, f"spikes[{g + 1}]")
        found += [(g, place) for place in placing(group).places(ground, group)]
    of_plate: dict[int, list[tuple[int, AskedPlace]]] = {}
    for g, place in sorted(found, key=lambda of: (of[1].plate, of[1].order)):
        of_plate.setdefault(place.plate, []).append((g, place))
    for p, here in of_plate.items():
        for number, (g, place) in enumerate(here, 1):
            name = f"spike-{layout.plates[p].name}" + (f"-{number}" if len(here) > 1 else "")
            yield SpikeSpot(p, g, place.uv, name, place.size)


def _served(layout: Layout, groups: tuple[Group, ...]) -> tuple[list[frozenset[int]], list[frozenset[str]]]:
    """The plates of each group, and the circles: of those that serve plates each has its last group; of all others,
    a plate's mirror image goes with it."""
    owner: dict[int | str, int] = {}
    plates: list[frozenset[int]] = []
    for g, group in enumerate(groups):
        where = f"spikes[{g + 1}]"  # as makers count
        if group.by_hand:
            plates.append(frozenset(range(len(layout.plates))))
            continue
        bare = set(_chosen(layout, group.but_not, f"{where}.but_not"))
        own = {p for p in _chosen(layout, group.plates, f"{where}.plates") if p not in bare}
        if serves_plates(group):
            owner |= dict.fromkeys((*own, *drawn_kinds(layout, (group,))), g)
            plates.append(frozenset(own))
        else:
            plates.append(frozenset(own | {layout.plates[p].mirror for p in own}))
    of = [frozenset(key for key, last in owner.items() if last == g) for g in range(len(groups))]
    return (
        [mine & of[g] if serves_plates(groups[g]) else mine for g, mine in enumerate(plates)],
        [frozenset(key for key in mine if isinstance(key, str)) for mine in of],
    )


def drawn_kinds(layout: Layout, groups: tuple[Group, ...]) -> set[str]:
    """The layers of circles that some group names."""
    words = {word for group in groups if serves_plates(group) for word in group.plates}
    return {spot.kind for spot in layout.spots if DRAWN in words or spot.kind in words}


def _chosen(layout: Layout, words: tuple[str, ...], where: str) -> list[int]:
    """Indices of the plates that the words name. PresetError for a word that names none."""
    found: list[int] = []
    kinds = {spot.kind for spot in layout.spots}
    for word in words:
        if word in kinds or (kinds and word == DRAWN):
            continue
        match = named(layout, word)
        if not match:
            raise unknown(layout, word, where)
        found += match
    return found


def centres(surface: Surface, mesh: ShellMesh, layout: Layout) -> Floats:
    """(plates, 2) uv of the place on the outer face under each plate's centre of area; v is 0 for a centre plate. That
    of a bowed plate lies off its middle or off the plate: there the middle of its piece of the midline counts instead.
    """
    weight = areas(mesh.points, mesh.faces)
    plate = np.asarray(layout.cell_plate)[mesh.face_cell]
    total = np.bincount(plate, weight, minlength=len(layout.plates))

    def mean(values: Floats) -> Floats:
        """(plates, d) area-weighted mean over each plate of (n, d) values at the vertices."""
        at = values[mesh.faces].mean(axis=1) * weight[:, None]
        return np.stack([np.bincount(plate, column, minlength=len(total)) for column in at.T], axis=1) / total[:, None]

    uv = foot(surface, mean(mesh.points), mean(mesh.uv))
    for p in (p for p, of in enumerate(layout.plates) if of.side == "C"):
        vertices = mesh.faces[plate == p]
        ridge = mesh.uv[vertices[mesh.uv[vertices, 1] == 0], 0]
        middle, half = (ridge.max() + ridge.min()) / 2, np.ptp(ridge) / 2
        uv[p] = uv[p, 0] if abs(uv[p, 0] - middle) < MIDMOST * half else middle, 0.0
    return uv
