"""Painting: zones and their colours, coats in order, contrast of neighbours, and where the shade lies."""

from __future__ import annotations

from collections.abc import Sequence

from shellgen.finish.paint import coats, colours
from shellgen.finish.paint.figures import table
from shellgen.finish.paint.shading import build as shaded
from shellgen.finish.paint.zones import Params
from shellgen.finish.paint.zones import build as zoned
from shellgen.model import Coat, Finding, Paint, Pair, Shading, Zone

__all__ = ["ALIKE", "MEET", "Params", "build", "pairs", "shaded", "table", "zoned"]

MEET = (("plates", "grooves"), ("plates", "rings"), ("rings", "spikes"), ("plates", "spikes"), ("plates", "rim"))
"""Zones that meet; plates and spikes do where a spike has no ring, and are seen together where it has."""

ALIKE = 10.0
"""CIEDE2000 below which neighbours can hardly be distinguished from a seat in the hall. Chosen: ten times what is just
seen side by side."""


def build(found: Sequence[Zone], shade: Shading, *, kind: str, shade_ml: float, spray_grooves: bool) -> Paint:
    """The paint of a shell. kind : of the shading, "oil", "alkyd" or "acrylic"; shade_ml : how much of it;
    spray_grooves : through masks of the plates"""
    adjacent = pairs(found)
    order: tuple[Coat, ...] = coats.build(found, kind=kind, shade_ml=shade_ml, spray_grooves=spray_grooves)
    alike = tuple(_alike(found, pair) for pair in adjacent if pair.difference < ALIKE)
    return Paint(tuple(found), adjacent, order, shade, kind, alike)


def pairs(found: Sequence[Zone]) -> tuple[Pair, ...]:
    """Contrast and difference of the painted zones that meet."""
    of = {zone.name: zone for zone in found if zone.coats}
    result = []
    for one, other in MEET:
        if one in of and other in of:
            contrast = colours.contrast(of[one].rgb, of[other].rgb)
            result.append(Pair((one, other), contrast, *colours.difference(of[one].rgb, of[other].rgb)))
    return tuple(result)


def _alike(found: Sequence[Zone], pair: Pair) -> Finding:
    name = {zone.name: zone.colour for zone in found}
    one, other = pair.zones
    return Finding(
        "caution",
        "paint",
        f"{one.capitalize()} ({name[one]}) and {other} ({name[other]}) can hardly be distinguished, contrast "
        f"{pair.contrast:.1f}, least for {pair.sight}: take one lighter or darker.",
    )
