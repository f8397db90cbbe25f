"""What to change if a harness cannot hold its shell: found by computing each change, not guessed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from shellgen.core import registry
from shellgen.fields.params import Chosen

INSTEAD = ("straps", "vest")
"""Harnesses to use instead, the lighter one first; none of them goes around the neck."""
NOTHING = "no harness of shellgen can hold it: make the shell flatter, lighter or shorter"


def remedy(chosen: Chosen, holds: Callable[[Chosen], bool]) -> str:
    """The first change, in words, with which the shell `holds`; small changes are tried first."""
    for words, other in _ways(chosen):
        if holds(other):
            return words
    return NOTHING


def _ways(chosen: Chosen) -> Iterator[tuple[str, Chosen]]:
    padded = replace(chosen, common=replace(chosen.common, pads=True))
    pads = "let pads fill the gap to the back (wear: pads: yes)"
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
