"""Masks, paint and shading."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from shellgen.canvas import Drawing, Path
from shellgen.guide.kit import Kit
from shellgen.guide.leaf import Block, Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import KNIFE, RAGS, SPRAY
from shellgen.guide.steps._pieces import gallery, left
from shellgen.record.paint import CoatEntry

PLACE = 140


def steps(kit: Kit) -> Iterator[Step]:
    paper, coats = kit.preset.print.paper, kit.figures.paint.steps
    yield kit.step(
        "paint",
        "Mask and paint",
        needs=("primed shell", "materials", "tools"),
        makes=("painted shell",),
        hand=("paint", "brush for paint", "the masks", "knife", "cutting mat", "masking tape", "breathing mask"),
        tasks=("paint",),
        blocks=(
            SPRAY,
            KNIFE,
            Words(f"Masks, true to size on the dome, are in masks-{paper}.pdf: each sheet says what it covers."),
            Rows(
                ("what", "colour", "coats", "paint", "masks", "how"),
                tuple(_coat(kit, coat) for coat in coats if coat.title != "Shade"),
            ),
            Ticks(
                (
                    "Paint a scrap along with it: it tells when a coat is dry.",
                    "Work from the crown outwards, thin coats, each dry to the touch before the next.",
                    "Take masks off while the paint is still soft at the edge.",
                )
            ),
        ),
    )
    yield kit.step(
        "shade",
        "Shade the grooves",
        needs=("painted shell", "materials"),
        makes=("shaded shell",),
        hand=("paint for shading", "brush for paint", "kitchen paper", "gloves", "the shading guide"),
        tasks=("shade the grooves",),
        blocks=(
            Words(f"{_coat(kit, coats[-1])[-1]} {kit.amount(round(coats[-1].volume_ml, 1), 'mL')} in all."),
            *_pictures(kit),
            Ticks(
                (
                    *_sealed(kit),
                    "Run the paint into the grooves with a small brush, leave it a minute, wipe the plates clean from "
                    "the middle to the edge.",
                    "Darkest at the foot of rings and spikes and in the grooves; high places stay clean.",
                    "Let it dry where no dust falls, and touch nothing until a hidden groove is dry.",
                    "Then seal the whole outside with clear varnish that suits both paints, a scrap first, and let it "
                    "dry: unsealed shade rubs off on clothes and hands.",
                )
            ),
            RAGS if _oily(kit) else None,
            SPRAY,
        ),
    )


def _oily(kit: Kit) -> bool:
    return kit.preset.schedule.shading in ("oil", "alkyd")


def _sealed(kit: Kit) -> Iterator[str]:
    if _oily(kit):
        yield (
            "Before any oil: seal the paint with a clear acrylic varnish and let it dry through, or the thinner lifts "
            "it. Try both on the painted scrap."
        )


def _coat(kit: Kit, coat: CoatEntry) -> tuple[str, ...]:
    tells = coat.text.partition(" Caution,")[0]  # the cautions stand in the step, once
    volume = kit.amount(round(coat.volume_ml, 1), "mL")
    return coat.title, coat.colour, str(coat.coats), volume, ", ".join(coat.masks) or "none", tells


def _pictures(kit: Kit) -> Iterator[Block]:
    yield Words(
        "White: leave the paint as it is. Grey: draw the shade out thinly. Hatched: lay the shade here. As large "
        f"as a page takes: shading-{kit.preset.print.paper}.pdf. True to size: the folder guides."
    )
    known = {piece.name: kit.drawings.get(f"shading/{piece.name}-shading") for piece in kit.foam.cut.pieces}
    if any(sheet is None for sheet in known.values()):
        return
    sheets = [sheet for sheet in known.values() if sheet is not None]
    yield from gallery(kit, lambda index, across, up: _fitted(sheets[index], across, up), left_only=True)


def _fitted(sheet: Drawing, across: float, up: float) -> Drawing:
    """Without lettering, which would be too small to read, and no larger than asked for."""
    items, shift, (width, height) = left(sheet)
    scale = min(1.0, across / width, up / height)
    lines = tuple(
        Path(scale * (item.points + shift), item.layer, item.closed, item.data, item.fill)
        for item in items
        if isinstance(item, Path)
    )
    return replace(sheet, width=scale * width, height=scale * height, items=lines)
