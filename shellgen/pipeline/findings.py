"""All findings on a shell, in the order in which a maker needs them."""

from __future__ import annotations

from typing import Any

from shellgen.canvas import lettering
from shellgen.finish import scores
from shellgen.model import Finding
from shellgen.preset import Preset

LEVELS = ("fault", "caution", "ok")


def ordered(
    checked: tuple[Finding, ...],
    remedied: tuple[Finding, ...],
    corrected: tuple[Finding, ...],
    *results: Any,
    stated: tuple[Finding, ...],
) -> tuple[Finding, ...]:
    """What may hurt and what is wrong first. What a later stage finds wrong is not said again of the flat pieces, and
    what is said with a remedy is not said without.

    checked : of the flat pieces; remedied : with a seam plan or another remedy that was tried
    results : some have findings of their own; stated : in the preset itself
    """
    stages = {finding.stage for finding in remedied}
    found = (f for result in results for f in getattr(result, "findings", ()) if f.stage not in stages)
    later = (*remedied, *corrected, *found, *stated)
    faults = {finding.stage for finding in later if finding.level == "fault"}
    once = (finding for finding in checked if finding.stage not in faults | stages)
    return tuple(sorted((*once, *later), key=lambda finding: (LEVELS.index(finding.level), not finding.safety)))


def stated(preset: Preset) -> tuple[Finding, ...]:
    """What is wrong with figures and words of the preset, before anything is computed."""
    return (*scores.too_deep(preset.scores, preset.foam.thickness), *_unset(preset))


def _unset(preset: Preset) -> tuple[Finding, ...]:
    """A caution where a title has letters that the papers lack."""
    missing = lettering.unset(" ".join(filter(None, (preset.title, preset.share.about, preset.share.by))))
    if not missing:
        return ()
    text = (
        f"The sheets have no letters for {' '.join(missing)} in the title or under share: they print as boxes. Pages "
        "in the browser show them. Write it in Latin, Greek, Cyrillic, Armenian or Georgian letters for paper."
    )
    return (Finding("caution", "title", text),)
