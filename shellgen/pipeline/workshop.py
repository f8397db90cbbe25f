"""Sheets, materials, the plan to the day and what to buy."""

from __future__ import annotations

from dataclasses import dataclass, replace

from shellgen import wear
from shellgen.core.flow import Flow
from shellgen.model import Cut, Materials, Pattern, Ring, Schedule, Zone
from shellgen.pipeline.dome import Ground
from shellgen.pipeline.foam import Foam
from shellgen.pipeline.spikes import Standing, Trim
from shellgen.preset import Preset
from shellgen.spikes.casting import Casting
from shellgen.workshop import buying, materials, nest, schedule, work


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Work:
    """What the shell is made of, the sheets of foam, the plan to the day, and what has to be bought."""

    materials: Materials
    nest: nest.Nest
    plan: Schedule | None
    buying: buying.Buying


def nested(preset: Preset, flow: Flow, of: Foam) -> nest.Nest:
    """The pieces on sheets of foam."""
    return flow.named("nest").run(_nested, of.cut, of.pattern, preset.nest, thickness=preset.foam.thickness)


def plan(
    preset: Preset, flow: Flow, on: Ground, cut: Cut, top: Standing, rings: tuple[Ring, ...], zones: tuple[Zone, ...],
    hung: wear.Wear,
) -> Schedule | None:  # fmt: skip
    """What has to be done, and when."""
    size = flow.run(
        work.size, on.layout, on.mesh, cut, top.spikes, rings, zones, top.whole.result().prints,
        top.moulds.result().prints, preset.making, hung, primer_coats=preset.materials.primer_coats,
        varnish_coats=preset.materials.varnish_coats, spray_grooves=preset.paint.spray_grooves,
    )  # fmt: skip
    return flow.named("plan").run(schedule.build, size, preset.schedule)


def stuff(
    preset: Preset, flow: Flow, on: Ground, of: Foam, top: Standing, trim: Trim, zones: tuple[Zone, ...]
) -> Materials:
    """Amounts and mass of what the shell is made of, without its harness."""
    printed = top.whole.result().prints if preset.making.way == "printed" else ()
    printed_g = flow.run(work.printed_grams, printed)
    return flow.named("materials").run(
        materials.build, on.layout, on.mesh, of.cut, of.pattern, top.spikes, top.masters, trim.rings.rings, zones,
        preset.materials, thickness=preset.foam.thickness, edging=(preset.edging.width, preset.edging.thickness),
        shading=preset.schedule.shading, clay_wet=top.clay.wet, clay_dry=top.clay.dry, clay_cube=top.clay.cube,
        way=preset.making.way, printed_g=printed_g,
    )  # fmt: skip


def with_harness(made: Materials, hung: wear.Wear) -> Materials:
    """What the shell is made of, and what it hangs on."""
    return replace(made, amounts=wear.together(made.amounts, hung.amounts))


def bought(preset: Preset, flow: Flow, made: Materials, nested: nest.Nest, trim: Trim, cast: Casting) -> buying.Buying:
    """What has to be bought."""
    return flow.named("buying").run(
        buying.build, made.amounts, nested, trim.ring_stock, trim.edging_stock, cast, preset.prices,
        preset.materials.spare,
    )  # fmt: skip


def _nested(cut: Cut, pattern: Pattern, how: nest.Params, *, thickness: float) -> nest.Nest:
    return nest.build(nest.pieces(cut, pattern, thickness), how, thickness=thickness)
