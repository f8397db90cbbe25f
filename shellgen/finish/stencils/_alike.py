"""Masks that differ by less than a knife does, as one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from shellgen.core.arrays import Floats
from shellgen.finish.stencils._mask import Mask

FIT = 0.5
"""mm by which holes may differ, and what the slits draw in (chosen: a knife along a line is no more exact)."""
EDGE = 1.0
"""mm by which outer edges may differ (chosen: they lie loose, or are taped down)."""


def shared(masks: Sequence[Mask]) -> tuple[Mask, ...]:
    """One mask for hoods or collars that are nearly the same; its name lists all sizes that it is for."""
    groups: list[list[Mask]] = []
    for mask in masks:
        group = next((g for g in groups if all(_alike(mask, other) for other in g)), None)
        if group is None:
            groups.append([mask])
        else:
            group.append(mask)
    return tuple(_one(group) for group in groups)


def _alike(one: Mask, other: Mask) -> bool:
    return (
        one.kind == other.kind
        and one.kind in ("hood", "collar")
        and abs(_drawn_in(one) - _drawn_in(other)) < FIT
        and _apart(one.outline, other.outline) < EDGE
        and all(_apart(a, b) < FIT for a, b in zip(one.holes, other.holes, strict=True))
    )


def _drawn_in(mask: Mask) -> float:
    """mm by which its slits draw the outer edge in, as of a circle."""
    return len(mask.slits) * mask.overlap / (2 * np.pi)


def _apart(one: Floats, other: Floats) -> float:
    """How far two outlines, drawn about the same middle, lie apart at most."""
    return float(shapely.hausdorff_distance(shapely.LinearRing(one), shapely.LinearRing(other), densify=0.1))


def _one(group: Sequence[Mask]) -> Mask:
    """The one with the most slits, for all."""
    if len(group) == 1:
        return group[0]
    serves = tuple(name for mask in group for name in mask.serves)
    return replace(
        max(group, key=lambda mask: len(mask.slits)), name=_named([mask.name for mask in group]), serves=serves
    )


def _named(names: Sequence[str]) -> str:
    """ "horn-40x39-a/b, stud-20x7-a": sizes whose names differ only in the last letter share the rest."""
    letters: dict[str, list[str]] = {}
    for name in names:
        stem, _, letter = name.rpartition("-")
        letters.setdefault(stem, []).append(letter)
    return ", ".join(f"{stem}-{'/'.join(of)}" for stem, of in letters.items())
