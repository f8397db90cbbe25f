"""What is to be said of a virtual build."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from shellgen.core.arrays import Floats
from shellgen.geom.triangles import areas
from shellgen.model import Built, Cut, Finding, Pattern
from shellgen.model.said import apart, count, several, shares_apart
from shellgen.pattern.limits import SLACK


def turned(cut: Cut, pattern: Pattern) -> Iterator[Finding]:
    inside, folded = [], []
    for piece, flat in zip(cut.pieces, pattern.flats, strict=True):
        signed = areas(flat.flat, piece.faces)
        if signed.sum() < 0:
            inside.append(piece.name)
        elif (signed <= 0).any():
            folded.append(piece.name)
    if inside:
        text = "drawn as seen from the inside, with marks that run round the wrong way. Mirror what is drawn."
        yield Finding("fault", "proof", f"{several(inside, 'Piece')}: {text}")
    if folded:
        text = "folded over itself when laid flat."
        yield Finding("fault", "proof", f"{several(folded, 'Piece')}: {text}")


def unequal(cut: Cut, gap: Floats, limit: float) -> Iterator[Finding]:
    over = [k for k, miss in enumerate(gap.tolist()) if abs(miss) > limit]
    if not over:
        return
    k = max(over, key=lambda k: abs(gap[k]))
    seam, (miss, allowed) = cut.seams[k], apart(abs(float(gap[k])), limit, digits=1)
    longer, shorter = (cut.pieces[p].name for p, _ in (seam.sides if gap[k] > 0 else seam.sides[::-1]))
    others = f" (as on {count(len(over) - 1, 'other seam')})" if len(over) > 1 else ""
    text = (
        f"Seam {seam.name}: the side on {longer} is {miss} mm longer than the side on {shorter}, where {allowed} mm "
        f"are allowed{others}, and would stand open or buckle; make the two equal."
    )
    yield Finding("fault", "mates", text)


def overstrained(cut: Cut, need: Floats, limits: tuple[float, float]) -> Iterator[Finding]:
    over: dict[str, tuple[float, float, str]] = {}
    for piece in cut.pieces:
        sizes = need[piece.shell_faces]
        ways = (
            (float(sizes.max()) - 1, limits[0], "stretched"),
            (1 - float(sizes.min()), limits[1], "compressed"),
        )
        most = max(ways, key=lambda way: way[0] - way[1])
        if most[0] > most[1] + SLACK:
            over[piece.name] = most
    if over:
        worst, (most_of_all, limit, verb) = max(over.items(), key=lambda item: item[1][0] - item[1][1])
        by, allowed = shares_apart(most_of_all, limit)
        others = f" (as would {count(len(over) - 1, 'other piece')})" if len(over) > 1 else ""
        text = f"Piece {worst} would have to be {verb} by {by} somewhere, where {allowed} are allowed{others}."
        yield Finding("fault", "stretch", text)


def rim(excess: Floats, limits: tuple[float, float]) -> Iterator[Finding]:
    """excess : (2,) of the pieces over each half of the rim, as a share of it"""
    most = float(excess[np.abs(excess).argmax()])
    limit, word = (limits[1], "longer") if most > 0 else (limits[0], "shorter")
    by, allowed = shares_apart(abs(most), limit)
    text = f"Along half the rim the pieces are {by} {word} than the rim itself (limit {allowed})"
    tail = "; the rim would stay wavy." if abs(most) > limit else "; ease them in evenly when edging."
    yield Finding("fault" if abs(most) > limit else "ok", "proof", text + tail)


def restless(builds: Mapping[str, Built]) -> Iterator[Finding]:
    moving = [name for name, made in builds.items() if not made.settled]
    if moving:
        text = f"The shell found no place to rest in the virtual build ({', '.join(moving)}): its pieces do not fit"
        yield Finding("fault", "proof", f"{text} together.")


def springing(formed: Floats, loose: Floats) -> Iterator[Finding]:
    """How the rim's length (x) and width (y) change when the edging is taken off."""
    along, across = (np.ptp(loose, axis=0) - np.ptp(formed, axis=0))[:2].tolist()
    wide, tall = "wider" if across > 0 else "narrower", "longer" if along > 0 else "shorter"
    text = f"Without edging the formed shell springs {abs(across):.0f} mm {wide} and {abs(along):.0f} mm {tall}"
    yield Finding("ok", "proof", text + "; the edging must hold that.")


def astray(when: str, built: Built, limit: float) -> Iterator[Finding]:
    rms, allowed = apart(built.rms, limit, digits=1)
    text = f"The shell {when} lies {rms} mm (rms) from the dome, at most {built.most:.1f} mm"
    if built.rms > limit:
        yield Finding("fault", "proof", f"{text}; the limit is {allowed} mm rms.")
    else:
        yield Finding("ok", "proof", f"{text} (limit {allowed} mm rms).")
