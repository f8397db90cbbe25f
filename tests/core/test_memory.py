"""Results remembered by content: equal arguments once, different ones never taken for each other."""

from __future__ import annotations

from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from itertools import combinations
from threading import Barrier
from weakref import ref

import numpy as np
import pytest

from shellgen.canvas import Drawing, Path, Text
from shellgen.core.content import digest
from shellgen.core.memory import BUILDS, MEMORY, MISSING, Memory, remembered, remembered_each


@dataclass(frozen=True)
class Pair:
    left: object
    right: object


@dataclass(frozen=True)
class Worked:
    figure: float
    out: object = field(compare=False)


@dataclass(frozen=True)
class Couple:
    left: object
    right: object


def drawing(shift: float = 0.0, **data: str) -> Drawing:
    line = Path(np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 5.0 + shift)]), "cut", closed=True, data=data)
    return Drawing("one", 20.0, 10.0, (line, Text("words", (1.0, 1.0))))


def counted():
    calls: Counter = Counter()

    @remembered
    def make(value, **named):
        calls[repr(value)] += 1
        return (value, named)

    return make, calls


def test_equal_content_is_made_once():
    make, calls = counted()
    first, again = make(drawing()), make(drawing())
    assert first is again and sum(calls.values()) == 1
    assert make(drawing(), scale=2.0) is not first
    assert make(drawing(), scale=2.0) is make(drawing(), scale=2.0)


@pytest.mark.parametrize("other", (drawing(1e-12), drawing(role="x"), replace(drawing(), title="t")))
def test_a_small_difference_is_one(other):
    make, calls = counted()
    assert make(drawing()) is not make(other)
    assert sum(calls.values()) == 2


def test_an_array_that_was_changed_is_another():
    make, calls = counted()
    array = np.arange(6.0)
    make(array)
    array[3] = -1.0
    make(array)
    assert sum(calls.values()) == 2


LIKE = (
    0, 0.0, -0.0, False, None, "0", b"0", (), [], {}, frozenset(), "", b"", 1, 1.0, True, 1 + 0j, np.float64(1.0),
    np.float32(1.0), np.array(1.0), np.int64(1), np.array([1.0]), np.array([[1.0]]), np.array([1]), np.array([True]),
    np.array([0.0]), np.array([-0.0]), np.empty((0, 2)), np.empty((0, 3)), np.array(["a"]), np.array([b"a"]),
    np.ones((2, 3)), np.ones((3, 2)), np.asfortranarray(np.ones((2, 3))), np.array([1.0], ">f8"),
    np.array([(1.0,)], [("a", float)]), np.array([(1.0,)], [("b", float)]),
    (1, 2), [1, 2], (1, (2,)), ((1,), 2), (1, 2, ()), ("ab", "c"), ("a", "bc"), ("abc",), ("a", "b", "c"),
    {"a": 1, "b": 2}, {"b": 2, "a": 1}, {"a": "b"}, frozenset((1, 2)), frozenset((1.0, 2)), Pair(1, 2), Couple(1, 2),
    Pair(2, 1), Pair(1, None), 
    (Pair, 1)[1:], date(2026, 1, 1), datetime(2026, 1, 1), "2026-01-01",
)  # fmt: skip


def test_what_differs_in_kind_differs():
    digests = [digest(value) for value in LIKE]
    same = [(a, b) for a, b in combinations(range(len(LIKE)), 2) if digests[a] == digests[b]]
    assert not same, [(LIKE[a], LIKE[b]) for a, b in same]


def test_content_alone_counts():
    assert digest(frozenset(("a", "b", "c"))) == digest(frozenset(("c", "b", "a")))
    assert digest(Pair(np.arange(3), {"a": float("nan")})) == digest(Pair(np.arange(3), {"a": float("nan")}))
    assert digest(np.arange(12)[3:6]) == digest(np.arange(3, 6))
    assert digest(Worked(1.0, lambda: 1)) == digest(Worked(1.0, lambda: 2)) != digest(Worked(2.0, lambda: 1))


@pytest.mark.parametrize(
    "value", (object(), lambda: 1, iter(()), np.array([object()]), Pair, (1, [{"a": {2: iter(())}}]))
)
def test_what_has_no_content_is_refused(value):
    make, calls = counted()
    with pytest.raises(TypeError, match="so nothing can be remembered by"):
        make(value)
    assert not calls


def test_what_several_builds_did_not_use_is_dropped():
    memory = Memory()
    for key in "ab":
        memory.put(key, key)
    for _ in range(BUILDS):
        memory.sweep()
    assert memory.get("a") == "a"
    memory.sweep()
    assert [memory.get(key) for key in "ab"] == ["a", MISSING]


def test_what_is_raised_is_not_kept():
    asked = []

    @remembered
    def make(value):
        asked.append(value)
        if len(asked) == 1:
            raise ValueError("not yet")
        return value

    with pytest.raises(ValueError, match="not yet"):
        make(1)
    assert make(1) == make(1) == 1
    assert asked == [1, 1]


def test_forgotten_is_made_anew():
    make, calls = counted()
    first = make(1)
    MEMORY.clear()
    assert make(1) == first
    assert calls == {"1": 2}


def test_threads_get_one_result():
    together = Barrier(2)

    @remembered
    def make(value):
        together.wait(timeout=30)  # both are in the making
        return [value]

    with ThreadPoolExecutor(2) as threads:
        first, other = threads.map(make, ("a", "a"))
    assert first is other


def test_threads_mix_nothing_up():
    make, calls = counted()
    with ThreadPoolExecutor(2) as threads:
        asked = [k % 7 for k in range(2000)]
        assert [made[0] for made in threads.map(make, asked)] == asked
    assert set(calls) == {repr(k) for k in range(7)}


def test_a_value_is_looked_through_once_and_let_go():
    looked = []

    class Data(dict):
        def items(self):
            looked.append(len(self))
            return super().items()

    @dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
    class Sheet:
        data: dict

    sheet, other = Sheet(Data(a=1)), Sheet(Data(a=1))
    first = digest(sheet)
    assert digest(sheet) == first == digest((sheet,)[0]) and looked == [1]
    assert digest((sheet, 1)) != digest((sheet, 2)) and looked == [1]
    assert digest(other) == first and looked == [1, 1]
    assert digest(Sheet(Data(a=2))) != first
    gone = ref(sheet)
    del sheet
    assert gone() is None


def test_of_many_only_the_new_are_made_and_all_at_once():
    asked = []

    @remembered_each(abs)
    def doubled(of, more=0):
        asked.append(list(of))
        return [2 * one + more for one in of]

    assert doubled([1, 2, 1]) == [2, 4, 2] and asked == [[1, 2]]
    assert doubled([2, 3]) == [4, 6] and asked[1:] == [[3]]
    assert doubled([2], 1) == [5] and doubled([-3]) == [6] and asked[2:] == [[2]]
    assert doubled(list(range(9, 20))) == list(range(18, 40, 2)) and doubled([]) == []
    MEMORY.clear()
    assert doubled([19]) == [38] and asked[-1] == [19]
