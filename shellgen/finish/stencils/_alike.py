"""Masks that differ by less than a knife does, as one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely

from shellgen.core.arrays import Floats
from shellgen.finish.stencils._mask import Mask

FIT = 0.5
"""mm by which holes, and slits where they overlap, may differ (chosen: a knife along a pencil line is no more exact)."""
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
        and len(one.slits) == len(other.slits)
        and abs(one.overlap - other.overlap) < FIT
        and _apart(one.outline, other.outline) < EDGE
        and all(_apart(a, b) < FIT for a, b in zip(one.holes, other.holes, strict=True))
    )


def _apart(one: Floats, other: Floats) -> float:
    """How far two outlines, drawn about the same middle, lie apart at most."""
    return float(shapely.hausdorff_distance(shapely.LinearRing(one), shapely.LinearRing(other), densify=0.1))


def _one(group: Sequence[Mask]) -> Mask:
    return group[0] if len(group) == 1 else replace(
        group[0],
        name=_named([mask.name for mask in group]),
        serves=tuple(name for mask in group for name in mask.serves),
    )  # fmt: skip


def _named(names: Sequence[str]) -> str:
    """ "horn-40x39-a/b, stud-20x7-a": sizes whose names differ only in the last letter share the rest."""
    letters: dict[str, list[str]] = {}
    for name in names:
        stem, _, letter = name.rpartition("-")
        letters.setdefault(stem, []).append(letter)
    return ", ".join(f"{stem}-{'/'.join(of)}" for stem, of in letters.items())
