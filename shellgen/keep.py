"""Remembers what pure functions made of the same things, so that a small change does not make everything anew.

`Flow` remembers whole stages and asks where each came from; here it is single drawings, files and solids, and only
their content counts: a stage that is run again makes most of them as they were.
"""

from __future__ import annotations

import hashlib
import struct
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from functools import wraps
from itertools import chain
from operator import attrgetter
from threading import Lock
from typing import Any, Concatenate, ParamSpec, TypeVar
from weakref import WeakKeyDictionary

import numpy as np

P = ParamSpec("P")
R = TypeVar("R")
T = TypeVar("T")
Many = Callable[Concatenate[Sequence[T], P], R]
Put = Callable[[bytes], None]
Teller = Callable[[Any, Put], None]

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
    return _digest(value, _put)


def _digest(value: Any, teller: Teller) -> bytes:
    parts: list[bytes] = []
    teller(value, parts.append)
    return hashlib.blake2b(b"".join(parts), digest_size=16).digest()


def _put(value: Any, put: Put) -> None:
    """Every value begins with its kind and its length, so that no two sequences of values give the same bytes."""
    kind = type(value)
    teller = _TELLERS.get(kind)
    if teller is None:
        teller = _TELLERS[kind] = _teller(kind)
    teller(value, put)


def _teller(kind: type) -> Teller:
    """What puts the content of the values of a type."""
    name = f"{kind.__module__}.{kind.__qualname__}"
    if issubclass(kind, np.ndarray | np.generic):
        return lambda value, put: _array(np.asarray(value), name, put)
    if issubclass(kind, tuple | list):
        return lambda value, put: _each(value, b"%s %d " % (name.encode(), len(value)), put)
    if issubclass(kind, Mapping):
        return lambda value, put: _each(chain.from_iterable(value.items()), b"mapping %d " % len(value), put)
    if issubclass(kind, set | frozenset):
        return lambda value, put: put(b"set %d " % len(value) + b"".join(sorted(map(digest, value))))
    if issubclass(kind, Enum):
        return lambda value, put: put(f"{name}.{value.name} ".encode())
    if is_dataclass(kind):
        counted = [attrgetter(field.name) for field in fields(kind) if field.compare]
        head = f"{name} ".encode()

        def whole(value: Any, put: Put) -> None:
            _each([field(value) for field in counted], head, put)

        once = kind.__dataclass_params__.frozen and kind.__hash__ is object.__hash__ and kind.__weakrefoffset__  # type: ignore[attr-defined]
        return _once(whole, head) if once else whole
    raise TypeError(f"the content of {kind.__qualname__} is unknown, so nothing can be kept by it")


def _once(whole: Teller, head: bytes) -> Teller:
    """Puts a digest that is remembered for as long as the value lives."""
    known = WeakKeyDictionary[Any, bytes]()

    def put_known(value: Any, put: Put) -> None:
        content = known.get(value)
        if content is None:
            content = known[value] = _digest(value, whole)
        put(b"%b%b" % (head, content))

    return put_known


def _plain(kind: bytes, encoded: Callable[[Any], bytes]) -> Teller:
    def put_plain(value: Any, put: Put) -> None:
        content = encoded(value)
        put(b"%b %d %b" % (kind, len(content), content))

    return put_plain


def _each(values: Iterable[Any], head: bytes, put: Put) -> None:
    put(head)
    for value in values:
        (_TELLERS.get(type(value)) or _put)(value, put)


def _array(array: np.ndarray, kind: str, put: Put) -> None:
    if array.dtype.hasobject:
        raise TypeError("the content of an array of objects is unknown, so nothing can be kept by it")
    form = array.dtype.descr if array.dtype.names else array.dtype.str
    lie = "%d " * (2 * array.ndim) % (*array.shape, *array.strides)
    put(f"{kind} {form} {lie}".encode() + array.tobytes())


_TELLERS: dict[type, Teller] = {
    type(None): _plain(b"none", lambda _: b""),
    bool: _plain(b"bool", lambda value: b"%d" % value),
    int: _plain(b"int", lambda value: b"%d" % value),
    float: _plain(b"float", struct.Struct("<d").pack),
    complex: _plain(b"complex", lambda value: struct.pack("<2d", value.real, value.imag)),
    str: _plain(b"str", lambda value: value.encode("utf-8", "surrogatepass")),
    bytes: _plain(b"bytes", bytes),
    date: _plain(b"date", lambda value: value.isoformat().encode()),
    datetime: _plain(b"datetime", lambda value: value.isoformat().encode()),
}
"""By type; those of other types are found and added as they come."""
