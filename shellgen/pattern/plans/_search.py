"""The shortest seams within the limits: quick walks on estimates, each result measured before it is used."""

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
"""Walks started for each one that should end in a set within the limits. Chosen: two of three do."""
ATTEMPTS, PATIENCE = 5, 2
"""How often the shortest set is improved, and how often without success. Chosen by trial on 36 domes: this shortens it
more than a new walk."""

CAUTION = (1.0, 1.02, 1.05, 1.1, 1.2)
"""A set that is overloaded when measured is repaired this often, with estimates multiplied by these factors."""


Walk = Callable[[Bools, int], Bools]
"""A better set from a set, by a seed."""


def shortest(
    net: SeamGraph, judge: Judge, safest: Bools, walk: Walk, repair: Walk, *, walks: int, start: Bools | None = None
) -> Bools:
    """(choices,) bool: the shortest set found whose pieces are within the limits on the fine mesh.

    safest : the set most likely to be within the limits; the result if no other is found
    walk   : from `start`, or from `safest`; repair : from a set that is too long or exceeds the limits
    """
    judge.measure(net.parts(safest))
    pool: list[Bools] = []
    for seed in range(TRIES * walks):
        if len(pool) < walks:
            pool += _repaired(net, judge, walk(safest if start is None else start, seed), repair, seed)
    pool, valid, failures = pool or [merged(net, judge, safest)], safest, 0
    for seed in range(walks, walks + ATTEMPTS):
        best = min(pool, key=net.length)
        if net.length(best) < net.length(valid) and judge.confirm(net.parts(best)):
            valid = best
        pool = [chosen for chosen in pool if judge.measure(net.parts(chosen))]  # as corrected by the fine mesh
        pool += _repaired(net, judge, repair(best, 1000 * seed), repair, seed)
        pool = pool or [merged(net, judge, valid)]
        failures = 0 if min(map(net.length, pool)) < net.length(valid) else failures + 1
        if failures == PATIENCE:
            return valid
    best = min(pool, key=net.length)
    return best if net.length(best) < net.length(valid) and judge.confirm(net.parts(best)) else valid


def _repaired(net: SeamGraph, judge: Judge, chosen: Bools, repair: Walk, seed: int) -> list[Bools]:
    """A set near `chosen` that is within the limits on the coarse mesh; empty if none is found."""
    for attempt, caution in enumerate(CAUTION):
        if judge.measure(net.parts(chosen)):
            break
        judge.be_cautious(caution)
        before, chosen = chosen, repair(chosen, 1000 * seed + attempt + 1)
        if (before == chosen).all():  # no improvement by the estimates
            break
    judge.be_cautious(1.0)
    return [chosen] if judge.measure(net.parts(chosen)) else []


def merged(net: SeamGraph, judge: Judge, valid: Bools) -> Bools:
    """(choices,) bool: a set within the limits, without those of the longest lines that it does not need."""
    chosen = valid
    for choice in np.argsort(-net.lengths, kind="stable").tolist():
        trial = chosen.copy()
        trial[choice] = False
        if chosen[choice] and net.anchored(net.cut(trial)) and judge.measure(net.parts(trial)):
            chosen = trial
    return chosen


def plate_walks(net: SeamGraph, judge: Judge) -> tuple[Walk, Walk]:
    """The walks for a net of plates: over the whole net, then around one place after the other."""

    def repair(chosen: Bools, seed: int) -> Bools:
        centres = np.random.default_rng(seed).integers(len(net.choices), size=AROUND)
        for turn, centre in enumerate(centres.tolist()):
            move = single_or_swap(net, net.around(centre, WIDTH))
            again = seed + 7919 * turn
            chosen = anneal(net, chosen, judge.load, move, steps=AROUND_STEPS, seed=again, hot=HOT, cold=COLD)
        return chosen

    def walk(start: Bools, seed: int) -> Bools:
        move = single_or_swap(net, range(len(net.choices)))
        return repair(anneal(net, start, judge.load, move, steps=FIRST_STEPS, seed=seed, hot=HOT, cold=COLD), seed)

    return walk, repair
