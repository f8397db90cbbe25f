"""Where spikes stand, how large each is and which way it leans."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shellgen import registry
from shellgen.errors import PresetError
from shellgen.geom.triangles import areas
from shellgen.model import Finding, Layout, Plate, ShellMesh, Spike, SpikeShape, Surface
from shellgen.spikes import clear, fit
from shellgen.spikes.body import PROFILES, make
from shellgen.spikes.groups import Group, Point


@dataclass(frozen=True, slots=True, eq=False)
class Spot:
    """A place asked for: plate, group, uv (2,) and the spike's name."""

    plate: int
    group: int
    uv: NDArray
    name: str


def build(
    surface: Surface,
    mesh: ShellMesh,
    layout: Layout,
    groups: tuple[Group, ...],
    *,
    ring_thickness: float = 5.0,
    tip_floor: float = 5.0,
    base_agreement: float = 0.3,
) -> tuple[tuple[Spike, ...], tuple[Finding, ...]]:
    """The spikes, fitted and with their masters named, ordered by plate; and what the maker should know.

    tip_floor      : a tip rounder than this is not remarked upon
    base_agreement : spikes of one shape share a master where their bases differ by no more

    PresetError for a plate that does not exist; FitError for a spike that cannot stand where it is asked to.
    """
    spots = tuple(_spots(surface, mesh, layout, groups))
    spikes = _sized(surface, layout, spots, groups)
    owner = [groups[spot.group] for spot in spots]
    spikes, findings = clear.settle(surface, layout, spikes, owner, ring_thickness=ring_thickness)
    findings += _tips(spikes, tip_floor)
    return fit.share(surface, tuple(spikes), tolerance=base_agreement), tuple(findings)


def _spots(surface: Surface, mesh: ShellMesh, layout: Layout, groups: tuple[Group, ...]) -> Iterator[Spot]:
    """Every place, in the order of the plates."""
    served: dict[int, int] = {}
    for g, group in enumerate(groups):
        if not group.by_hand:
            bare = set(_chosen(layout, group.but_not, f"spikes[{g}].but_not"))
            served |= {p: g for p in _chosen(layout, group.plates, f"spikes[{g}].plates") if p not in bare}
    for p, plate in enumerate(layout.plates):
        here: list[tuple[int, NDArray]] = []
        if p in served:
            here += [(served[p], uv) for uv in _row(surface, mesh, plate, groups[served[p]].in_row)]
        here += [
            (g, _by_hand(surface, mesh, plate, point))
            for g, point in _hand_set(layout, groups)
            if point.plate == plate.name
        ]
        for number, (g, uv) in enumerate(here, 1):
            yield Spot(p, g, uv, f"spike-{plate.name}" + (f"-{number}" if len(here) > 1 else ""))


def _chosen(layout: Layout, words: tuple[str, ...], where: str) -> list[int]:
    """Indices of the plates that the words name. PresetError for a word that names none."""
    found: list[int] = []
    for word in words:
        match = [i for i, p in enumerate(layout.plates) if word in ("all", p.kind, p.name)]
        if not match:
            raise _unknown(layout, word, where)
        found += match
    return found


def _unknown(layout: Layout, word: str, where: str) -> PresetError:
    kinds = sorted({p.kind for p in layout.plates})
    near = difflib.get_close_matches(word, [*kinds, *(p.name for p in layout.plates)], n=1)
    hint = f"did you mean {near[0]}?" if near else ""
    return PresetError(where, f'"{word}"', f"all, a kind ({', '.join(kinds)}) or a plate's name", hint=hint)


