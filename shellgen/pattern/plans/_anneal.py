"""Searches for the shortest set of cut lines with which no piece is overloaded."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import exp

import numpy as np

from shellgen.core.arrays import Bools
from shellgen.pattern.plans._graph import PieceBits, SeamGraph

PieceLoad = Callable[[PieceBits], float]
"""The load of a piece, as a share of what is allowed: at most 1."""

Change = tuple[int, ...]
Proposal = Callable[[Bools, Sequence[float]], Change]
"""Choices to toggle together, from (choices,) bool and three random numbers in [0, 1)."""

OVERLOAD = 10.0
"""Cost of an overload of 1 in mean lengths of a choice: low enough that a walk can pass through a slight overload, and
high enough that it does not stay there. Chosen by trial on nets of 38 and 200 plates."""


class SeamSet:
    """A set of chosen lines that are connected to the rim, with its cost, changed in small steps."""

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
        self.bare = self.ends_here.count(0)  # nodes without a cut line
        self._parts = net.part_of_cells(self.cut)
        self.pieces = sum(map(net.count, set(self._parts.values())))
        self.overload = sum(map(self.over, set(self._parts.values())))
        self.length = float(net.lengths[chosen].sum())
        self._known: dict[Change, Toggled | None] = {}  # a cold walk tries the same again

    def over(self, part: PieceBits) -> float:
        return self.unit * max(self.load(part) - 1.0, 0.0)

    def length_change(self, change: Change) -> float:
        """The change of length if choices are toggled."""
        return float(sum(self._lengths[c] * (-1.0 if self.chosen[c] else 1.0) for c in change))

    def toggle(self, change: Change) -> Toggled | None:
        """The result of toggling choices; None if a piece would get a hole."""
        if change not in self._known:
            connected = self._stays_connected(change[0]) if len(change) == 1 else None
            self._known[change] = None if connected is False else self._evaluated(change, connected)
        return self._known[change]

    def _evaluated(self, change: Change, connected: bool | None) -> Toggled | None:
        """The same for a change, and whether it keeps every cut line connected, if that is known.

        A piece has a hole if a cut line is not connected to the rim. Rim and cut lines divide the dome into lines -
        nodes + components + 1 pieces if the rim counts as one node (Euler), and there must be one component, that of
        the rim.
        """
        if connected and self._is_dart(change[0]):
            return self._toggled_dart(change)
        net = self.net
        self._flip(change)
        cells = {cell for c in change for line in net.choices[c] for cell in net.hands[line]}
        before, after, seen = {self._parts[cell] for cell in cells}, set(), 0
        for cell in cells:
            if not seen >> cell & 1:
                part = net.part_at(cell, self.cut)
                seen |= part.cell_bits | net.image(part.cell_bits)
                after.add(part)
        removed, added = before - after, after - before
        more = sum(map(net.count, added)) - sum(map(net.count, removed))
        lines, nodes = self.cut.bit_count(), net.inner_nodes - self.bare + 1
        self._flip(change)
        if connected is None and self.pieces + more != lines - nodes + 2:
            return None
        overload_change = sum(map(self.over, added)) - sum(map(self.over, removed))
        return Toggled(change, after, more, self.length_change(change), overload_change)

    def _stays_connected(self, choice: int) -> bool | None:
        """Whether every cut line is still connected to the rim if one choice is toggled; None if that must be computed.
        A line with the same piece on both sides is the only connection between its ends."""
        line = self.net.choices[choice][0]
        without_cut = [self.ends_here[node] == 0 for node in self.net.ends[line]]
        if not self.cut >> line & 1:
            return not all(without_cut)
        if any(self.ends_here[node] == 1 for node in self.net.ends[line]):
            return True
        one, other = self.net.hands[line]
        part = self._parts[one]
        same_side = (part.cell_bits >> one & 1) == (part.cell_bits >> other & 1)
        return False if part == self._parts[other] and same_side else None

    def _is_dart(self, choice: int) -> bool:
        """Whether a line has an end at which no other cut line ends, nor its mirror image: toggling it only adds or
        removes a dart of its piece."""
        lines = self.net.choices[choice]
        own = self.cut >> lines[0] & 1
        ends = self.net.ends[lines[0]]
        met = () if len(lines) == 1 else self.net.ends[lines[1]]
        return any(self.ends_here[node] == own and node not in met for node in ends)

    def _toggled_dart(self, change: Change) -> Toggled:
        """The result of toggling a line that is or becomes a dart."""
        lines = self.net.choices[change[0]]
        part = self._parts[self.net.hands[lines[0]][0]]
        inside = (line for line in lines if part.cell_bits >> self.net.hands[line][0] & 1)
        darted = PieceBits(part.cell_bits, part.dart_bits ^ sum(1 << line for line in inside))
        return Toggled(change, {darted}, 0, self.length_change(change), self.over(darted) - self.over(part))

    def apply(self, toggled: Toggled) -> None:
        """Toggles them."""
        self._known.clear()
        self._flip(toggled.change)
        for part in toggled.parts:
            self._parts.update(self.net.spread(part))
        self.pieces += toggled.more
        self.chosen[list(toggled.change)] ^= True
        self.length += toggled.length_change
        self.overload += toggled.overload_change

    def _flip(self, change: Change) -> None:
        for c in change:
            for line in self.net.choices[c]:
                self.cut ^= 1 << line
                more = 1 if self.cut >> line & 1 else -1
                for node in self.net.ends[line]:
                    before = self.ends_here[node]
                    self.ends_here[node] = before + more
                    self.bare += (before + more == 0) - (before == 0)


class Toggled:
    """A change with the parts that result, and what it adds to the number of pieces, the length and the overload."""

    __slots__ = ("change", "length_change", "more", "overload_change", "parts")

    def __init__(
        self, change: Change, parts: set[PieceBits], more: int, length_change: float, overload_change: float
    ) -> None:
        self.change, self.parts, self.more = change, parts, more
        self.length_change, self.overload_change = length_change, overload_change


def single_or_swap(net: SeamGraph, pool: Sequence[int]) -> Proposal:
    """Toggles one choice of the pool, or moves a cut line to a neighbouring line."""
    members = set(pool)
    near = {one: tuple(other for other in net.near[one] if other in members) for one in pool}

    def move(chosen: Bools, draws: Sequence[float]) -> Change:
        one = pool[int(draws[0] * len(pool))]
        neighbours = near[one]
        if draws[1] < 0.5 and neighbours:
            other = neighbours[int(2 * draws[1] * len(neighbours))]
            if chosen[other] != chosen[one]:
                return one, other
        return (one,)

    return move


def rejected(more: float, temperature: float, chance: float) -> bool:
    """Whether a change that raises the cost by `more` is rejected."""
    return more > 0 and chance >= exp(-more / temperature)


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
    """(choices,) bool: the shortest set without overload found on a walk of `steps` random changes, or `start`.

    hot, cold : first and last temperature as shares of the mean length of a choice

    References: Kirkpatrick, Gelatt, Vecchi, Optimization by simulated annealing, Science 220 (1983).
    """
    state = SeamSet(net, start, load)
    best, shortest = state.chosen.copy(), state.length if state.overload <= 0 else np.inf
    temperatures = (float(net.lengths.mean()) * np.geomspace(hot, cold, steps)).tolist()
    draws = np.random.default_rng(seed).random((steps, 4)).tolist()
    for temperature, (*which, chance) in zip(temperatures, draws, strict=True):
        change = move(state.chosen, which)
        # rejected even if it removed all overload
        if rejected(state.length_change(change) - state.overload, temperature, chance):
            continue
        toggled = state.toggle(change)
        if toggled is None or rejected(toggled.length_change + toggled.overload_change, temperature, chance):
            continue
        state.apply(toggled)
        if state.overload < 1e-9 and state.length < shortest - 1e-6:
            best, shortest = state.chosen.copy(), state.length
    return best
