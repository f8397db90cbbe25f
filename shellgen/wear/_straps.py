"""What the harness consists of: straps with their lengths, buckles, patches and the glue for them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, hypot

import numpy as np

from shellgen.model import Amount
from shellgen.model.said import three
from shellgen.wear._patch import AnchorPatch
from shellgen.wear._strand import Run, Strand

CLOTH = 1.25
"""Cloth to buy over the area of the patches (chosen: there are gaps between them)."""


THREAD = 5.0
"""Metres of thread for a metre of seam by hand: doubled, in backstitch, with the ends (common practice, no source)."""
CLOTH_ITEM = "strong cloth for patches"
LOOP = 50.0
"""mm of a piece that are folded back round the bar of a buckle's half and sewn (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class StrapPiece:
    """One of the two pieces of webbing between which a strap opens.

    role, side : of the anchor that it is sewn to; no side if there is one on each
    to_buckle  : mm along the body, from the anchor to the buckle
    length     : mm to cut, with the tab, and with the loop round its half of the buckle, or with what adjusts
    adjusts    : whether it runs through the half of the buckle that adjusts
    """

    role: str
    side: str
    to_buckle: float
    length: float
    adjusts: bool


@dataclass(frozen=True, slots=True, eq=False)
class Strap:
    """count : how many of them; on_body : mm from anchor to anchor; cut : of all its pieces together, which are for the
    first end and the last. A garment counts once and is not cut (0).
    """

    name: str
    count: int
    width: float
    on_body: float
    cut: float
    buckles: tuple[tuple[str, int], ...]
    pieces: tuple[StrapPiece, ...] = ()


def straps(
    strands: Sequence[Strand], runs: Sequence[Run], patches: Sequence[AnchorPatch], *, spare: float
) -> tuple[Strap, ...]:
    """One for each strand, in their order; `spare` mm to adjust with."""
    found, at = [], 0
    for strand in strands:
        own = slice(at, at + strand.count)
        once = sum(run.length for run in runs[own]) * (2 if strand.count == 1 else 1)
        pieces = () if strand.cloth else tuple(_pieces(strand, runs[own], patches[own], spare))
        count, cut = 1 if strand.cloth else strand.count, sum(piece.length for piece in pieces)
        found.append(Strap(strand.name, count, strand.width, once, float(cut), strand.buckles, pieces))
        at += strand.count
    return tuple(found)


def _pieces(strand: Strand, runs: Sequence[Run], patches: Sequence[AnchorPatch], spare: float) -> Iterator[StrapPiece]:
    """Both meet at the buckle: in front of the body, or on its left if the fastener must keep off the throat.

    A buckle's own length is not taken off: it leaves more to adjust with.
    """
    if strand.count == 1:
        aside = float(np.linalg.norm(runs[0].beside_middle - runs[0].path[-1])) if strand.lets_go else 0.0
        ends = [(patches[0], "left", runs[0].length - aside), (patches[0], "right", runs[0].length + aside)]
    else:
        ends = [(patch, "", run.length) for patch, run in zip(patches, runs, strict=True)]
    for k, (patch, side, long) in enumerate(ends):
        yield StrapPiece(patch.role, side, long, long + patch.tab[0] + (spare if k else LOOP), bool(k))


def amounts(
    strands: Sequence[Strand], listed: Sequence[Strap], patches: Sequence[AnchorPatch], *, adhesive: float
) -> Iterator[Amount]:
    """Lines for the buying list. A vest is bought or sewn, and counts as one. adhesive : g/m2 on each glued face"""
    widths: dict[float, list[Strap]] = {}
    for strap in listed:
        if strap.cut:
            widths.setdefault(strap.width, []).append(strap)
    for width, group in sorted(widths.items()):
        metres = sum(strap.count * strap.cut for strap in group) / 1000
        how = " + ".join(f"{s.count} x {s.name} {s.cut / 1000:.2f} m" for s in group)
        buy = ceil(round(metres * 10, 6)) / 10
        yield Amount(_webbing(width), metres, buy, "m", f"{how} = {metres:.2f} m, with tabs, loops and adjustment")
    buckles: tuple[Amount, ...] = ()
    for strap in listed:
        if not strap.cut:
            yield Amount(_garment(strap.name), 1, 1, "pieces", "strong seams over the shoulders")
        for buckle, each in strap.buckles:
            count, item = each * strap.count, _buckle(buckle, strap.width, cloth=not strap.cut)
            buckles = together(buckles, (Amount(item, count, count, "pieces", f"{each} on each {strap.name}"),))
    yield from buckles
    for strand in strands:
        if strand.padded:
            yield Amount("shoulder pad", strand.count, strand.count, "pieces", f"one on each {strand.name}")
    if patches:
        area = sum(2 * patch.length * patch.width for patch in patches) / 1e6
        how = f"{2 * len(patches)} patches by their length and width = {1e4 * area:.0f} cm2"
        yield Amount(CLOTH_ITEM, 1e4 * area, 50.0 * ceil(1e4 * area * CLOTH / 50), "cm2", how)
        glue = 2 * area * adhesive
        how = f"both faces of the patches {2 * area:.3f} m2 x {adhesive:g} g/m2 = {glue:.1f} g"
        yield Amount("contact adhesive", glue, 5.0 * ceil(glue / 5), "g", how)
        yield Amount("brush for glue", 1, 1, "pieces", "one for the patches")
        seam = sum(2 * _seam(*patch.tab) for patch in patches) / 1000
        how = f"{2 * len(patches)} tabs, sewn round and across: {seam:.2f} m of seam x {THREAD:g} m of thread a metre"
        yield Amount("strong thread", THREAD * seam, ceil(THREAD * seam), "m", how)
        yield Amount("thick needle", 2, 2, "pieces", "one, and one to break")


def _seam(length: float, width: float) -> float:
    """mm to sew around a square and across it."""
    return 2 * (length + width) + 2 * hypot(length, width)


def items(strands: Sequence[Strand]) -> Iterator[str]:
    """Names of the lines on the buying list, known before anything is measured."""
    for strand in strands:
        yield _garment(strand.name) if strand.cloth else _webbing(strand.width)
        yield from (_buckle(name, strand.width, cloth=strand.cloth) for name, _ in strand.buckles)
        yield CLOTH_ITEM


def _webbing(width: float) -> str:
    return f"strap webbing {width:g} mm"


def _garment(name: str) -> str:
    return f"{name} that fits the wearer"


def _buckle(name: str, width: float, *, cloth: bool) -> str:
    return name if cloth else f"buckle, {name.removesuffix(' buckle')}, {width:g} mm"


def together(amounts: Sequence[Amount], more: Sequence[Amount]) -> tuple[Amount, ...]:
    """Two lists in one: an item on both lists gets one line."""
    added = {amount.item: amount for amount in more}
    joined = [_joined(amount, added.pop(amount.item, None)) for amount in amounts]
    return (*joined, *added.values())


def _joined(one: Amount, other: Amount | None) -> Amount:
    if other is None:
        return one
    whole = one.amount + other.amount
    how = f"{one.how}, and {other.how}: together {three(whole)} {one.unit}"
    return Amount(one.item, whole, one.buy + other.buy, one.unit, how)
