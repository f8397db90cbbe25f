"""Cutting pieces from stock of one length with the fewest lengths bought: the one-dimensional cutting stock problem."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from shellgen.core.arrays import Floats, Ints
from shellgen.errors import FitError

STEP = 0.1
"""mm: lengths are rounded up to this. Finer than anybody cuts, so that the rounding never costs a length."""
ROUNDS, DIVE_ROUNDS = 400, 20
NODES = 2000
"""Branches that the search for whole numbers may open; counted, not timed, so that equal input gives equal output."""


@dataclass(frozen=True, slots=True)
class Length:
    """One length of stock and what is cut from it, longest first. `left` is what remains."""

    pieces: tuple[str, ...]
    left: float


@dataclass(frozen=True, slots=True)
class CutList:
    """stock   : mm of each length bought
    bound   : fewest lengths that any cutting could do with; the list is proven best where it has no more
    waste   : share of the stock bought that ends in no piece, saw cuts included
    """

    stock: float
    lengths: tuple[Length, ...]
    bound: int
    waste: float


def cut_list(pieces: dict[str, float], *, stock: float, kerf: float = 0.0, lost: float = 0.0) -> CutList:
    """How to cut the named pieces (mm) from lengths of `stock`.

    kerf : lost at each cut; lost : lost once per length, such as the slant of a scarf
    FitError for a piece longer than the stock.

    References: Gilmore and Gomory, "A linear programming approach to the cutting-stock problem", Operations Research
    9, 1961: patterns are added while one would pay; whole numbers of the patterns found are then chosen by HiGHS.
    """
    if not pieces:
        return CutList(stock, (), 0, 0.0)
    room = int((stock - lost + kerf) / STEP + 1e-9)
    need = {name: int(np.ceil((size + kerf) / STEP - 1e-6)) for name, size in pieces.items()}
    longest = max(need, key=lambda name: need[name])
    if need[longest] > room:
        raise FitError(f"{longest} is {pieces[longest]:.0f} mm long and does not come out of {stock:.0f} mm stock")
    sizes, wanted = (np.array(v) for v in zip(*sorted(Counter(need.values()).items(), reverse=True), strict=True))
    cuts = _longest_first(sizes, wanted, room)
    bound = int(-(-(sizes @ wanted) // room))
    if cuts.shape[1] > bound:
        patterns, shares = _patterns(sizes, wanted, room, np.unique(cuts, axis=1))
        bound = int(np.ceil(shares.sum() - 1e-6))
        dived, patterns = _dive(sizes, wanted, room, patterns, shares)
        cuts = min(cuts, dived, key=lambda found: found.shape[1])
        if cuts.shape[1] > bound:
            cuts = min(cuts, _whole(patterns, wanted), key=lambda found: found.shape[1])
    lengths = _named(cuts, sizes, pieces, need, stock - lost, kerf)
    bought = stock * len(lengths)
    return CutList(stock, lengths, bound, 1 - sum(pieces.values()) / bought if bought else 0.0)


def _longest_first(sizes: Ints, wanted: Ints, room: int) -> Ints:
    """(sizes, k) one pattern per length: each filled with the longest pieces that still go in."""
    left, cuts = wanted.copy(), []
    while left.any():
        free, cut = room, np.zeros_like(left)
        for i, size in enumerate(sizes):
            cut[i] = min(left[i], free // size)
            free -= cut[i] * size
        left -= cut
        cuts.append(cut)
    return np.column_stack(cuts)


def _patterns(sizes: Ints, wanted: Ints, room: int, patterns: Ints, rounds: int = ROUNDS) -> tuple[Ints, Floats]:
    """(sizes, k) the patterns given and those that pay, and (k,) how much of each a cutting in shares would use."""
    for _ in range(rounds):
        found = linprog(np.ones(patterns.shape[1]), A_ub=-patterns, b_ub=-wanted, method="highs")
        price = -found.ineqlin.marginals
        best = _dearest(sizes, wanted, price, room)
        if best @ price <= 1 + 1e-9:
            break
        patterns = np.column_stack([patterns, best])
    return patterns, np.concatenate([found.x, np.zeros(patterns.shape[1] - len(found.x))])


def _dive(sizes: Ints, wanted: Ints, room: int, patterns: Ints, shares: Floats) -> tuple[Ints, Ints]:
    """(sizes, k) one pattern per length, and all patterns met with: the pattern used most is cut once, then what is
    left is priced again, until nothing is left.

    References: Wascher and Gau, "Heuristics for the integer one-dimensional cutting stock problem", OR Spektrum 18,
    1996.
    """
    left, cuts = wanted, []
    while left.any():
        useful = np.minimum(patterns, left[:, None])
        cut = useful[:, int(np.lexsort((sizes @ useful, shares))[-1])]
        left = left - cut
        cuts.append(cut)
        if left.any():
            patterns, shares = _patterns(sizes, left, room, patterns, DIVE_ROUNDS)
    return np.column_stack(cuts), patterns


def _dearest(sizes: Ints, wanted: Ints, price: Floats, room: int) -> Ints:
    """The pattern of the greatest price that fits: a knapsack filled piece by piece, each size at most as often as
    wanted (Martello and Toth, Knapsack Problems, 1990, section 3.2; powers of two make the bounded one plain).
    """
    value = np.zeros(room + 1)
    taken: list[tuple[int, int, Ints]] = []
    for i, (size, most) in enumerate(zip(sizes, wanted, strict=True)):
        left, chunk = min(int(most), room // int(size)), 1
        while left > 0:
            chunk = min(chunk, left)
            width = chunk * int(size)
            better = np.zeros(room + 1, bool)
            if width <= room:
                with_it = value[: room + 1 - width] + chunk * price[i]
                better[width:] = with_it > value[width:] + 1e-12
                value[width:] = np.where(better[width:], with_it, value[width:])
            taken.append((i, chunk, better))
            left, chunk = left - chunk, 2 * chunk
    pattern, at = np.zeros(len(sizes), int), room
    for i, chunk, better in reversed(taken):
        if better[at]:
            pattern[i] += chunk
            at -= chunk * int(sizes[i])
    return pattern


def _whole(patterns: Ints, wanted: Ints) -> Ints:
    """(sizes, k) one pattern per length: the fewest that can be put together from those given."""
    found = milp(
        np.ones(patterns.shape[1]),
        constraints=LinearConstraint(patterns, lb=wanted),
        integrality=np.ones(patterns.shape[1]),
        bounds=Bounds(0, np.inf),
        options={"node_limit": NODES},
    )
    if found.x is None:
        return np.tile(np.diag(np.ones(len(wanted), int)), int(wanted.max()))
    return np.repeat(patterns, np.rint(found.x).astype(int), axis=1)


def _named(
    cuts: Ints,
    sizes: Ints,
    pieces: dict[str, float],
    need: dict[str, int],
    room: float,
    kerf: float,
) -> tuple[Length, ...]:
    """The patterns with the pieces' names put in; surplus places stay empty, fullest lengths first."""
    waiting = {int(size): sorted(name for name, n in need.items() if n == size) for size in sizes}
    lengths = []
    for cut in cuts.T:
        names: list[str] = []
        for size, count in zip(sizes, cut, strict=True):
            names += [waiting[int(size)].pop(0) for _ in range(min(int(count), len(waiting[int(size)])))]
        used = sum(pieces[n] + kerf for n in names) - kerf
        lengths.append(Length(tuple(names), room - used))
    return tuple(sorted((entry for entry in lengths if entry.pieces), key=lambda entry: (entry.left, entry.pieces)))
