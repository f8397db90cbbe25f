"""The findings of a virtual build."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.geom.triangles import areas
from shellgen.model import Built, Cut, Finding, Pattern
from shellgen.model.said import apart, count, several, shares_apart
from shellgen.pattern.limits import SLACK

DEVIATION = "deviation"
"""The stage of what is found about the distance from the dome."""


def inverted(cut: Cut, pattern: Pattern) -> Iterator[Finding]:
    inside, folded = [], []
    for piece, flat in zip(cut.pieces, pattern.flats, strict=True):
        signed = areas(flat.flat, piece.faces)
        if signed.sum() < 0:
            inside.append(piece.name)
        elif (signed <= 0).any():
            folded.append(piece.name)
    if inside:
        text = "drawn as seen from the inside, with marks in the wrong direction. Mirror the drawing."
        yield Finding("fault", "proof", f"{several(inside, 'Piece')}: {text}")
    if folded:
        text = "folded over itself when laid flat."
        yield Finding("fault", "proof", f"{several(folded, 'Piece')}: {text}")


def unequal(cut: Cut, gap: Floats, limit: float) -> Iterator[Finding]:
    over = [k for k, difference in enumerate(gap.tolist()) if abs(difference) > limit]
    if not over:
        return
    k = max(over, key=lambda k: abs(gap[k]))
    seam, (difference, allowed) = cut.seams[k], apart(abs(float(gap[k])), limit, digits=1)
    longer, shorter = (cut.pieces[p].name for p, _ in (seam.sides if gap[k] > 0 else seam.sides[::-1]))
    others = f", exceeded on {count(len(over) - 1, 'other seam')} too" if len(over) > 1 else ""
    text = (
        f"Seam {seam.name}: the side on {longer} is {difference} mm longer than the side on {shorter}; the limit is "
        f"{allowed} mm{others}. The seam would gap or buckle; make both sides equal."
    )
    yield Finding("fault", "mates", text)


def overstrained(cut: Cut, need: Floats, limits: tuple[float, float]) -> Iterator[Finding]:
    over: dict[str, tuple[float, float, str]] = {}
    for piece in cut.pieces:
        sizes = need[piece.shell_faces]
        strains = (
            (float(sizes.max()) - 1, limits[0], "stretched"),
            (1 - float(sizes.min()), limits[1], "compressed"),
        )
        most = max(strains, key=lambda strain: strain[0] - strain[1])
        if most[0] > most[1] + SLACK:
            over[piece.name] = most
    if over:
        worst, (most_of_all, limit, verb) = max(over.items(), key=lambda item: item[1][0] - item[1][1])
        by, allowed = shares_apart(most_of_all, limit)
        others = f", exceeded by {count(len(over) - 1, 'other piece')} too" if len(over) > 1 else ""
        text = f"Piece {worst} would have to be {verb} by {by} somewhere; the limit is {allowed}{others}."
        yield Finding("fault", "stretch", text)


def rim(excess: Floats, limits: tuple[float, float]) -> Iterator[Finding]:
    """excess : (2,) of the pieces over each half of the rim, as a share of it"""
    most = float(excess[np.abs(excess).argmax()])
    limit, word = (limits[1], "longer") if most > 0 else (limits[0], "shorter")
    by, allowed = shares_apart(abs(most), limit)
    text = f"Along half the rim the pieces are {by} {word} than the rim itself (limit {allowed})"
    tail = "; the rim would stay wavy." if abs(most) > limit else "; distribute this evenly when you glue the edging."
    yield Finding("fault" if abs(most) > limit else "ok", "proof", text + tail)


def unsettled(builds: Mapping[str, Built]) -> Iterator[Finding]:
    moving = [name for name, made in builds.items() if not made.settled]
    if moving:
        text = f"The shell does not come to rest in the virtual build ({', '.join(moving)}): its pieces do not fit"
        yield Finding("fault", "proof", f"{text} together.")


def springback(formed: Floats, loose: Floats) -> Iterator[Finding]:
    """How the rim's length (x) and width (y) change when the edging is taken off."""
    along, across = (np.ptp(loose, axis=0) - np.ptp(formed, axis=0))[:2].tolist()
    wide, tall = "wider" if across > 0 else "narrower", "longer" if along > 0 else "shorter"
    text = f"Without its edging the formed shell becomes {abs(across):.0f} mm {wide} and {abs(along):.0f} mm {tall}"
    yield Finding("ok", "proof", text + "; the edging must prevent that.")


def deviation(when: str, built: Built, limit: float) -> Iterator[Finding]:
    rms, allowed = apart(built.rms, limit, digits=1)
    text = f"The shell {when} deviates from the dome by {rms} mm (rms), at most {built.most:.1f} mm"
    if built.rms > limit:
        yield Finding("fault", DEVIATION, f"{text}; the limit is {allowed} mm rms.")
    else:
        yield Finding("ok", DEVIATION, f"{text} (limit {allowed} mm rms).")
