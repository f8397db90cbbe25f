"""The results of checking the pieces as plain sentences: what was found, what the limit is and what to change."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import shapely

from shellgen.core.arrays import Floats
from shellgen.errors import FaultError
from shellgen.model import Cut, Finding, Pattern
from shellgen.model.said import apart, count, several, shares_apart
from shellgen.pattern.limits import ROUNDING, SLACK

MATE_LIMIT = 0.05
"""Mates may differ between two marks by this much, mm: a tenth of the line that is cut along (ISO 128 wide line)."""

LEAST_LOBE = 0.02
"""A neck matters if each part that it joins has at least this share of the piece's area (chosen)."""


def build(
    cut: Cut,
    pattern: Pattern,
    intervals: Sequence[Floats],
    *,
    stretch_limit: float,
    sheet: tuple[float, float],
    least_neck: float,
) -> tuple[Finding, ...]:
    """Findings on stretch, mates, size and necks; a single "ok" if there are none.

    intervals : per seam, (2, gaps) mm, flat lengths of both mates between every two marks
    sheet     : sides of the foam sheet or the cutter's bed, mm
    """
    found = [
        *stretched(cut, pattern, stretch_limit),
        *_unequal(cut, intervals),
        *too_large(cut, pattern, sheet),
        *_necks(cut, pattern, least_neck),
    ]
    text = f"{count(len(cut.pieces), 'piece')} and {count(len(cut.seams), 'seam')} are within their limits"
    return tuple(found) or (Finding("ok", "checks", text),)


def refuse(findings: Iterable[Finding], *, any_fault: bool = False) -> None:
    """FaultError if someone could be hurt; with `any_fault`, for any other fault too."""
    faults = [finding for finding in findings if finding.level == "fault" and (any_fault or finding.safety)]
    if faults:
        why = "someone could be hurt" if any(fault.safety for fault in faults) else "the checks found faults"
        raise FaultError(f"No pack is written, because {why}.", tuple(fault.text for fault in faults))


def corrected(rms: Sequence[float], kept: int) -> Iterator[Finding]:
    """The result of correcting the pieces by the virtual build. rms : distance, mm, of the glued shell in each round"""
    if len(rms) > 1:
        if kept:
            change = f"from {rms[0]:.1f} to {rms[kept]:.1f} mm (rms)"
            text = f"Correcting the pieces reduced the glued shell's distance from the dome {change}."
        else:
            text = (
                f"No correction within the limits brings the glued shell closer to the dome than {rms[0]:.1f} mm (rms)."
            )
        yield Finding("ok", "correction", text)


def largest_stretch(pattern: Pattern) -> tuple[float, ...]:
    """The most that each piece is stretched or compressed anywhere, as a share."""
    return tuple(float(max(flat.stretch[:, 1].max() - 1, 1 - flat.stretch[:, 0].min())) for flat in pattern.flats)


def stretched(cut: Cut, pattern: Pattern, limit: float) -> Iterator[Finding]:
    """Stretch over its limit: one finding for all pieces."""
    most = dict(zip((piece.name for piece in cut.pieces), largest_stretch(pattern), strict=True))
    over = {name: by for name, by in most.items() if by > ROUNDING * limit}
    if over:
        worst = max(over, key=over.__getitem__)
        by, allowed = shares_apart(over[worst], limit)
        text = f"Piece {worst} must be stretched or compressed by up to {by} in forming; the limit is {allowed}."
        if more := len(over) - 1:
            text += f" {count(more, 'other piece')} exceed{'s' if more == 1 else ''} it too."
        yield Finding("fault" if over[worst] > limit + SLACK else "caution", "stretch", text)


def _unequal(cut: Cut, intervals: Sequence[Floats]) -> Iterator[Finding]:
    off = {seam.name: float(np.abs(gaps[0] - gaps[1]).max()) for seam, gaps in zip(cut.seams, intervals, strict=True)}
    over = {name: by for name, by in off.items() if by > MATE_LIMIT}
    if over:
        worst, allowed = apart(max(over.values()), MATE_LIMIT, digits=2)
        yield Finding(
            "fault",
            "mates",
            f"the two sides of {several(over, 'seam')} differ by up to {worst} mm between two marks; the limit is "
            f"{allowed} mm",
        )


def too_large(cut: Cut, pattern: Pattern, sheet: tuple[float, float]) -> Iterator[Finding]:
    """Pieces larger than the sheet or bed: one finding for all."""
    room = sorted(sheet)
    sizes = {
        piece.name: _least_box(flat.flat[piece.outline])
        for piece, flat in zip(cut.pieces, pattern.flats, strict=True)
        if not _fits(flat.flat[piece.outline], room)
    }
    if sizes:
        width, length = np.max(list(sizes.values()), axis=0)
        yield Finding(
            "fault",
            "size",
            f"{several(sizes)} do{'es' if len(sizes) == 1 else ''} not fit on a sheet or bed with room for "
            f"{room[1]:.0f} x {room[0]:.0f} mm at any angle; room for {np.ceil(length):.0f} x {np.ceil(width):.0f} mm "
            "is enough",
        )


def _least_box(points: Floats) -> tuple[float, float]:
    """Sides of the narrowest rectangle about the points, the shorter first."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shapely.multipoints(points)))
    first, second = np.hypot(*(corners[1:3] - corners[:2]).T).tolist()
    return min(first, second), max(first, second)


def _fits(points: Floats, room: Sequence[float]) -> bool:
    turns = np.radians(np.arange(0.0, 180.0, 1.0))
    hull = shapely.get_coordinates(shapely.convex_hull(shapely.multipoints(points)))
    across = np.ptp(hull @ np.stack([np.cos(turns), np.sin(turns)]), axis=0)
    up = np.roll(across, -90)
    return bool(((np.minimum(across, up) <= room[0]) & (np.maximum(across, up) <= room[1])).any())


def _necks(cut: Cut, pattern: Pattern, least: float) -> Iterator[Finding]:
    narrow = []
    for piece, flat in zip(cut.pieces, pattern.flats, strict=True):
        shape = shapely.make_valid(shapely.polygons(flat.flat[piece.outline]))
        lobes = shapely.get_parts(shape.buffer(-least / 2))
        large = [lobe for lobe in lobes if lobe.buffer(least / 2).area > LEAST_LOBE * shape.area]
        if len(large) > 1:
            narrow.append(piece.name)
    if narrow:
        has, it = ("has", "it") if len(narrow) == 1 else ("have", "them")
        text = f"{several(narrow)} {has} a neck narrower than {least:.0f} mm: handle {it} carefully until glued, or cut"
        yield Finding("caution", "necks", f"{text} {it} there")
