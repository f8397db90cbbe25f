"""Masks, paint and shading."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from shellgen.canvas import Drawing, Path
from shellgen.guide.kit import Kit, plural, when
from shellgen.guide.leaf import Block, Rows, Step, Ticks, Words
from shellgen.guide.steps._cautions import KNIFE, RAGS, SPRAY
from shellgen.guide.steps._pieces import SIGNS, gallery, left
from shellgen.record.paint import CoatEntry
from shellgen.workshop import schedule
from shellgen.workshop.materials import VARNISH

PLACE = 140


def steps(kit: Kit) -> Iterator[Step]:
    coats = kit.figures.paint.steps
    yield kit.step(
        "paint",
        "Mask and paint",
        needs=("primed shell", "materials", "tools"),
        makes=("painted shell",),
        equipment=("paint", "brush for paint", "the masks", "knife", "cutting mat", "masking tape"),
        tasks=(schedule.MASKS, "paint the"),
        blocks=(
            SPRAY,
            KNIFE,
            Words(_masks(kit)) if "masks" in kit.pages else None,
            Rows(
                ("what", "colour", "coats", "paint", "masks", "how", "planned for"),
                tuple((*_coat(kit, coat), _days(kit, coat)) for coat in coats if coat.title != "Shade"),
            ),
            Ticks(
                (
                    "Paint a scrap along with the shell. It shows when a coat is dry.",
                    "Work from the crown outwards in thin coats. Let each dry to the touch before the next. What "
                    "has its own masks waits until the paint below them is dry.",
                    "Take the masks off while the paint at their edges is still soft.",
                )
            ),
        ),
    )
    yield kit.step(
        "shade",
        "Shade the grooves",
        needs=("painted shell", "materials"),
        makes=("shaded shell",),
        equipment=(
            "paint for shading",
            *(("thinner for shading",) if kit.oily else ()),
            "clear varnish",
            "brush for shading",
            "brush for varnish",
            "kitchen paper",
            *(("metal can with a lid",) if kit.oily else ()),
            "the shading guide",
        ),
        tasks=(schedule.SEAL, "shade the grooves", schedule.VARNISH),
        blocks=(
            Words(f"{_coat(kit, coats[-1])[-1]} You need {kit.amount(round(coats[-1].volume_ml, 1), 'mL')} in all."),
            *_pictures(kit),
            Ticks((*_sealed(kit), *_shaded(kit))),
            RAGS if kit.oily else None,
            SPRAY,
        ),
    )


def _sealed(kit: Kit) -> Iterator[str]:
    if kit.oily:
        yield (
            f"Before you use {kit.preset.schedule.shading} paint, seal the paint below with one coat of clear acrylic "
            "varnish and let it dry through: otherwise the thinner lifts it. Try both on the painted scrap. Thin the "
            f"paint and clean the brush with {kit.bought('thinner for shading') or 'thinner'}."
        )


def _shaded(kit: Kit) -> tuple[str, ...]:
    coats = plural(kit.preset.materials.varnish_coats, "coat")
    return (
        "Run the paint into the grooves with a small brush. Wait a minute, then wipe the plates clean from "
        "the middle to the edge.",
        "Shade darkest in the grooves and around the bases of rings and spikes. Keep high places clean.",
        "Let it dry away from dust. Test a hidden groove before you touch the rest.",
        f"Then seal all that is painted with {coats} of a "
        "clear varnish that suits both paints, and let it dry. Try it on a scrap first. Unsealed shading "
        f"rubs off on clothes and hands. You need {kit.bought(VARNISH) or VARNISH} in all.",
    )


def _masks(kit: Kit) -> str:
    spiked = kit.figures.spikes
    text = (
        f"The masks are in masks-{kit.preset.print.paper}.pdf, at full size for the dome. Each says what it covers "
        "and how many you make."
    )
    if spiked:
        text += (
            f" With {plural(len(spiked), 'spike')} this is an evening's work or more, and the plan counts it: trace "
            "the printed mask, and cut several sheets at once, stapled together outside the line."
        )
    return text


def _days(kit: Kit, coat: CoatEntry) -> str:
    word = f"paint the {schedule.ZONE.get(coat.zone, coat.zone)},"
    return when([task for task in kit.figures.schedule if task.task.startswith(word)]) or "no plan"


def _coat(kit: Kit, coat: CoatEntry) -> tuple[str, ...]:
    instruction = coat.text.partition(" Caution,")[0]  # the step itself shows the cautions, once
    volume = kit.amount(round(coat.volume_ml, 1), "mL")
    return coat.title, coat.colour, str(coat.coats), volume, ", ".join(coat.masks) or "none", instruction


def _pictures(kit: Kit) -> Iterator[Block]:
    yield Words(
        "White (light): leave the paint as it is. Grey (middle): shade lightly. Hatched (dark): shade fully. "
        f"shading-{kit.preset.print.paper}.pdf shows each piece on a page; the guides folder has them at full size."
    )
    known = {piece.name: kit.drawings.get(f"shading/{piece.name}-shading") for piece in kit.foam.cut.pieces}
    if any(sheet is None for sheet in known.values()):
        return
    sheets = [sheet for sheet in known.values() if sheet is not None]
    yield from gallery(kit, lambda index, across, up: _fitted(sheets[index], across, up), left_only=True, tall=SIGNS)


def _fitted(sheet: Drawing, across: float, up: float) -> Drawing:
    """The sheet without lettering, which would be too small to read, no larger than asked for."""
    items, shift, (width, height) = left(sheet)
    scale = min(1.0, across / width, up / height)
    lines = tuple(
        Path(scale * (item.points + shift), item.layer, item.closed, item.data, item.fill)
        for item in items
        if isinstance(item, Path)
    )
    return replace(sheet, width=scale * width, height=scale * height, items=lines)
