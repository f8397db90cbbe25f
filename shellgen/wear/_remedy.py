"""What to change where a harness cannot hold its shell: found by hanging the shell again, not guessed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from shellgen.core import registry
from shellgen.errors import FitError
from shellgen.fields.params import Chosen

INSTEAD = ("straps", "vest")
"""Harnesses to take instead, the lighter one first; none of them goes round the neck."""
NOTHING = "no harness here holds it: make the shell shallower, lighter or shorter"


def remedy(chosen: Chosen, holds: Callable[[Chosen], bool]) -> str:
    """The first change, in words, with which the shell `holds`; the smallest changes are tried first."""
    for words, other in _ways(chosen):
        try:
            if holds(other):
                return words
        except FitError:  # patches that no shell has room for
            continue
    return NOTHING


def _ways(chosen: Chosen) -> Iterator[tuple[str, Chosen]]:
    padded = replace(chosen, common=replace(chosen.common, pads=True))
    pads = "let pads fill it down to the back (wear: pads: yes)"
    if not chosen.common.pads:
        yield pads, padded
    if getattr(chosen.own, "belt", None) is False:
        belt = replace(chosen.own, belt=True)
        yield "add a belt (wear: belt: yes)", replace(chosen, own=belt)
        yield f"add a belt (wear: belt: yes) and {pads}", replace(padded, own=belt)
    for name in INSTEAD:
        if name != chosen.name:
            own = registry.load("shellgen.wear.harnesses", name).Params()
            words = f"hang it on {'a vest' if name == 'vest' else 'straps with a belt'} (wear: harness: {name})"
            yield words, replace(chosen, name=name, own=own)
            if not chosen.common.pads:
                yield f"{words} and {pads}", replace(padded, name=name, own=own)
