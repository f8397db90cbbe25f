"""What is to be said of a virtual build."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
from numpy.typing import NDArray

from shellgen.geom.triangles import areas
from shellgen.model import Built, Cut, Finding, Pattern

CUT_SMALLER = "Cut it into smaller pieces: a lower stretch_limit under seams."
LESS_SPRING = (
    "The foam springs back so far: a thinner sheet or a higher dome lessens it. Smaller pieces (a lower stretch_limit "
    "under seams) help only where the stretch is large."
)
"""Of a low shell 900 mm long whose every plate was a piece the formed rest strayed as far as in one piece, 2.7 mm; of
foam of 5 mm in place of 8 it was 1.9 mm instead of 2.6, of a dome of 130 mm in place of 95 it was 2.1 mm (measured)."""

SLACK = 5e-4
"""How far a stretch may exceed its limit before it is a fault. Chosen: half of what is shown."""


def turned(cut: Cut, pattern: Pattern) -> Iterator[Finding]:
    for piece, flat in zip(cut.pieces, pattern.flats, strict=True):
        signed = areas(flat.flat, piece.faces)
        if signed.sum() < 0:
            text = "is drawn as seen from the inside: its marks run round it the wrong way. Mirror it."
        elif (signed <= 0).any():
            text = f"is folded over itself in {int((signed <= 0).sum())} triangles; flatten it again."
        else:
            continue
        yield Finding("fault", "proof", f"Piece {piece.name} {text}")


def unequal(cut: Cut, gap: NDArray, limit: float) -> Iterator[Finding]:
    for seam, miss in zip(cut.seams, gap.tolist(), strict=True):
        if abs(miss) > limit:
            longer, shorter = (cut.pieces[p].name for p, _ in (seam.sides if miss > 0 else seam.sides[::-1]))
            text = (
                f"Seam {seam.name}: the side on {longer} is {abs(miss):.1f} mm longer than its mate on {shorter} "
                f"(limit {limit:.1f} mm) and would stand open or buckle; make the two equal."
            )
            yield Finding("fault", "proof", text)


def overstrained(cut: Cut, need: NDArray, limits: tuple[float, float]) -> Iterator[Finding]:
    for piece in cut.pieces:
        sizes = need[piece.shell_faces]
        for most, limit, verb in (
            (float(sizes.max()) - 1, limits[0], "stretched"),
            (1 - float(sizes.min()), limits[1], "compressed"),
        ):
            if most > limit + SLACK:
                text = f"Piece {piece.name} would have to be {verb} by {most:.1%} somewhere (limit {limit:.1%}); "
                yield Finding("fault", "proof", text + "it is the wrong size, or must be cut into smaller ones.")


def rim(excess: NDArray, limits: tuple[float, float]) -> Iterator[Finding]:
    """excess : (2,) of the pieces over each half of the rim, as a share of it"""
    most = float(excess[np.abs(excess).argmax()])
    limit, word = (limits[1], "longer") if most > 0 else (limits[0], "shorter")
    text = f"Along half the rim the pieces are {abs(most):.1%} {word} than the rim itself (limit {limit:.1%})"
    tail = "; the rim would stay wavy." if abs(most) > limit else "; ease them in evenly when edging."
    yield Finding("fault" if abs(most) > limit else "ok", "proof", text + tail)


def restless(builds: Mapping[str, Built]) -> Iterator[Finding]:
    for name, made in builds.items():
        if not made.settled:
            text = f"The {name} shell found no place to rest: its pieces do not fit together."
            yield Finding("fault", "proof", text)


def springing(formed: NDArray, loose: NDArray) -> Iterator[Finding]:
    """How the rim's length (x) and width (y) change when the edging is taken off."""
    along, across = (np.ptp(loose, axis=0) - np.ptp(formed, axis=0))[:2].tolist()
    wide, tall = "wider" if across > 0 else "narrower", "longer" if along > 0 else "shorter"
    text = f"Without edging the formed shell springs {abs(across):.0f} mm {wide} and {abs(along):.0f} mm {tall}"
    yield Finding("ok", "proof", text + "; the edging must hold that.")


def astray(when: str, built: Built, limit: float, *, cure: str) -> Iterator[Finding]:
    text = f"The shell {when} lies {built.rms:.1f} mm (rms) from the dome, at most {built.most:.1f} mm"
    if built.rms > limit:
        yield Finding("fault", "proof", f"{text}; the limit is {limit:.1f} mm rms. {cure}")
    else:
        yield Finding("ok", "proof", f"{text} (limit {limit:.1f} mm rms).")
