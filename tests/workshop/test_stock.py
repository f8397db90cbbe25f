"""Cutting stock: whole pieces, nothing over the stock's length, and the fewest lengths."""

from itertools import combinations

import numpy as np
import pytest

from shellgen.errors import FitError
from shellgen.workshop import stock


def check(pieces, cuts, length, kerf, lost=0.0):
    """Every piece cut once, no length over full."""
    assert sorted(n for entry in cuts.lengths for n in entry.pieces) == sorted(pieces)
    for entry in cuts.lengths:
        used = sum(pieces[n] for n in entry.pieces) + kerf * (len(entry.pieces) - 1)
        assert used <= length - lost + 1e-9
        assert entry.left == pytest.approx(length - lost - used, abs=1e-9)
    assert cuts.waste == pytest.approx(1 - sum(pieces.values()) / (length * len(cuts.lengths)))


def test_published_example():
    """The textbook roll-cutting example: width 5600, thirteen orders; least number of master rolls 73, trim loss
    0.401 % (Wikipedia, "Cutting stock problem", from memory).
    """
    widths = [1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200]
    demand = [22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20]
    pieces = {f"{w}-{k}": float(w) for w, d in zip(widths, demand, strict=True) for k in range(d)}
    cuts = stock.cut_list(pieces, stock=5600)
    check(pieces, cuts, 5600, 0)
    assert len(cuts.lengths) == cuts.bound == 73
    assert cuts.waste == pytest.approx(0.00401, abs=5e-6)


def fewest(sizes, room):
    """The fewest lengths, by trying every way of filling one."""
    if not sizes:
        return 0
    first, rest = sizes[0], sizes[1:]
    best = len(sizes)
    for k in range(len(rest) + 1):
        for with_it in combinations(range(len(rest)), k):
            if first + sum(rest[i] for i in with_it) <= room:
                left = [x for i, x in enumerate(rest) if i not in with_it]
                best = min(best, 1 + fewest(left, room))
    return best


@pytest.mark.parametrize("seed", range(6))
def test_small_cases_against_every_way_of_cutting(seed):
    chance = np.random.default_rng(seed)
    sizes = chance.integers(20, 70, 8).astype(float)
    pieces = {f"p{k}": size for k, size in enumerate(sizes)}
    cuts = stock.cut_list(pieces, stock=100)
    check(pieces, cuts, 100, 0)
    assert len(cuts.lengths) == fewest(sorted(sizes, reverse=True), 100)


@pytest.mark.parametrize("seed", range(4))
def test_as_many_rings_as_a_shell_has(seed):
    chance = np.random.default_rng(seed)
    pieces = {f"ring-{k}": float(size) for k, size in enumerate(chance.uniform(70, 320, 60))}
    cuts = stock.cut_list(pieces, stock=1000, kerf=0.5, lost=7.5)
    check(pieces, cuts, 1000, 0.5, 7.5)
    assert len(cuts.lengths) == cuts.bound  # proven: no cutting could do with fewer


def test_kerf_counts_between_pieces_only():
    pieces = {"a": 50.0, "b": 49.0}
    assert len(stock.cut_list(pieces, stock=100, kerf=1.0).lengths) == 1
    assert len(stock.cut_list(pieces, stock=100, kerf=1.5).lengths) == 2


def test_no_pieces_no_stock_and_one_too_long():
    assert stock.cut_list({}, stock=1000).lengths == ()
    with pytest.raises(FitError, match="long-one is 1001 mm"):
        stock.cut_list({"long-one": 1001.0}, stock=1000)


def test_rounding_costs_no_length() -> None:
    """Three lengths filled to the last tenth of a millimetre by pieces of odd sizes, put together here."""
    room, kerf = 992.5, 0.5
    cuts = ([151.37, 148.21, 160.43, 170.09, 133.31], [201.13, 188.87, 119.61, 222.03], [99.77, 140.51, 177.19, 303.01])
    pieces = {}
    for k, cut in enumerate(cuts):
        last = room - sum(size + kerf for size in cut) - 0.6
        pieces |= {f"{k}-{n}": size for n, size in enumerate([*cut, last])}
    assert len(stock.cut_list(pieces, stock=1000.0, kerf=kerf, lost=7.5).lengths) == 3
