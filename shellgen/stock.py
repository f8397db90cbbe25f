"""Cutting pieces from stock of one length with the fewest lengths bought: the one-dimensional cutting stock problem."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from shellgen.errors import FitError

STEP = 0.5
"""mm: lengths are rounded up to this for cutting; no finer is cut by hand."""
ROUNDS = 400


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
    patterns, bound = _patterns(sizes, wanted, room)
    uses = _whole(patterns, wanted)
    lengths = _named(patterns, uses, sizes, pieces, need, stock - lost, kerf)
    bought = stock * len(lengths)
    return CutList(stock, lengths, bound, 1 - sum(pieces.values()) / bought if bought else 0.0)


def _patterns(sizes: NDArray, wanted: NDArray, room: int) -> tuple[NDArray, int]:
    """(sizes, k) patterns worth cutting, and the fewest lengths that could do."""
    columns = [
        np.eye(len(sizes), dtype=int)[:, i] * min(room // int(s), int(w))
        for i, (s, w) in enumerate(zip(sizes, wanted, strict=True))
    ]
    total = 0.0
    for _ in range(ROUNDS):
        matrix = np.column_stack(columns)
        found = linprog(np.ones(matrix.shape[1]), A_ub=-matrix, b_ub=-wanted, method="highs")
        total, price = found.fun, -found.ineqlin.marginals
        best = _dearest(sizes, wanted, price, room)
        if best @ price <= 1 + 1e-9:
            break
        columns.append(best)
    return np.column_stack(columns), int(np.ceil(total - 1e-6))


def _dearest(sizes: NDArray, wanted: NDArray, price: NDArray, room: int) -> NDArray:
    """The pattern of the greatest price that fits: a knapsack filled piece by piece, each size at most as often as
    wanted (Martello and Toth, Knapsack Problems, 1990, section 3.2; powers of two make the bounded one plain).
    """
    value = np.zeros(room + 1)
    taken: list[tuple[int, int, NDArray]] = []
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


def _whole(patterns: NDArray, wanted: NDArray) -> NDArray:
    """How often each pattern is cut: the fewest lengths."""
    found = milp(
        np.ones(patterns.shape[1]),
        constraints=LinearConstraint(patterns, lb=wanted),
        integrality=np.ones(patterns.shape[1]),
        bounds=Bounds(0, np.inf),
    )
    return np.rint(found.x).astype(int)


def _named(
    patterns: NDArray,
    uses: NDArray,
    sizes: NDArray,
    pieces: dict[str, float],
    need: dict[str, int],
    room: float,
    kerf: float,
) -> tuple[Length, ...]:
    """The patterns with the pieces' names put in; surplus places stay empty, fullest lengths first."""
    waiting = {int(size): sorted(name for name, n in need.items() if n == size) for size in sizes}
    lengths = []
    for column in np.repeat(np.arange(len(uses)), uses):
        names: list[str] = []
        for size, count in zip(sizes, patterns[:, column], strict=True):
            names += [waiting[int(size)].pop(0) for _ in range(min(int(count), len(waiting[int(size)])))]
        used = sum(pieces[n] + kerf for n in names) - kerf
        lengths.append(Length(tuple(names), room - used))
    return tuple(sorted((entry for entry in lengths if entry.pieces), key=lambda entry: (entry.left, entry.pieces)))
