"""What `show` can print: the keys of a record, useful ones first, known before anything is computed or imported."""

from __future__ import annotations

from shellgen.errors import PresetError
from shellgen.fields.values import either, nearest

STAGES = {
    "dome": "size, area, depth and rim of the dome",
    "plates": "every plate with its area",
    "pieces": "every flat piece of foam with its size and stretch",
    "seams": "every seam with the lengths of its two edges",
    "spikes": "every spike with its place, size, master and ring",
    "materials": "the buying list, and how each amount was computed",
    "plan": "the plan to the day, and what would save days",
    "wear": "straps, anchors and the load on each strap",
    "sheets": "which pieces lie on which sheet of foam",
    "joins": "the order of gluing",
    "paint": "zones, colours, coats and contrast",
    "findings": "what the checks found",
    "name": "name of the pack",
    "foam_thickness_mm": "thickness of the foam",
    "proof": "how far the virtual build deviates from the dome",
    "prints": "masters, moulds and feet to print",
    "clay_cm3": "clay for all spikes, wet and dry",
    "ring_stock": "from which lengths of strip the rings are cut",
    "edging": "the pieces of the edging, with their cuts",
    "edging_stock": "from which lengths of stock the edging is cut",
    "cost": "what the buying list costs",
    "mass_g": "mass of the finished shell",
    "mass_uncertainty_g": "how far that mass may be off",
    "mass_parts_g": "mass of foam, spikes, paint and so on",
    "centre_of_mass_mm": "the point where the shell balances",
    "sheets_at_least": "the fewest sheets that any layout could need",
    "sheets_cost": "what the sheets cost",
    "schedule": "every task with its hours",
    "tape": "lengths over the dome, to check with a tape measure",
    "heat": "how far each piece is stretched and compressed with heat",
    "forming": "how far each plate grows with heat, most first",
    "wearer": "whether the dome fits the wearer",
    "program_version": "the version of shellgen",
}
"""Each stage in a few words. A test compares them with the record."""

LISTED = "shellgen list stages"


def check(stage: str, preset: str | None) -> None:
    """PresetError if there is no such stage or no preset."""
    if stage not in STAGES:
        remedy, hint = f"Choose {either(STAGES, rest=LISTED)}.", nearest(stage, STAGES)
        if preset in STAGES:
            remedy, hint = f"The stage comes first: shellgen show {preset} {stage}", ""
        raise PresetError("STAGE", f"{stage} is not a stage.", remedy, hint=hint)
    if preset is None:
        raise PresetError("PRESET", "The preset is missing.", f"Write it last: shellgen show {stage} my-shell.yaml")
