"""Searches for the shortest set of cut lines that leaves no piece overloaded."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import exp

import numpy as np

from shellgen.core.arrays import Bools
from shellgen.pattern.plans._graph import PieceBits, SeamGraph

PieceLoad = Callable[[PieceBits], float]
"""How much of what is allowed a piece takes up: 1 is the most."""

Change = tuple[int, ...]
Proposal = Callable[[Bools, Sequence[float]], Change]
"""Choices to turn over together, from (choices,) bool and three random numbers in [0, 1)."""

OVERLOAD = 10.0
"""Price of an overload of 1 in mean lengths of a choice: high enough that a walk may pass through a slight overload
and low enough that it may at all. Chosen by trial on nets of 38 and 200 plates."""


class SeamSet:
    """A set of chosen lines that hang together with the rim, with its price, changed a little at a time."""

    def __init__(self, net: SeamGraph, chosen: Bools, load: PieceLoad) -> None:
        self.net, self.load = net, load
        self._lengths = net.lengths.tolist()
        self.chosen = chosen.copy()
        self.cut = net.cut(chosen)
        self.unit = OVERLOAD * float(net.lengths.mean())
        self.ends_here = [2 if on_rim else 0 for on_rim in net.on_rim]
        for line in net.lines(chosen):
            for node in net.ends[line]:
                self.ends_here[node] += 1
        self.bare = self.ends_here.count(0)  # nodes that no cut line comes to
        self._parts = net.part_of_cells(self.cut)
        self.pieces = sum(map(net.count, set(self._parts.values())))
        self.overload = sum(map(self.over, set(self._parts.values())))
        self.length = float(net.lengths[chosen].sum())
        self._turned: dict[Change, Turned | None] = {}  # what is known from here: a cold walk asks the same again

    def over(self, part: PieceBits) -> float:
        return self.unit * max(self.load(part) - 1.0, 0.0)

    def longer(self, change: Change) -> float:
        """What turning choices over would add to the length."""
        return float(sum(self._lengths[c] * (-1.0 if self.chosen[c] else 1.0) for c in change))

    def turn(self, change: Change) -> Turned | None:
        """What turning choices over would do; None if a piece would get a hole."""
        if change not in self._turned:
            sound = self._sound(change[0]) if len(change) == 1 else None
            self._turned[change] = None if sound is False else self._weighed(change, sound)
        return self._turned[change]

    def _weighed(self, change: Change, sound: bool | None) -> Turned | None:
        """The same for a change that is sound, if that is known.

        Then a cut line no longer hangs together with the rim. Rim and cut lines part the dome into lines - nodes +
        islands + 1 pieces if the rim counts as one node (Euler), and there must be one island only, that of the rim.
        """
        if sound and self._is_dart(change[0]):
            return self._darted(change)
        net = self.net
        self._flip(change)
        cells = {cell for c in change for line in net.choices[c] for cell in net.hands[line]}
        before, after, seen = {self._parts[cell] for cell in cells}, set(), 0
        for cell in cells:
            if not seen >> cell & 1:
                part = net.part_at(cell, self.cut)
                seen |= part.cell_bits | net.image(part.cell_bits)
                after.add(part)
        gone, come = before - after, after - before
        more = sum(map(net.count, come)) - sum(map(net.count, gone))
        lines, nodes = self.cut.bit_count(), net.inner_nodes - self.bare + 1
        self._flip(change)
        if sound is None and self.pieces + more != lines - nodes + 2:
            return None
        heavier = sum(map(self.over, come)) - sum(map(self.over, gone))
        return Turned(change, after, more, self.longer(change), heavier)

    def _sound(self, choice: int) -> bool | None:
        """Whether every cut line still hangs together with the rim if one choice is turned over; None if that takes
        a closer look. A line with the same piece on both hands is the only link between its ends."""
        line = self.net.choices[choice][0]
        loose = [self.ends_here[node] == 0 for node in self.net.ends[line]]
        if not self.cut >> line & 1:
            return not all(loose)
        if any(self.ends_here[node] == 1 for node in self.net.ends[line]):
            return True
        one, other = self.net.hands[line]
        part = self._parts[one]
        same_side = (part.cell_bits >> one & 1) == (part.cell_bits >> other & 1)
        return False if part == self._parts[other] and same_side else None

    def _is_dart(self, choice: int) -> bool:
        """Whether a sound line has an end that no other cut line comes to, its mirror image neither: its piece only
        gains or loses a dart."""
        lines = self.net.choices[choice]
        own = self.cut >> lines[0] & 1
        ends = self.net.ends[lines[0]]
        met = () if len(lines) == 1 else self.net.ends[lines[1]]
        return any(self.ends_here[node] == own and node not in met for node in ends)

    def _darted(self, change: Change) -> Turned:
        """What a line that is or becomes a dart does when it is turned over."""
        lines = self.net.choices[change[0]]
        part = self._parts[self.net.hands[lines[0]][0]]
        inside = (line for line in lines if part.cell_bits >> self.net.hands[line][0] & 1)
        darted = PieceBits(part.cell_bits, part.dart_bits ^ sum(1 << line for line in inside))
        return Turned(change, {darted}, 0, self.longer(change), self.over(darted) - self.over(part))

    def keep(self, turned: Turned) -> None:
        """Turns them over."""
        self._turned.clear()
        self._flip(turned.change)
        for part in turned.parts:
            self._parts.update(self.net.spread(part))
        self.pieces += turned.more
        self.chosen[list(turned.change)] ^= True
        self.length += turned.longer
        self.overload += turned.heavier

    def _flip(self, change: Change) -> None:
        for c in change:
            for line in self.net.choices[c]:
                self.cut ^= 1 << line
                more = 1 if self.cut >> line & 1 else -1
                for node in self.net.ends[line]:
                    before = self.ends_here[node]
                    self.ends_here[node] = before + more
                    self.bare += (before + more == 0) - (before == 0)


class Turned:
    """A change with the parts it makes, and what it adds to the number of pieces, to length and to overload."""

    __slots__ = ("change", "heavier", "longer", "more", "parts")

    def __init__(self, change: Change, parts: set[PieceBits], more: int, longer: float, heavier: float) -> None:
        self.change, self.parts, self.more, self.longer, self.heavier = change, parts, more, longer, heavier


def single_or_swap(net: SeamGraph, pool: Sequence[int]) -> Proposal:
    """One choice of the pool turned over, or a cut line let go for one beside it."""
    members = set(pool)
    near = {one: tuple(other for other in net.near[one] if other in members) for one in pool}

    def move(chosen: Bools, luck: Sequence[float]) -> Change:
        one = pool[int(luck[0] * len(pool))]
        beside = near[one]
        if luck[1] < 0.5 and beside:
            other = beside[int(2 * luck[1] * len(beside))]
            if chosen[other] != chosen[one]:
                return one, other
        return (one,)

    return move


def dear(more: float, warmth: float, chance: float) -> bool:
    """Whether a change that makes the price so much higher is turned down."""
    return more > 0 and chance >= exp(-more / warmth)


def anneal(
    net: SeamGraph,
    start: Bools,
    load: PieceLoad,
    move: Proposal,
    *,
    steps: int,
    seed: int,
    hot: float = 0.5,
    cold: float = 0.01,
) -> Bools:
    """(choices,) bool: the shortest set without overload met on a walk of `steps` random changes; `start` if none was.

    hot, cold : first and last temperature as shares of the mean length of a choice

    References: Kirkpatrick, Gelatt, Vecchi, Optimization by simulated annealing, Science 220 (1983).
    """
    state = SeamSet(net, start, load)
    best, shortest = state.chosen.copy(), state.length if state.overload <= 0 else np.inf
    heat = (float(net.lengths.mean()) * np.geomspace(hot, cold, steps)).tolist()
    luck = np.random.default_rng(seed).random((steps, 4)).tolist()
    for warmth, (*which, chance) in zip(heat, luck, strict=True):
        change = move(state.chosen, which)
        if dear(state.longer(change) - state.overload, warmth, chance):  # even if it took all overload away
            continue
        turned = state.turn(change)
        if turned is None or dear(turned.longer + turned.heavier, warmth, chance):
            continue
        state.keep(turned)
        if state.overload < 1e-9 and state.length < shortest - 1e-6:
            best, shortest = state.chosen.copy(), state.length
    return best
