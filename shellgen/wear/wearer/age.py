"""Whether the wearer is a child: the preset decides, and if it says nothing, the safest assumption."""

from __future__ import annotations

from collections.abc import Mapping

from shellgen.wear.wearer import survey

GROWN = 18.0
"""From this age on, a wearer is an adult (chosen: the common age of majority)."""

TALLEST = 1870.0
"""mm: up to this stature a body may be a child's. Boys of 17 at the 95th percentile (CDC growth charts 2000, Agemos
204.5: 1870.04 mm), the last year before GROWN."""

TALL = (0.5, 1.5)
"""A stature is accepted between these multiples of the median at an age (chosen: the tallest boy on record was
1.47 times as tall as the median at eight, from memory)."""


def group(said: str | None, years: float | None, stature: float) -> str:
    """ "adult" or "child": by the years, else by the word, else a child if a child could have the body."""
    if years is not None and years < GROWN:
        return "child"
    if said is None and years is None:
        return "child" if stature <= TALLEST else "adult"
    return said or "adult"


def of_shell(said: str | None, length: float, width: float, *, least: Mapping[str, float]) -> str:
    """The same for a shell of this size, mm, with an unknown wearer: it is a child's if it is too small for a grown
    body. least : length and width that fit the smallest grown body
    """
    return said or ("child" if length < least["length"] or width < least["width"] else "adult")


def statures(whose: str, years: float) -> tuple[float, float]:
    """Least and greatest stature accepted at an age, mm."""
    usual = survey.usual_stature(whose, years)
    return TALL[0] * usual, TALL[1] * usual
