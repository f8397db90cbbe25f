"""The dome, its plates, its mesh and where it is cut: all that is flat follows from these."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from operator import itemgetter
from typing import Any, NamedTuple

from shellgen import wear
from shellgen.core import registry
from shellgen.core.flow import Flow, Made
from shellgen.dome import mesh
from shellgen.errors import FitError
from shellgen.fields.params import Chosen
from shellgen.finish.paint.zones import ZONES
from shellgen.geom.patches import area
from shellgen.model import Layout, ShellMesh, Surface
from shellgen.pattern import flatten, seams
from shellgen.pattern.plans._task import Flatten, Ground, Task
from shellgen.plates._overlay import overlay
from shellgen.preset import Preset, bounds
from shellgen.wear import wearer
from shellgen.workshop import prices

COARSE = 2.5
"""Edges of the mesh that seam plans search on, over those of the mesh itself (chosen)."""


def asked(preset: Preset, flow: Flow) -> tuple[Made, Made]:
    """The dome's surface and what the preset comes to on it. PresetError if that is more than can be done, or a price
    is for nothing that is bought."""
    if preset.prices.items:
        flow.run("prices", _priced, preset)
    surface = flow.run("surface", _chosen, "shellgen.dome.surfaces", preset.dome)
    return surface, flow.run("bounds", bounds.hold, preset, surface)


def _priced(preset: Preset) -> None:
    who = preset.wearer if preset.wearer.given else wearer.Params()
    colours = (f"paint, {getattr(preset.paint, zone)}" for zone in ZONES)
    prices.check(preset.prices, (*colours, *wear.items(wearer.body(who), preset.wear)))


def dome(preset: Preset, flow: Flow) -> tuple[Made, Made]:
    """The surface and the plates on it."""
    surface, _ = asked(preset, flow)
    return surface, flow.run("plates", _chosen, "shellgen.plates", preset.plates, surface)


def seams_of(preset: Preset, flow: Flow) -> tuple[Made, Made, Made]:
    """Layout, mesh and cut of a preset, without what follows from them."""
    surface, plates = dome(preset, flow)
    made = meshed(preset, flow, surface, plates)
    return made.layout, made.mesh, cut(preset, flow, surface, made)


def coarse_mesh(preset: Preset, flow: Flow, surface: Made, plates: Made) -> Made:
    """The plates on a mesh for seam plans to search on."""
    how = replace(preset.mesh, edge=COARSE * preset.mesh.edge)
    return flow.run("coarse mesh", mesh.build, surface, plates, how)


def limits_of(preset: Preset, surface: Surface) -> seams.Params:
    """What a piece may be like: no larger than the bed, nor than the largest sheet of this foam has room for, and with
    necks as wide as these plates and this foam allow."""
    limits, how = preset.seams.common, preset.nest
    rooms = [
        sorted(side - how.separation - how.kerf for side in stock.room(how.margin))
        for stock in how.sheets
        if stock.thickness in (None, preset.foam.thickness) and stock.count != 0
    ]
    if not rooms:
        raise FitError(f"nest.sheets names no sheet of {preset.foam.thickness:g} mm foam; allowed: at least one")
    width, length = max(rooms, key=lambda room: room[0] * room[1])
    bed = sorted((limits.sheet_length, limits.sheet_width))
    neck = limits.least_neck
    if neck is None:
        dome = area(surface)
        plates = registry.load("shellgen.plates", preset.plates.name).expected(preset.plates.own, dome)
        neck = seams.usual_neck(thickness=preset.foam.thickness, plate_area=dome / plates)
    return replace(limits, sheet_length=min(bed[1], length), sheet_width=min(bed[0], width), least_neck=neck)


class Meshed(NamedTuple):
    """drawn : the lines to cut, with the layout they are part of, where the seam plan draws its own"""

    layout: Made
    mesh: Made
    drawn: Made | None


def meshed(preset: Preset, flow: Flow, surface: Made, plates: Made) -> Meshed:
    """The plates on the mesh; a seam plan that draws its own lines adds them to the plates' before meshing."""
    drawn, layout = None, plates
    plan, chosen, lay_flat, offset = _planned(preset, surface.value)
    if hasattr(plan, "curves"):

        def draw(surface: Surface, net: Layout, chosen: Chosen, *_: Any) -> Any:
            ground = Ground(surface, offset, chosen.common, lay_flat)
            return overlay(surface, net, plan.curves(ground, chosen.own))

        drawn = flow.run("seam plan", draw, surface, plates, chosen, preset.flatten, offset)
        layout = flow.run("plates and seams", itemgetter(0), drawn)
    return Meshed(layout, flow.run("mesh", mesh.build, surface, layout, preset.mesh), drawn)


Avoid = tuple[tuple[int, tuple[int, ...]], ...]


def cut(preset: Preset, flow: Flow, surface: Made, on: Meshed, avoid: Avoid = ()) -> Made:
    """The mesh cut by the seam plan. avoid : pieces that will not do, see `Task`"""
    plan, chosen, lay_flat, offset = _planned(preset, surface.value)

    def choose(net: Layout, grid: ShellMesh, coarse: ShellMesh, chosen: Chosen, *_: Any) -> Any:
        return plan.choose(Task(net, grid, coarse, offset, chosen.common, lay_flat, avoid), chosen.own)

    if on.drawn is None:
        coarse = coarse_mesh(preset, flow, surface, on.layout)
        lines = flow.run("seam plan", choose, on.layout, on.mesh, coarse, chosen, preset.flatten, offset, avoid)
    else:
        lines = flow.run("cut lines", _with_mirror_images, on.drawn)
    return flow.run("seams", seams.cut, on.mesh, on.layout, lines, mid_offset=offset)


def _planned(preset: Preset, surface: Surface) -> tuple[Any, Chosen, Flatten, float]:
    """The seam plan, how it was chosen, how it lays a piece flat, and how far from the surface that is meant."""
    chosen = replace(preset.seams, common=limits_of(preset, surface))
    offset = flatten.mid_offset(preset.flatten, preset.foam.thickness)
    plan = registry.load("shellgen.pattern.plans", chosen.name)
    return plan, chosen, partial(flatten.alone, params=preset.flatten), offset


def _with_mirror_images(drawn: tuple[Layout, tuple[tuple[int, ...], ...]]) -> tuple[int, ...]:
    layout, chains = drawn
    left = {line for chain in chains for line in chain}
    return tuple(sorted(left | {layout.lines[line].mirror for line in left}))


def _chosen(package: str, chosen: Chosen, *before: Any) -> Any:
    """What a family's chosen member builds."""
    return registry.load(package, chosen.name).build(*before, chosen.own)
