"""The spikes and how they are made, the rings round them, and the edging of the rim."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shellgen.core.flow import Flow, Pending
from shellgen.model import Cut, Finding, Solid, Spike, Surface
from shellgen.pattern import flatmap
from shellgen.pipeline.dome import Ground, foam_of
from shellgen.preset import Preset
from shellgen.spikes import casting, clay, place, solids
from shellgen.spikes.core import Core
from shellgen.trim import beneath, bevel, edging, rings
from shellgen.workshop import stock


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """The spikes.

    casts   : their masters, with the curve each stands on; whole, moulds : what is printed for them
    """

    spikes: tuple[Spike, ...]
    casts: tuple[solids.Master, ...]
    cores: Mapping[str, Core]
    clay: clay.Clay
    whole: Pending[casting.Prints]
    moulds: Pending[casting.Prints]
    findings: tuple[Finding, ...]

    @property
    def masters(self) -> tuple[Solid, ...]:
        return tuple(master.solid for master in self.casts)


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Top:
    """The spikes as they stand and as they are made.

    casts : their masters, with the curve each stands on
    seats : per piece of foam, (spike name, closed flat outline or open part of one) where spikes stand
    beneath : the lines and seams that they stand over
    """

    spikes: tuple[Spike, ...]
    casts: tuple[solids.Master, ...]
    casting: casting.Casting
    seats: flatmap.Seats
    beneath: beneath.Beneath

    @property
    def masters(self) -> tuple[Solid, ...]:
        return tuple(master.solid for master in self.casts)


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Trim:
    """The foam rings and the edging, and the stock that they are cut from. bevel : the pieces of the edging in 3-D"""

    rings: rings.Trims
    ring_stock: stock.CutList
    edging: edging.Edging
    bevel: tuple[Solid, ...]
    edging_stock: stock.CutList


PlacedSpikes = tuple[tuple[Spike, ...], tuple[Finding, ...]]


def placed(preset: Preset, flow: Flow, on: Ground) -> PlacedSpikes:
    """The spikes, and what there is to say of them."""
    return flow.named("spikes").run(
        place.build, on.surface, on.mesh, on.layout, preset.spikes, ring_thickness=preset.rings.thickness,
        tip_floor=preset.making.tip_floor, base_agreement=preset.making.base_agreement,
    )  # fmt: skip


def standing(preset: Preset, flow: Flow, on: Ground) -> Standing:
    """Begun before the foam is cut: the worker can make what is heavy here at the same time."""
    spikes, findings = placed(preset, flow, on)
    casts = flow.named("masters").run(solids.masters, on.surface, spikes, glue_line=preset.making.glue_line)
    moulds = flow.named("moulds").start(casting.moulds_of, casts, preset.making)
    whole = flow.named("printed masters").start(casting.masters_of, casts, preset.making)
    cores = flow.run(casting.cores_of, casts, preset.making)
    amount = flow.named("clay").run(casting.clay_of, casts, cores, preset.making)
    return Standing(spikes, casts, cores, amount, whole, moulds, findings)


def cast(preset: Preset, flow: Flow, of: Standing) -> casting.Casting:
    """Everything for making the spikes."""
    return flow.run(casting.together, of.casts, of.cores, of.clay, of.whole.result(), of.moulds.result(), preset.making)


def stood_over(preset: Preset, flow: Flow, on: Ground, cut: Cut, spikes: tuple[Spike, ...]) -> beneath.Beneath:
    """The plate lines and seams beneath the spikes."""
    return flow.run(
        beneath.build, on.surface, on.layout, on.mesh, spikes, cut.cut_lines, ring_thickness=preset.rings.thickness
    )


def ringed(preset: Preset, flow: Flow, surface: Surface, spikes: tuple[Spike, ...]) -> rings.Trims:
    """The foam rings round the spikes."""
    return flow.named("rings").run(rings.build, surface, spikes, preset.rings)


def trimmed(preset: Preset, flow: Flow, surface: Surface, spikes: tuple[Spike, ...]) -> Trim:
    """Rings, edging and their stock."""
    around = ringed(preset, flow, surface, spikes)
    edge = flow.named("edging").run(edging.build, surface, preset.edging, foam_of(preset))
    solid = flow.named("edging in 3-D").run(bevel.build, surface, edge, preset.edging, foam_of(preset))
    ring_stock = flow.run(_ring_stock, around.patterns, preset.rings, lost=around.lost)
    edging_stock = flow.run(_edging_stock, edge, preset.edging)
    return Trim(around, ring_stock, edge, solid, edging_stock)


def _ring_stock(patterns: tuple[rings.RingPattern, ...], how: rings.Params, *, lost: float) -> stock.CutList:
    lengths = {spike: pattern.length for pattern in patterns for spike in pattern.spikes}
    return stock.cut_list(lengths, stock=how.stock, kerf=how.kerf, lost=lost)


def _edging_stock(edge: edging.Edging, how: edging.Params) -> stock.CutList:
    return stock.cut_list({piece.name: piece.length for piece in edge.pieces}, stock=how.stock, kerf=how.kerf)