def _hand_set(layout: Layout, groups: tuple[Group, ...]) -> Iterator[tuple[int, Point]]:
    """Points set by hand and their mirror images, with their group."""
    by_name = {p.name: p for p in layout.plates}
    for g, group in enumerate(groups):
        for k, point in enumerate(group.by_hand):
            if point.plate not in by_name:
                raise _unknown(layout, point.plate, f"spikes[{g}].by_hand[{k}].plate")
            plate = by_name[point.plate]
            yield g, point
            if plate.side != "C":
                yield g, replace(point, plate=layout.plates[plate.mirror].name)
            elif point.outward != 0:
                yield g, replace(point, outward=-point.outward)


def centre_of_area(surface: Surface, mesh: ShellMesh, plate: Plate) -> NDArray:
    """(2,) uv of the place on the outer face under the plate's centre of area; on the midline if it lies astride."""
    faces = mesh.faces[np.isin(mesh.face_cell, plate.cells)]
    weight = areas(mesh.points, faces)
    middle = np.average(mesh.points[faces].mean(axis=1), axis=0, weights=weight)
    guess = np.average(mesh.uv[faces].mean(axis=1), axis=0, weights=weight)
    uv = fit.foot(surface, middle[None], guess[None])[0]
    return uv * [1, 0] if plate.side == "C" else uv


def _row(surface: Surface, mesh: ShellMesh, plate: Plate, count: int) -> NDArray:
    """(count, 2) uv, evenly along the plate's longer way through its centre of area."""
    uv = centre_of_area(surface, mesh, plate)
    if count == 1:
        return uv[None]
    vertices = np.unique(mesh.faces[np.isin(mesh.face_cell, plate.cells)])
    tangent = surface.tangents(uv[None])[0]
    ahead, aside = np.linalg.qr(tangent)[0].T
    if ahead @ tangent[:, 0] < 0:
        ahead = -ahead
    if aside @ tangent[:, 1] < 0:
        aside = -aside
    here = surface.points(uv[None])[0]
    flat = (mesh.points[vertices] - here) @ np.column_stack([ahead, aside])
    if plate.side == "C":  # its longer way is along the midline or square to it
        way = np.array([1.0, 0.0]) if np.ptp(flat[:, 0]) >= np.ptp(flat[:, 1]) else np.array([0.0, 1.0])
    else:
        way = np.linalg.eigh(np.cov(flat.T))[1][:, -1]
    along = flat @ way
    near = np.abs(flat @ [-way[1], way[0]]) < 0.25 * np.ptp(along)
    low, high = along[near].min(), along[near].max()
    reach = low + (high - low) * (np.arange(count) + 0.5) / count
    reach = reach - reach.mean() if plate.side == "C" and way[1] else reach
    places = here + reach[:, None] * (np.column_stack([ahead, aside]) @ way)
    return fit.foot(surface, places, np.broadcast_to(uv, (count, 2)))


def _by_hand(surface: Surface, mesh: ShellMesh, plate: Plate, point: Point) -> NDArray:
    """(2,) uv at so many mm from the plate's centre of area, measured in the plane that touches the shell there."""
    uv = centre_of_area(surface, mesh, plate)
    ahead = surface.tangents(uv[None])[0, :, 0]
    ahead = ahead / np.linalg.norm(ahead)
    left = np.cross(surface.normals(uv[None])[0], ahead)
    outward = -point.outward if plate.side == "R" else point.outward
    place = surface.points(uv[None])[0] + point.forward * ahead + outward * left
    return fit.foot(surface, place[None], uv[None])[0]


def _sized(surface: Surface, layout: Layout, spots: tuple[Spot, ...], groups: tuple[Group, ...]) -> list[Spike]:
    """The spikes as graded, not yet fitted."""
    grades = np.zeros(len(spots))
    for g, group in enumerate(groups):
        mine = [i for i, spot in enumerate(spots) if spot.group == g]
        if mine:
            grades[mine] = _steps(_grade(group, np.stack([spots[i].uv for i in mine])), group.sizes)
    return [
        _spike(surface, spot, groups[spot.group], float(grade), layout.plates[spot.plate].side)
        for spot, grade in zip(spots, grades, strict=True)
    ]


