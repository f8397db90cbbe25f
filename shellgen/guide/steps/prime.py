"""Many thin coats of glue as a primer, before the paint."""

from __future__ import annotations

from collections.abc import Iterator

from shellgen.guide.kit import Kit, plural, when
from shellgen.guide.leaf import Rows, Step, Ticks
from shellgen.guide.steps._cautions import DUST

PLACE = 130


def steps(kit: Kit) -> Iterator[Step]:
    spiked = kit.figures.spikes
    before = ["edged dome"]
    if spiked:
        before.append("ringed dome" if any(s.ring_length_mm for s in spiked) else "spiked dome")
    coats = [t for t in kit.figures.schedule if t.task.startswith("prime")]
    count = len(coats)
    yield kit.step(
        "prime",
        "Prime",
        needs=(*before, "materials"),
        makes=("primed shell",),
        equipment=("PVA wood glue", "brush for primer", "kitchen paper", "fine sandpaper"),
        tasks=("prime",),
        blocks=(
            Ticks(
                (
                    "Wipe dust and grease off the shell.",
                    f"You need {kit.bought('PVA wood glue') or 'PVA wood glue'} in all. Thin it with a little water "
                    f"until it brushes like cream, and put on {plural(count, 'thin coat') if count else 'thin coats'}. "
                    "Brush out drips and pools in the grooves before they set.",
                    "Touch a hidden spot before the next coat. The coat is dry when it is clear and no longer feels "
                    "cool.",
                    "Lightly sand rough places before the last coat.",
                )
            ),
            Rows(("coat", "dries", "planned for"), tuple(
                (t.task.removeprefix("prime, "), f"{t.dry_h:g} h", when([t])) for t in coats)),
            DUST,
        ),
    )  # fmt: skip
