"""How far a build has come, and how long it will take: from the usual times of its stages and the times so far."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

STAGES = {
    "surface": 0.1, "plates": 0.6, "mesh": 0.3, "spikes": 0.7, "masters": 0.6, "moulds": 0.0, "printed masters": 0.0,
    "clay": 0.0, "rings": 0.0, "edging": 0.1, "edging in 3-D": 0.1, "zones": 0.1, "shading": 0.7, "coarse mesh": 0.2,
    "seam plan": 3.5, "seams": 0.0, "marks": 0.0, "flat pieces": 0.4, "correction": 3.2, "numbered marks": 0.0,
    "bevels": 0.0, "as formed": 0.0, "without flaw": 0.0, "other plans": 0.0, "nest": 0.1, "wearer": 0.0, "fit": 0.0,
    "materials": 0.1, "harness": 0.4, "paint": 0.0, "checks": 1.4, "virtual build": 0.5, "remedies": 1.0, "plan": 0.1,
    "buying": 0.1, "papers for shading": 0.0, "pictures": 0.0, "picture of the parts": 0.0,
    "picture of the stretch": 0.0, "picture of the spikes": 0.0, "prints": 0.0, "spike files": 0.0, "lists": 0.0,
    "templates": 3.5, "card model": 4.2, "sheets of foam": 0.8, "score lines on paper": 3.9,
    "rings and edging on paper": 0.4, "plan on paper": 0.3, "masks": 2.0, "harness on paper": 0.5,
    "templates on paper": 1.0, "solids of the page": 0.5, "build guide": 1.7, "page": 4.0,
}  # fmt: skip
"""Seconds from the start of each stage to that of the next, in the order of a build: the first demo, on two cores.
What the second process computes is not waited for and counts nothing (measured, 2026-12-01)."""


def at(stages: Sequence[tuple[str, float]], now: float) -> tuple[float, float]:
    """Share that is done, and seconds left: the usual ones until stages that take time have shown the pace here.

    stages : those begun, with the time of each; now : the time. What is remembered is never begun, and so is done.
    """
    names, usual = list(STAGES), list(STAGES.values())
    known = [(names.index(name), start) for name, start in stages if name in STAGES]
    if not known:
        return 0.0, sum(usual)
    here = max(index for index, _ in known)
    ended = [(usual[index], after - start) for (index, start), (_, after) in pairwise(known)]
    expected, taken = (sum(column) for column in zip(*ended, strict=True)) if ended else (0.0, 0.0)
    begun = max(start for index, start in known if index == here)
    pace = taken / expected if expected >= MEASURED else 1.0
    part = min(1.0, (now - begun) / (usual[here] * pace)) if usual[here] else 0.0
    left = sum(usual[here + 1 :]) + usual[here] * (1 - part)
    return 1 - left / sum(usual), left * pace


MEASURED = 1.0
"""Usual seconds of the stages that have ended, before their pace counts (chosen)."""
