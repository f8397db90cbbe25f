"""Remembers what pure functions made of the same things, so that a small change does not make everything anew.

`Flow` remembers whole stages and asks where each came from; here it is single drawings, files and solids, and only
their content counts: a stage that is run again makes most of them as they were.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date
from enum import Enum
from functools import wraps
from itertools import chain
from marshal import dumps
from operator import attrgetter
from threading import Lock
from typing import Any, Concatenate, ParamSpec, TypeVar
from weakref import WeakKeyDictionary

import numpy as np

P = ParamSpec("P")
R = TypeVar("R")
T = TypeVar("T")
Many = Callable[Concatenate[Sequence[T], P], R]

MEMORIES: list[OrderedDict[Any, Any]] = []
"""Of every function that keeps anything; cleared, all is made as in a process that has just begun."""


def kept(most: int) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Has a function's latest `most` results kept by the content of its arguments; the least lately used goes first.

    For functions of nothing but their arguments, whose results no one changes. What they raise is not kept. Threads may
    call them; two that ask for the same at once get one result, even if both made it. TypeError if an argument is of a
    kind that has no content (see `digest`).
    """

    def around(make: Callable[P, R]) -> Callable[P, R]:
        lock, memory = Lock(), OrderedDict[bytes, R]()
        MEMORIES.append(memory)

        @wraps(make)
        def remembered(*of: P.args, **named: P.kwargs) -> R:
            key = digest((of, named))
            with lock:
                if key in memory:
                    memory.move_to_end(key)
                    return memory[key]
            made = make(*of, **named)
            with lock:
                made = memory.setdefault(key, made)
                memory.move_to_end(key)
                while len(memory) > most:
                    memory.popitem(last=False)
            return made

        return remembered

    return around


def kept_each(most: int, told: Callable[[T], Hashable]) -> Callable[[Many[T, P, Iterable[R]]], Many[T, P, list[R]]]:
    """The same for a function that makes many small things at once, one from each of a sequence: what is new among them
    is made together, all else is as it was. Each goes by what `told` says of it, the same of two only where the same is
    made of them, since to digest so little would not pay; the further arguments go by their content."""

    def around(make: Many[T, P, Iterable[R]]) -> Many[T, P, list[R]]:
        lock, memory = Lock(), OrderedDict[Hashable, R]()
        MEMORIES.append(memory)

        @wraps(make)
        def remembered(of: Sequence[T], *rest: P.args, **named: P.kwargs) -> list[R]:
            also = digest((rest, named))
            asked = [(told(one), also) for one in of]
            with lock:
                known = {key: memory[key] for key in asked if key in memory}
            new = {key: one for key, one in zip(asked, of, strict=True) if key not in known}
            if new:
                known.update(zip(new, make(list(new.values()), *rest, **named), strict=True))
            with lock:
                for key, made in known.items():
                    memory[key] = made
                    memory.move_to_end(key)
                while len(memory) > most:
                    memory.popitem(last=False)
            return [known[key] for key in asked]

        return remembered

    return around


def digest(value: Any) -> bytes:
    """16 bytes that stand for the content of a value: of numbers, text, bytes, days, numpy arrays, tuples, lists, sets,
    mappings (in their order) and dataclasses of these, but for fields that say `compare=False`.

    What differs in kind differs: 1, 1.0 and True; 0.0 and -0.0; "a" and b"a"; arrays of other dtype, shape or order in
    memory, in which sums depend on it. TypeError if a value is of no such kind.

    A frozen dataclass that equals nothing but itself (`eq=False`) and takes weak references (`weakref_slot=True`) is
    looked through but once: as everywhere in this project, nothing that it holds is changed once it is made.
    """
    return _digest(_told(value))


def _digest(told: Any) -> bytes:
    return hashlib.blake2b(dumps(told, _VERSION), digest_size=16).digest()


def _told(value: Any) -> Any:
    """The value in plain things alone: what holds others is a tuple that begins with its kind, so that no two values of
    different content come out alike."""
    kind = type(value)
    if kind in _PLAIN:
        return value
    teller = _TELLERS.get(kind)
    if teller is None:
        teller = _TELLERS[kind] = _teller(kind)
    return teller(value)


def _teller(kind: type) -> Callable[[Any], tuple[Any, ...]]:
    """What tells the content of the values of a type."""
    name = f"{kind.__module__}.{kind.__qualname__}"
    if issubclass(kind, np.ndarray | np.generic):
        return lambda value: (name, *_array(np.asarray(value)))
    if issubclass(kind, tuple | list):
        return lambda value: (name, *_each(value))
    if issubclass(kind, Mapping):
        return lambda value: ("mapping", *_each(chain.from_iterable(value.items())))
    if issubclass(kind, set | frozenset):
        return lambda value: ("set", *sorted(map(digest, value)))
    if issubclass(kind, Enum):
        return lambda value: (name, value.name)
    if issubclass(kind, date):
        return lambda value: (name, value.isoformat())
    if is_dataclass(kind):
        counted = [field.name for field in fields(kind) if field.compare]
        content = attrgetter(*counted) if len(counted) > 1 else lambda value: [getattr(value, own) for own in counted]
        once = kind.__dataclass_params__.frozen and kind.__hash__ is object.__hash__ and kind.__weakrefoffset__  # type: ignore[attr-defined]

        def whole(value: Any) -> tuple[Any, ...]:
            return (name, *_each(content(value)))

        return _once(whole) if once else whole
    raise TypeError(f"the content of {kind.__qualname__} is unknown, so nothing can be kept by it")


def _each(values: Iterable[Any]) -> list[Any]:
    return [value if type(value) in _PLAIN else _told(value) for value in values]


def _once(whole: Callable[[Any], tuple[Any, ...]]) -> Callable[[Any], tuple[Any, ...]]:
    """Tells a digest instead, which is remembered for as long as the value lives."""
    known = WeakKeyDictionary[Any, tuple[Any, ...]]()

    def told(value: Any) -> tuple[Any, ...]:
        content = known.get(value)
        if content is None:
            content = known[value] = ("once", _digest(whole(value)))
        return content

    return told


def _array(array: np.ndarray) -> tuple[Any, ...]:
    if array.dtype.hasobject:
        raise TypeError("the content of an array of objects is unknown, so nothing can be kept by it")
    form = str(array.dtype.descr) if array.dtype.names else array.dtype.str
    return form, array.shape, array.strides, array.tobytes()


_VERSION = 2
"""Of the format: the last that writes equal things alike, however often each occurs and wherever it lies in memory."""
_PLAIN = frozenset((type(None), bool, int, float, complex, str, bytes))
_TELLERS: dict[type, Callable[[Any], tuple[Any, ...]]] = {}
"""By type; found as they come."""
