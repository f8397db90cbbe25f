"""The shortest seams that hold: quick walks on guesses, each outcome measured before it is believed."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from shellgen.core.arrays import Bools
from shellgen.pattern.plans._anneal import anneal, single_or_swap
from shellgen.pattern.plans._graph import SeamGraph
from shellgen.pattern.plans._judge import Judge

FIRST_STEPS, AROUND, AROUND_STEPS, WIDTH = 2000, 8, 250, 12
"""A walk over the whole net, then walks over some dozen choices about a random one. Chosen by trial on 38 plates: the
same work in one long walk finds worse sets."""

HOT, COLD = 1.0, 0.02
TRIES = 2
"""Walks that are set out on for each that is wanted to end in a set that holds. Chosen: of three, two do."""
ATTEMPTS, PATIENCE = 5, 2
"""How often the shortest set is bettered, and how often in vain. Chosen by trial on 36 domes: that betters it by more
than a walk anew."""

CAUTION = (1.0, 1.02, 1.05, 1.1, 1.2)
"""A set that turns out overloaded when measured is mended this often, guesses being trusted less each time."""


Walk = Callable[[Bools, int], Bools]
"""A better set from a set, by a seed."""


def shortest(
    net: SeamGraph, judge: Judge, surest: Bools, walk: Walk, mend: Walk, *, walks: int, start: Bools | None = None
) -> Bools:
    """(choices,) bool: the shortest set found whose pieces hold on the fine mesh.

    surest : the set that holds if any does; what is returned if no other is found
    walk   : from `start`, or from `surest`; mend : from a set that is too long or does not hold
    """
    judge.measure(net.parts(surest))
    pool: list[Bools] = []
    for seed in range(TRIES * walks):
        if len(pool) < walks:
            pool += _mended(net, judge, walk(surest if start is None else start, seed), mend, seed)
    pool, holding, vain = pool or [merged(net, judge, surest)], surest, 0
    for seed in range(walks, walks + ATTEMPTS):
        best = min(pool, key=net.length)
        if net.length(best) < net.length(holding) and judge.confirm(net.parts(best)):
            holding = best
        pool = [chosen for chosen in pool if judge.measure(net.parts(chosen))]  # by what the fine mesh has taught
        pool += _mended(net, judge, mend(best, 1000 * seed), mend, seed)
        pool = pool or [merged(net, judge, holding)]
        vain = 0 if min(map(net.length, pool)) < net.length(holding) else vain + 1
        if vain == PATIENCE:
            return holding
    best = min(pool, key=net.length)
    return best if net.length(best) < net.length(holding) and judge.confirm(net.parts(best)) else holding


def _mended(net: SeamGraph, judge: Judge, chosen: Bools, mend: Walk, seed: int) -> list[Bools]:
    """A set near `chosen` that holds when measured on the coarse mesh; none if none is found."""
    for attempt, caution in enumerate(CAUTION):
        if judge.measure(net.parts(chosen)):
            break
        judge.be_cautious(caution)
        before, chosen = chosen, mend(chosen, 1000 * seed + attempt + 1)
        if (before == chosen).all():  # nothing better by the guesses
            break
    judge.be_cautious(1.0)
    return [chosen] if judge.measure(net.parts(chosen)) else []


def merged(net: SeamGraph, judge: Judge, holding: Bools) -> Bools:
    """(choices,) bool: a set that holds, of which the longest lines are let go one after the other while it does."""
    chosen = holding
    for choice in np.argsort(-net.lengths, kind="stable").tolist():
        trial = chosen.copy()
        trial[choice] = False
        if chosen[choice] and net.anchored(net.cut(trial)) and judge.measure(net.parts(trial)):
            chosen = trial
    return chosen


def roam(net: SeamGraph, judge: Judge) -> tuple[Walk, Walk]:
    """The walks for a net of plates: over the whole of it, then about one place after the other."""

    def mend(chosen: Bools, seed: int) -> Bools:
        centres = np.random.default_rng(seed).integers(len(net.choices), size=AROUND)
        for turn, centre in enumerate(centres.tolist()):
            move = single_or_swap(net, net.around(centre, WIDTH))
            again = seed + 7919 * turn
            chosen = anneal(net, chosen, judge.load, move, steps=AROUND_STEPS, seed=again, hot=HOT, cold=COLD)
        return chosen

    def walk(start: Bools, seed: int) -> Bools:
        move = single_or_swap(net, range(len(net.choices)))
        return mend(anneal(net, start, judge.load, move, steps=FIRST_STEPS, seed=seed, hot=HOT, cold=COLD), seed)

    return walk, mend
