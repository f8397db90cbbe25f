"""Which papers there are to print, in which order, and when each is needed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

ORDER = (
    ("model", "Card model and seam test", "first, to try the shape and one seam"),
    ("plan", "Work plan", "before you begin, to hang up and tick off"),
    ("templates", "Templates", "before you cut foam"),
    ("rings", "Ring strips", "with the templates"),
    ("patches", "Patches for the straps", "with the templates"),
    ("masks", "Masks for painting", "before you paint"),
    ("shading", "Shading guide", "before you shade"),
    ("wrap", "Strips for the built dome", "only if you mark the score lines on the built dome"),
)
"""By the name of a PDF: what it is called, and when it is needed."""
GUIDE = ("guide", "Build guide", "if you want it on paper")


@dataclass(frozen=True, slots=True)
class PaperEntry:
    """One PDF to print."""

    name: str
    file: str
    pages: int
    when: str


def in_order(pages: Mapping[str, int], paper: str, *, halves: bool, cores: bool) -> tuple[PaperEntry, ...]:
    """pages : of each PDF, by its name; halves : whether templates are printed once for both sides;
    cores : whether the cores of the spikes are among the ring strips"""
    other = {"templates": "Half templates"} if halves else {}
    other |= {"rings": "Ring strips and cores"} if cores else {}
    return tuple(
        PaperEntry(other.get(key, name), f"{key}-{paper}.pdf", pages[key], when)
        for key, name, when in (*ORDER, GUIDE)
        if key in pages
    )
