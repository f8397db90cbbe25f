"""What brings a shell that deviates from its dome within the limits: each remedy that is named has been tried."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from shellgen.core.flow import Flow, Pending
from shellgen.errors import ShellgenError
from shellgen.model import Finding, Proof
from shellgen.pattern.proof.findings import DEVIATION
from shellgen.pipeline import dome, foam, plans
from shellgen.preset import Preset

SHAPE = (*plans.SHAPE, "shape", "proof")
"""The sections that the virtual build follows from."""

SHEETS = (3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0)
"""mm: thicknesses in which sheets are sold (common practice, no source)."""

LOWER = (0.8, 0.6, 0.4)
"""Shares of the stretch limit that are tried. Chosen: each adds about as many pieces as the one before."""

NONE = "Neither a lower stretch limit nor thicker foam helps; try other seams (seams: plan)."


def deviations(preset: Preset, flow: Flow, proof: Proof) -> Pending[tuple[Finding, ...]]:
    """What there is to say of the distance from the dome, with a remedy; nothing if it keeps its limits."""
    found = tuple(finding for finding in proof.findings if finding.stage == DEVIATION)
    return flow.named("remedies").start(_with_remedy, found, plans.only(preset, SHAPE))


def _with_remedy(found: tuple[Finding, ...], preset: Preset) -> tuple[Finding, ...]:
    faults = [finding for finding in found if finding.level == "fault"]
    if not faults:
        return ()
    remedy = next(filter(None, (_tried(other, line) for other, line in _remedies(preset))), NONE)
    return tuple(replace(f, text=f"{f.text} {remedy}") if f is faults[0] else f for f in found)


def _remedies(preset: Preset) -> Iterator[tuple[Preset, str]]:
    """Changed presets, the mildest change first, and the words for each."""
    lower = [_lower_limit(preset, share) for share in LOWER if preset.seams.name in plans.OTHERS]
    thicker = [_thicker(preset, sheet) for sheet in SHEETS if sheet > preset.foam.thickness][: len(LOWER)]
    for step in range(len(LOWER)):
        yield from (*lower[step : step + 1], *thicker[step : step + 1])


def _lower_limit(preset: Preset, share: float) -> tuple[Preset, str]:
    limit = round(share * preset.seams.common.stretch_limit, 4)
    limits = replace(preset.seams.common, stretch_limit=limit)
    return replace(preset, seams=replace(preset.seams, common=limits)), f"seams: stretch_limit: {100 * limit:g} %"


def _thicker(preset: Preset, sheet: float) -> tuple[Preset, str]:
    return replace(preset, foam=replace(preset.foam, thickness=sheet)), f"foam: thickness: {sheet:g} mm"


def _tried(preset: Preset, line: str) -> str:
    """The remedy in words, empty if it does not help. line : of the preset"""
    flow = Flow()
    try:
        on = dome.ground(preset, flow)
        flat = foam.foam(preset, flow, on)
        findings = (*foam.proved(preset, flow, on, flat).findings, *foam.checked(preset, flow, on, flat))
    except ShellgenError:
        return ""
    if any(finding.level == "fault" for finding in findings):
        return ""
    return f"With {line} it keeps its limits."
