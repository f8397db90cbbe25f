"""The places where spikes stand: centres of plates, rows on plates, points set by hand, and circles of a drawing."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import shapely

from shellgen.core.arrays import Floats
from shellgen.errors import PresetError
from shellgen.geom.closest_parameters import closest_parameters
from shellgen.geom.triangles import areas
from shellgen.model import Layout, Plate, ShellMesh, SpikePlace, Surface
from shellgen.spikes.groups import Group, Point

DRAWN = "drawn"
"""The word for every circle of a drawing."""

foot = partial(closest_parameters, rounds=30, step=0.2, close=1e-11)
"""The place on the outer face under a point, from a guess that may be some way off: all else is measured from it."""


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


def spots(surface: Surface, mesh: ShellMesh, layout: Layout, groups: tuple[Group, ...]) -> Iterator[SpikeSpot]:
    """Every place, in the order of the plates. PresetError for a plate that is not there."""
    served: dict[int, int] = {}
    for g, group in enumerate(groups):
        if not group.by_hand:
            where = f"spikes[{g + 1}]"  # as makers count
            bare = set(_chosen(layout, group.but_not, f"{where}.but_not"))
            served |= {p: g for p in _chosen(layout, group.plates, f"{where}.plates") if p not in bare}
    by_hand = tuple(_hand_set(layout, groups))
    drawn = tuple(_drawn(layout, groups))
    for p, (plate, centre) in enumerate(zip(layout.plates, centres(surface, mesh, layout), strict=True)):
        here: list[tuple[int, Floats, float | None]] = []
        if p in served:
            here += [(served[p], uv, None) for uv in _row(surface, mesh, plate, centre, groups[served[p]].in_row)]
        here += [
            (g, _by_hand(surface, plate, centre, point), None) for g, point in by_hand if point.plate == plate.name
        ]
        here += [(g, spot.uv, spot.size) for g, at, spot in drawn if at == p]
        for number, (g, uv, size) in enumerate(here, 1):
            yield SpikeSpot(p, g, uv, f"spike-{plate.name}" + (f"-{number}" if len(here) > 1 else ""), size)


def drawn_kinds(layout: Layout, groups: tuple[Group, ...]) -> set[str]:
    """The layers of circles that some group names."""
    words = {word for group in groups if not group.by_hand for word in group.plates}
    return {spot.kind for spot in layout.spots if DRAWN in words or spot.kind in words}


def _drawn(layout: Layout, groups: tuple[Group, ...]) -> Iterator[tuple[int, int, SpikePlace]]:
    """The circles of a drawing that a group names: its number, the plate they lie on, and each."""
    of_kind: dict[str, int] = {}
    for g, group in enumerate(groups):
        of_kind |= dict.fromkeys(drawn_kinds(layout, (group,)), g)
    if not of_kind:
        return
    cells = shapely.polygons([shapely.linearrings(_border(layout, cell)) for cell in range(len(layout.cells))])
    tree = shapely.STRtree(cells)
    for spot in layout.spots:
        if spot.kind in of_kind:
            yield of_kind[spot.kind], layout.cell_plate[int(tree.nearest(shapely.Point(spot.uv)))], spot


def _border(layout: Layout, cell: int) -> Floats:
    """(n, 2) uv around a cell."""
    return np.concatenate([layout.lines[i].uv[::turn][:-1] for i, turn in layout.cells[cell]])


def _chosen(layout: Layout, words: tuple[str, ...], where: str) -> list[int]:
    """Indices of the plates that the words name. PresetError for a word that names none."""
    found: list[int] = []
    kinds = {spot.kind for spot in layout.spots}
    for word in words:
        if word in kinds or (kinds and word == DRAWN):
            continue
        match = [i for i, p in enumerate(layout.plates) if word in ("all", p.kind, p.name)]
        if not match:
            raise _unknown(layout, word, where)
        found += match
    return found


def _unknown(layout: Layout, word: str, where: str) -> PresetError:
    kinds = sorted({p.kind for p in layout.plates})
    near = difflib.get_close_matches(word, [*kinds, *(p.name for p in layout.plates)], n=1)
    hint = f"Did you mean {near[0]}?" if near else ""
    remedy = f"Give all, a kind ({', '.join(kinds)}) or a plate's name."
    return PresetError(where, f'"{word}" names no plate of this layout.', remedy, hint=hint)


def _hand_set(layout: Layout, groups: tuple[Group, ...]) -> Iterator[tuple[int, Point]]:
    """Points set by hand and their mirror images, with their group."""
    by_name = {p.name: p for p in layout.plates}
    for g, group in enumerate(groups):
        for k, point in enumerate(group.by_hand, 1):
            if point.plate not in by_name:
                raise _unknown(layout, point.plate, f"spikes[{g + 1}].by_hand[{k}].plate")
            plate = by_name[point.plate]
            yield g, point
            if plate.side != "C":
                yield g, replace(point, plate=layout.plates[plate.mirror].name)
            elif point.outward != 0:
                yield g, replace(point, outward=-point.outward)


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


def _axes(surface: Surface, plate: Plate, centre: Floats) -> tuple[Floats, Floats]:
    """Origin (3,), and directions (3, 2) in the plane that touches the shell: ahead, and away from the midline."""
    tangent, normal = surface.tangents(centre[None])[0], surface.normals(centre[None])[0]
    ahead = tangent[:, 0] / np.linalg.norm(tangent[:, 0])
    outward = np.cross(normal, ahead) * (-1 if plate.side == "R" else 1)
    return surface.points(centre[None])[0], np.column_stack([ahead, outward])


def _row(surface: Surface, mesh: ShellMesh, plate: Plate, centre: Floats, count: int) -> Floats:
    """(count, 2) uv, evenly along the plate's longer way through its centre of area, the foremost last."""
    if count == 1:
        return centre[None]
    vertices = np.unique(mesh.faces[np.isin(mesh.face_cell, plate.cells)])
    here, axes = _axes(surface, plate, centre)
    flat = (mesh.points[vertices] - here) @ axes
    if plate.side == "C":  # its longer way is along the midline or square to it
        way = np.array([1.0, 0.0]) if np.ptp(flat[:, 0]) >= np.ptp(flat[:, 1]) else np.array([0.0, 1.0])
    else:
        way = np.linalg.eigh(np.cov(flat.T))[1][:, -1]
        way = way if way[0] > 0 else -way
    along = flat @ way
    aside = np.abs(flat @ [-way[1], way[0]])
    near = aside <= max(0.25 * np.ptp(along), np.sort(aside)[:4].max())  # a coarse mesh may have no vertex nearby
    low, high = along[near].min(), along[near].max()
    reach = low + (high - low) * (np.arange(count) + 0.5) / count
    reach = reach - reach.mean() if plate.side == "C" and way[1] else reach
    return foot(surface, here + reach[:, None] * (axes @ way), np.broadcast_to(centre, (count, 2)))


def _by_hand(surface: Surface, plate: Plate, centre: Floats, point: Point) -> Floats:
    """(2,) uv at so many mm from the plate's centre of area, measured in the plane that touches the shell there."""
    here, axes = _axes(surface, plate, centre)
    return np.asarray(foot(surface, (here + axes @ [point.forward, point.outward])[None], centre[None])[0])