def _grade(group: Group, uv: NDArray) -> NDArray:
    """(n,) size over the size at the crown's front: linear from crown to rim and from front to rear."""
    out, back = np.hypot(uv[:, 0], uv[:, 1]), 0.5 * (1 - uv[:, 0])
    return (1 + (group.size_at_rim - 1) * out) * (1 + (group.size_at_rear - 1) * back)


def _steps(grade: NDArray, count: int) -> NDArray:
    """The grades rounded to at most `count` even steps between the least and the greatest."""
    low, high = grade.min(), grade.max()
    if count == 1 or high - low < 0.01:
        return np.full_like(grade, grade.mean() if count == 1 else high)
    step = (high - low) / (count - 1)
    return low + step * np.floor((grade - low) / step + 0.5 - 1e-9)


def _spike(surface: Surface, spot: Spot, group: Group, grade: float, side: str) -> Spike:
    """A spike in its frame, without its base."""
    width = group.base_diameter if group.base_width is None else group.base_width
    uses = registry.load(PROFILES, group.profile).USES
    extra = {name: getattr(group, name) for name in uses}
    shape = SpikeShape(
        profile=group.profile,
        diameter=whole(group.base_diameter, grade),
        width=whole(width, grade),
        height=whole(group.height, grade),
        twist=-group.twist if side == "R" else group.twist,
        **extra,
    )
    empty = np.zeros((0, 3))
    return Spike(
        name=spot.name,
        plate=spot.plate,
        profile=group.profile,
        uv=spot.uv,
        frame=frame(surface, spot.uv, lean=group.lean, towards=group.towards),
        base_diameter=shape.diameter,
        height=shape.height,
        tilt=group.lean,
        base_curve=empty,
        seat_uv=np.zeros((0, 2)),
        master="",
        shape=shape,
        flank=empty,
        ring=group.ring,
    )


def whole(size: float, grade: float) -> float:
    """A graded size in whole mm, so that equal ones are equal; as asked where it is not graded."""
    return size if abs(grade - 1) < 1e-9 else float(max(1.0, np.floor(size * grade + 0.5 - 1e-6)))


def frame(surface: Surface, uv: NDArray, *, lean: float, towards: str) -> NDArray:
    """(4, 4) frame at uv (2,): z the axis, leaned from the normal; x the way it leans, in one plane with both."""
    normal, tangent = surface.normals(uv[None])[0], surface.tangents(uv[None])[0]
    out = tangent @ uv
    if towards in ("rear", "front") or np.linalg.norm(out) < 1e-6 * np.linalg.norm(tangent):
        way = tangent[:, 0] * (1 if towards in ("front", "crown") else -1)
    else:
        way = out if towards == "rim" else -out
    way = way - normal * (normal @ way)
    way = way / np.linalg.norm(way)
    axis = np.cos(lean) * normal + np.sin(lean) * way
    turning = np.cos(lean) * way - np.sin(lean) * normal
    made = np.eye(4)
    made[:3, :3] = np.column_stack([turning, np.cross(axis, turning), axis])
    made[:3, 3] = surface.points(uv[None])[0]
    return made


def _tips(spikes: list[Spike], floor: float) -> list[Finding]:
    """A caution for tips that are sharper than the floor."""
    sharp: dict[float, int] = {}
    for spike in spikes:
        across = make(spike.shape).tip * min(1.0, (spike.shape.width / spike.shape.diameter) ** 2)
        if across < floor - 1e-9:
            sharp[round(across, 2)] = sharp.get(round(across, 2), 0) + 1
    return [
        Finding(
            "caution",
            "spikes",
            f"{count} spikes have a tip of radius {radius:g} mm, under the {floor:g} mm that is common practice: blunt "
            "them, keep them soft with no rigid core to the tip, and check the event's rules.",
        )
        for radius, count in sorted(sharp.items())
    ]
