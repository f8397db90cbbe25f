"""The shortest seams that hold: quick walks on guesses, each outcome measured before it is believed."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from shellgen.plans._anneal import anneal, single_or_swap
from shellgen.plans._graph import Net
from shellgen.plans._judge import Judge

FIRST_STEPS, AROUND, AROUND_STEPS, WIDTH = 2000, 12, 250, 12
"""A walk over the whole net, then walks over some dozen choices about a random one. Chosen by trial on 38 plates: the
same work in one long walk finds worse sets."""

HOT, COLD = 1.0, 0.02
ATTEMPTS = 3
"""How often a set that turns out overloaded when measured is mended before it is given up."""


Walk = Callable[[NDArray, int], NDArray]
"""A better set from a set, by a seed."""


def shortest(net: Net, judge: Judge, start: NDArray, walk: Walk, mend: Walk, *, walks: int) -> NDArray:
    """(choices,) bool: the shortest set found whose pieces hold on the fine mesh; all of them if none does.

    walk : from `start`; mend : from a set that is too long or does not hold
    """
    best = everything = np.ones(len(net.choices), dtype=bool)
    judge.measure(net.parts(everything))
    for seed in range(walks):
        found = _mended(net, judge, walk(start, seed), mend, seed)
        best = min(best, found, key=net.length)
    for attempt in range(ATTEMPTS):
        holds = judge.confirm(net.parts(best))
        if holds and attempt:
            return best
        trial = _mended(net, judge, best, mend, walks + attempt, once=True)  # with what the fine mesh has taught
        if holds and net.length(trial) >= net.length(best):
            return best
        best = trial
    return best if judge.confirm(net.parts(best)) else everything


def _mended(net: Net, judge: Judge, chosen: NDArray, mend: Walk, seed: int, *, once: bool = False) -> NDArray:
    """A set near `chosen` that holds when measured on the coarse mesh; the whole net if none is found."""
    for attempt in range(ATTEMPTS):
        if judge.measure(net.parts(chosen)) and not (once and attempt == 0):
            return chosen
        chosen = mend(chosen, 1000 * seed + attempt + 1)
    return chosen if judge.measure(net.parts(chosen)) else np.ones(len(net.choices), dtype=bool)


def roam(net: Net, judge: Judge) -> tuple[Walk, Walk]:
    """The walks for a net of plates: over the whole of it, then about one place after the other."""

    def mend(chosen: NDArray, seed: int) -> NDArray:
        centres = np.random.default_rng(seed).integers(len(net.choices), size=AROUND)
        for turn, centre in enumerate(centres.tolist()):
            move = single_or_swap(net, net.around(centre, WIDTH))
            again = seed + 7919 * turn
            chosen = anneal(net, chosen, judge.load, move, steps=AROUND_STEPS, seed=again, hot=HOT, cold=COLD)
        return chosen

    def walk(start: NDArray, seed: int) -> NDArray:
        move = single_or_swap(net, range(len(net.choices)))
        return mend(anneal(net, start, judge.load, move, steps=FIRST_STEPS, seed=seed, hot=HOT, cold=COLD), seed)

    return walk, mend
