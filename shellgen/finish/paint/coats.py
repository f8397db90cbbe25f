"""The order of the coats: what is painted when, and which stencils then cover what."""

from __future__ import annotations

from collections.abc import Sequence

from shellgen.model import Coat, Zone

SPRAYED = (
    "Caution, spraying: the mist harms lungs and can catch fire. Work outdoors or with extraction, keep flames and hot "
    "tools away, and wear the mask that the paint's label names."
)
OILY = (
    "Caution, rags with oil or alkyd paint can catch fire by themselves: dry them flat outdoors or keep them in a "
    "closed metal can full of water. Solvents: fresh air, no flame, gloves; follow the labels."
)

ORDER: tuple[tuple[str, str, tuple[str, ...], str], ...] = (
    ("inside", "Paint the inside", (), "Brush or spray the inside first; wipe off what creeps round the rim."),
    (
        "plates",
        "Spray the plates",
        ("hood",),
        "Put a hood over every spike and its ring, then spray thin coats over both plates and grooves.",
    ),
    ("grooves", "Paint the grooves", (), "Use a narrow brush along the grooves."),
    ("rings", "Paint the rings", ("collar",), "Lay a collar round each ring, and brush the ring."),
    (
        "spikes",
        "Paint the spikes",
        ("collar",),
        "Use the collars, and brush the spikes from the tip down to the ring. Spray only spikes without a ring: a "
        "collar protects the plate, not the ring.",
    ),
    ("rim", "Paint the edging", ("band",), "Lay the bands along the rim, and brush or spray the edging."),
)
"""Light, large parts first, what is brushed over last (common practice, no source)."""

GROOVES = (
    "grooves", "Spray the grooves", ("plate",), "Cover the plates with their masks, then spray thin coats.",
)  # fmt: skip
"""Instead of the brush."""

SHADES = {
    "oil": "Lay thin oil paint where the shading guide is dark. Draw it out with a dry brush over the middle tone.",
    "alkyd": "Lay thin alkyd paint where the shading guide is dark. Draw it out with a dry brush over the middle tone.",
    "acrylic": "Wet the middle tone of the shading guide. Lay acrylic glaze where it is dark and draw it out at once.",
}


def build(zones: Sequence[Zone], *, kind: str, shade_ml: float, spray_grooves: bool) -> tuple[Coat, ...]:
    """The coats in order. kind : of paint for shading; shade_ml : how much of it; spray_grooves : with a mask for every
    plate, and not with a brush"""
    of = {zone.name: zone for zone in zones if zone.coats}
    order = [GROOVES if spray_grooves and row[0] == GROOVES[0] else row for row in ORDER]
    done = [
        Coat(title, name, of[name].colour, of[name].coats, of[name].volume_ml, masks, f"{instruction} {SPRAYED}")
        for name, title, masks, instruction in order
        if name in of
    ]
    instruction = SHADES[kind] + ("" if kind == "acrylic" else f" {OILY}")
    return (*done, Coat("Shade", "grooves", f"dark {kind}", 1, shade_ml, (), instruction))
