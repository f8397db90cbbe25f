"""The dome's surface, its plates and its mesh: everything else lies on them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from shellgen import wear
from shellgen.core import registry
from shellgen.core.flow import Flow
from shellgen.dome import mesh
from shellgen.errors import FitError
from shellgen.fields.params import Chosen
from shellgen.finish.paint.zones import ZONES
from shellgen.geom.patches import area
from shellgen.model import FoamSheet, Layout, ShellMesh, Surface
from shellgen.pattern import flatten
from shellgen.pattern.limits import Limits, usual_neck
from shellgen.pattern.plans import _problem
from shellgen.plates._overlay import overlay
from shellgen.preset import Preset, bounds
from shellgen.wear import wearer
from shellgen.workshop import prices

COARSE = 2.5
"""Edges of the mesh that seam plans search on, over those of the mesh itself (chosen)."""

Overlaid = tuple[Layout, tuple[tuple[int, ...], ...]]
"""A layout with lines added, and which of its lines each of them became."""


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Ground:
    """What all else lies on. added : the lines to cut, where the seam plan draws its own; the layout holds them too"""

    surface: Surface
    layout: Layout
    mesh: ShellMesh
    added: Overlaid | None


def asked(preset: Preset, flow: Flow) -> tuple[Surface, tuple[bounds.Load, ...]]:
    """The dome's surface, and how much the preset asks for on it. PresetError if that is more than can be done, or if
    a price is for nothing that has to be bought."""
    if preset.prices.items:
        flow.run(_priced, preset)
    surface = flow.named("surface").run(_surface, preset.dome)
    return surface, flow.run(bounds.check_loads, preset, surface)


def plated(preset: Preset, flow: Flow) -> tuple[Surface, Layout]:
    """The surface and the plates on it."""
    surface, _ = asked(preset, flow)
    return surface, flow.named("plates").run(_plates, preset.plates, surface)


def ground(preset: Preset, flow: Flow) -> Ground:
    """The plates on the mesh, with the seam plan's own lines among theirs if it draws any."""
    surface, layout = plated(preset, flow)
    added = None
    chosen = plan_of(preset, surface)
    if hasattr(registry.load(PLANS, chosen.name), "curves"):
        added = flow.named("seam plan").run(_added, surface, layout, chosen, foam_of(preset), preset.flatten)
        layout = added[0]
    return Ground(surface, layout, flow.named("mesh").run(mesh.build, surface, layout, preset.mesh), added)


def coarse_mesh(preset: Preset, flow: Flow, surface: Surface, layout: Layout) -> ShellMesh:
    """The plates on a mesh for seam plans to search on."""
    how = replace(preset.mesh, edge=COARSE * preset.mesh.edge)
    return flow.named("coarse mesh").run(mesh.build, surface, layout, how)


PLANS = "shellgen.pattern.plans"


def plan_of(preset: Preset, surface: Surface) -> Chosen:
    """The seam plan, with the limits that hold for this preset's sheets."""
    return replace(preset.seams, common=limits_of(preset, surface))


def foam_of(preset: Preset) -> FoamSheet:
    """The foam sheet."""
    return FoamSheet(thickness=preset.foam.thickness, neutral_axis=preset.flatten.neutral_axis)


def limits_of(preset: Preset, surface: Surface) -> Limits:
    """What a piece may be like: no larger than the bed, nor than the largest sheet of this foam has room for, and with
    necks as wide as these plates and this foam allow."""
    limits: Limits = preset.seams.common
    how = preset.nest
    rooms = [
        sorted(side - how.separation - how.kerf for side in stock.room(how.margin))
        for stock in how.sheets
        if stock.thickness in (None, preset.foam.thickness) and stock.count != 0
    ]
    if not rooms:
        raise FitError(f"nest.sheets names no sheet of {preset.foam.thickness:g} mm foam. Name at least one.")
    width, length = max(rooms, key=lambda room: room[0] * room[1])
    bed = sorted((limits.sheet_length, limits.sheet_width))
    neck = limits.least_neck
    if neck is None:
        dome = area(surface)
        plates: float = registry.load("shellgen.plates", preset.plates.name).expected(preset.plates.own, dome)
        neck = usual_neck(thickness=preset.foam.thickness, plate_area=dome / plates)
    return replace(limits, sheet_length=min(bed[1], length), sheet_width=min(bed[0], width), least_neck=neck)


def _priced(preset: Preset) -> None:
    who = preset.wearer if preset.wearer.given else wearer.Params()
    colours = (f"paint, {getattr(preset.paint, zone)}" for zone in ZONES)
    prices.check(preset.prices, (*colours, *wear.items(wearer.body(who), preset.wear)))


def _surface(chosen: Chosen) -> Surface:
    built: Surface = registry.load("shellgen.dome.surfaces", chosen.name).build(chosen.own)
    return built


def _plates(chosen: Chosen, surface: Surface) -> Layout:
    built: Layout = registry.load("shellgen.plates", chosen.name).build(surface, chosen.own)
    return built


def _added(surface: Surface, layout: Layout, chosen: Chosen, foam: FoamSheet, how: flatten.Params) -> Overlaid:
    curves: Any = registry.load(PLANS, chosen.name).curves
    problem = _problem.CurveProblem(surface, foam.mid_offset, chosen.common, partial(flatten.alone, params=how))
    return overlay(surface, layout, curves(problem, chosen.own))
