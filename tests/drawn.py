"""Shells of the demo presets as the drawings get them, without the searches and builds that drawings do not need."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import once

from shellgen import page, preset, wear
from shellgen.canvas import Colour, Drawing, Scene
from shellgen.canvas.rule import METRIC
from shellgen.core import registry
from shellgen.dome import mesh
from shellgen.draw.overview import overview
from shellgen.draw.shell_scene import shell_scene
from shellgen.draw.template import templates
from shellgen.finish import scores
from shellgen.model import Materials
from shellgen.pattern import bevels, flatmap, flatten, marks, seams
from shellgen.pipeline.dome import Ground, foam_of
from shellgen.pipeline.foam import Foam
from shellgen.pipeline.shell import Shell
from shellgen.pipeline.spikes import Top, Trim
from shellgen.pipeline.wear import Worn
from shellgen.pipeline.workshop import Work
from shellgen.record import record
from shellgen.record.tables import tables
from shellgen.spikes import casting, place, solids
from shellgen.trim import beneath, bevel, edging, rings
from shellgen.wear import wearer
from shellgen.workshop import nest, stock

DEMOS = ("marsh-warden", "puddle-hatchling", "reed-knight")
EDGE = 14.0
"""mm, edge of the mesh: coarse, so that the tests are quick."""
MADE = Materials((), 600.0, 0.0, (), np.array([0.0, 0.0, 80.0]))


@cache
def demo(name: str) -> preset.Preset:
    return preset.read(Path(__file__).parent.parent / "presets" / f"{name}.yaml")


def shell(name: str, plan: str = "plates") -> Shell:
    """A demo, cut into its plates ("plates") or in one piece with a dart at each line from the rim ("darts"). The same
    object every time."""
    return _shell(name, plan)


@cache
def _shell(name: str, plan: str) -> Shell:
    return once.shared(f"drawn-{name}-{plan}", lambda _: _made(name, plan))


def _made(name: str, plan: str) -> Shell:
    chosen = demo(name)
    foam = foam_of(chosen)
    surface = registry.load("shellgen.dome.surfaces", chosen.dome.name).build(chosen.dome.own)
    layout = registry.load("shellgen.plates", chosen.plates.name).build(surface, chosen.plates.own)
    grid = mesh.build(surface, layout, replace(chosen.mesh, edge=EDGE))
    rim = {node for line in layout.lines if line.kind == "rim" for node in (line.start, line.end)}
    lines = [
        k
        for k, line in enumerate(layout.lines)
        if line.kind == "plate" and (plan == "plates" or rim & {line.start, line.end})
    ]
    cut = seams.cut(grid, layout, lines, mid_offset=foam.mid_offset)
    shares = marks.along(cut, grid, foam.mid_offset, chosen.marks)
    pattern = flatten.build(grid, cut, chosen.flatten, foam, intervals=shares)
    spikes, _ = place.build(surface, grid, layout, chosen.spikes, ring_thickness=chosen.rings.thickness)
    masters = solids.masters(surface, spikes, glue_line=chosen.making.glue_line)
    trimmed = rings.build(surface, spikes, chosen.rings)
    under = beneath.build(surface, layout, grid, spikes, cut.cut_lines, ring_thickness=chosen.rings.thickness)
    edged = edging.build(surface, chosen.edging, foam)
    seats = flatmap.seats(grid, cut, pattern, spikes)
    nested = nest.build(
        nest.pieces(cut, pattern, chosen.foam.thickness),
        nest.Params(sheets=(nest.Stock(length=2000.0, width=1000.0),), effort="quick"),
        thickness=chosen.foam.thickness,
    )
    hung = wear.build(
        *(surface, layout, grid, cut, spikes, MADE, wearer.body(wearer.Params()), chosen.wear, foam),
        neck=float(grid.points[:, 0].max()) + 25,
        back=-10.0,
        adhesive=150.0,
    )
    nothing: Any = None
    return Shell(
        name=name,
        ground=Ground(surface, layout, grid, None),
        foam=Foam(
            cut=cut,
            pattern=pattern,
            marks=marks.build(grid, cut, pattern, shares),
            intervals=marks.interval_lengths(grid, cut, pattern, shares),
            bevels=tuple(b.mean for b in bevels.build(grid, cut, pattern, formed=True)),
            thickness=chosen.foam.thickness,
        ),
        proof=nothing,
        top=Top(spikes, masters, casting.build(masters, replace(chosen.making, moulds=False, core=3.0)), seats, under),
        trim=Trim(
            trimmed,
            stock.cut_list(
                {s: p.length for p in trimmed.patterns for s in p.spikes}, stock=chosen.rings.stock, lost=trimmed.lost
            ),
            edged,
            bevel.build(surface, edged, chosen.edging, foam),
            stock.cut_list({p.name: p.length for p in edged.pieces}, stock=chosen.edging.stock),
        ),
        paint=nothing,
        work=Work(MADE, nested, None, nothing),
        worn=Worn(None, None, False, hung),
        findings=(),
    )


@cache
@cache
def templates_of(of: Shell) -> tuple[Drawing, ...]:
    """The templates of a shell."""
    return templates(of.name, of.ground, of.foam, of.top.seats, of.top.spikes, of.worn.wear.anchors)


def scene_of(of: Shell, palette: dict[str, Colour] | None = None) -> Scene:
    """A shell in 3-D."""
    return shell_scene(
        of.name, of.ground, of.foam.thickness, of.top.spikes, of.trim.rings.rings, of.trim.bevel, palette
    )


def page_of(of: Shell, title: str, *, shown: bool = False, **more: Any) -> page.PageContent:
    """What the page says of a shell. shown : with its wearer"""
    solids = page.solids_of(
        of.ground,
        of.foam,
        of.proof,
        of.top.spikes,
        of.trim.rings.rings,
        of.trim.bevel,
        of.paint,
        of.worn if shown else None,
    )
    whole = overview(of.ground, of.foam, of.top.seats, title=title)
    return page.of(record(of), tables(of), templates_of(of), whole, solids, title=title, rule=METRIC, **more)


@cache
def lines(name: str) -> scores.Scores:
    """Score lines of a demo on its dome."""
    of = shell(name)
    return scores.build(
        of.ground.surface,
        of.ground.layout,
        of.top.spikes,
        demo(name).scores,
        thickness=demo(name).foam.thickness,
        ring_thickness=demo(name).rings.thickness,
    )
