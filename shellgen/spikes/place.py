"""Where spikes stand, how large each is and which way it leans."""

from __future__ import annotations

from typing import Any

import numpy as np

from shellgen.core import registry
from shellgen.core.arrays import Floats
from shellgen.errors import GeometryError
from shellgen.model import Finding, Layout, ShellMesh, Spike, SpikeShape, Surface
from shellgen.model.said import apart, several
from shellgen.model.said import count as said
from shellgen.spikes import clear, fit, sizing
from shellgen.spikes.body import PROFILES, make
from shellgen.spikes.groups import Group
from shellgen.spikes.spots import SpikeSpot, drawn_kinds, spots


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

    tip_floor      : no finding is given for a tip rounder than this
    base_agreement : spikes of one shape share a master where their bases differ by no more

    PresetError for a plate that does not exist. A spike that cannot stand where it is asked to is left out, and said.
    """
    places = tuple(spots(surface, mesh, layout, groups, ring_thickness=ring_thickness))
    spikes, owner, impossible = _sized(surface, places, groups)
    spikes, findings = clear.settle(surface, layout, spikes, owner, ring_thickness=ring_thickness)
    findings += [*impossible, *_tips(spikes, tip_floor), *_one_size(spikes, groups), *_unnamed(layout, groups)]
    findings += _nowhere(places, groups)
    return fit.share_masters(surface, tuple(spikes), tolerance=base_agreement), tuple(findings)


def _sized(
    surface: Surface, places: tuple[SpikeSpot, ...], groups: tuple[Group, ...]
) -> tuple[list[Spike], list[Group], list[Finding]]:
    """The spikes as graded, not yet fitted, with their groups; and those left out because their profile cannot have
    the graded size. GeometryError where no spike of a group is possible."""
    spikes, owner, impossible = [], [], dict[int, tuple[str, list[str]]]()
    for spot, frame, grade in zip(places, _frames(surface, places, groups), grades(places, groups), strict=True):
        group = groups[spot.group]
        own = shape(group, float(grade), int(np.sign(np.round(spot.uv[1], 12))))
        try:
            make(own)
        except GeometryError as error:
            impossible.setdefault(spot.group, (str(error), []))[1].append(spot.name)
            continue
        spikes.append(_spike(spot, group, frame, own))
        owner.append(group)
    for g, (why, names) in impossible.items():
        if len(names) == sum(spot.group == g for spot in places):
            raise GeometryError(f"{names[0]}: {why}")
    texts = (f"{several(names)}: left out at the size graded there: {why}." for why, names in impossible.values())
    return spikes, owner, [Finding("caution", "spikes", text) for text in texts]


def grades(places: tuple[SpikeSpot, ...], groups: tuple[Group, ...]) -> Floats:
    """(places,) size of each spike over what its group asks for at the crown."""
    found = np.zeros(len(places))
    for g, group in enumerate(groups):
        mine = [i for i, spot in enumerate(places) if spot.group == g]
        if mine:
            usual = sizing.graded(group, np.stack([places[i].uv for i in mine]))
            drawn = np.array([places[i].size or np.nan for i in mine]) / group.base_diameter
            found[mine] = sizing.in_steps(np.where(np.isnan(drawn), usual, drawn), group.sizes)
    return found


def _spike(spot: SpikeSpot, group: Group, frame: Floats, own: SpikeShape) -> Spike:
    """A spike in its frame, without its base."""
    empty = np.zeros((0, 3))
    return Spike(
        name=spot.name,
        plate=spot.plate,
        uv=spot.uv,
        frame=frame,
        tilt=group.lean,
        base_curve=empty,
        seat_uv=np.zeros((0, 2)),
        master="",
        shape=own,
        flank=empty,
        ring=group.ring,
    )


def shape(group: Group, grade: float, side: int = 1) -> SpikeShape:
    """The figures of a group's spike at a grade. side : 1 on the left, -1 on the right, which turns the other way,
    and 0 on the midline, where it must be its own mirror image."""
    width = group.base_diameter if group.base_width is None else group.base_width
    extra: dict[str, Any] = {name: getattr(group, name) for name in registry.load(PROFILES, group.profile).USES}
    return SpikeShape(
        profile=group.profile,
        diameter=whole(group.base_diameter, grade),
        width=whole(width, grade),
        height=whole(group.height, grade),
        twist=side * group.twist,
        **extra,
    )


def whole(size: float, grade: float) -> float:
    """A graded size in whole mm, so that equal ones are equal; as asked where it is not graded."""
    return size if abs(grade - 1) < 1e-9 else float(max(1.0, np.floor(size * grade + 0.5 - 1e-6)))


def frame(surface: Surface, uv: Floats, *, lean: float, towards: str) -> Floats:
    """(4, 4) frame at uv (2,): z the axis, leaned from the normal; x the way it leans, in one plane with both."""
    at = uv[None]
    return _frame(uv, surface.points(at)[0], surface.normals(at)[0], surface.tangents(at)[0], lean, towards)


def _frames(surface: Surface, places: tuple[SpikeSpot, ...], groups: tuple[Group, ...]) -> list[Floats]:
    """The frames of all places."""
    if not places:
        return []
    uv = np.stack([spot.uv for spot in places])
    points, normals, tangents = surface.points(uv), surface.normals(uv), surface.tangents(uv)
    leaning = [(groups[spot.group].lean, groups[spot.group].towards) for spot in places]
    return [_frame(uv[i], points[i], normals[i], tangents[i], *lean) for i, lean in enumerate(leaning)]


def _frame(uv: Floats, origin: Floats, normal: Floats, tangent: Floats, lean: float, towards: str) -> Floats:
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
    made[:3, 3] = origin
    return made


def _tips(spikes: list[Spike], floor: float) -> list[Finding]:
    """A caution for tips that are sharper than the floor."""
    tips = [(_tip(spike.shape), spike.name) for spike in spikes]
    sharp = [tip for tip in tips if tip[0] < floor - 1e-9]
    if not sharp:
        return []
    least, name = min(sharp)
    radius, usual = apart(least, floor)
    have = "has" if len(sharp) == 1 else "have"
    text = (
        f"{said(len(sharp), 'spike')} {have} a tip sharper than the radius of {usual} mm that is common practice, the "
        f"sharpest {radius} mm at {name}: ask for a larger tip_radius, or blunt tips by hand, keep them soft with no "
        "rigid core to the tip, and check the event's rules."
    )
    return [Finding("caution", "spikes", text)]


def _unnamed(layout: Layout, groups: tuple[Group, ...]) -> list[Finding]:
    """A caution for circles of a drawing that no group names."""
    idle = {spot.kind for spot in layout.spots} - drawn_kinds(layout, groups)
    if not idle:
        return []
    circles = said(sum(spot.kind in idle for spot in layout.spots), "circle")
    text = f"{circles} on the drawing's layers for spikes have none: write plates: drawn in a group of spikes."
    return [Finding("caution", "spikes", text)]


def _nowhere(places: tuple[SpikeSpot, ...], groups: tuple[Group, ...]) -> list[Finding]:
    """A caution for each group whose way to place finds no place."""
    there = {spot.group for spot in places}
    text = "spikes[{}] has no place at all: its plates have none of what {} asks for, or no room for its base."
    return [
        Finding("caution", "spikes", text.format(g + 1, f"place: {group.place.name}"))
        for g, group in enumerate(groups)
        if g not in there and not group.by_hand and group.place.name != "plates"
    ]


def _one_size(spikes: list[Spike], groups: tuple[Group, ...]) -> list[Finding]:
    """A word on groups of a single size that are to get smaller: all then have the mean, less than was asked."""
    bases = [spike.base_diameter for spike in spikes]
    return [
        Finding(
            "ok",
            "spikes",
            f"spikes[{g}] has one size for all, so none has the base of {group.base_diameter:g} mm asked for the "
            "crown: set sizes to 2 or more, or size_at_rim to 1.",
        )
        for g, group in enumerate(groups, 1)
        if group.sizes == 1 and bases and max(bases) < 0.95 * group.base_diameter and group.size_at_rim < 1
    ]


def _tip(shape: SpikeShape) -> float:
    """The smallest radius of curvature at the tip of a round or oval spike."""
    return make(shape).tip * min(1.0, (shape.width / shape.diameter) ** 2)
