"""Remembers what pure functions made of the same things, so that a small change does not make everything anew.

`Flow` remembers whole stages and asks where each came from; here it is single drawings, files and solids, and only
their content counts: a stage that is run again makes most of them as they were.
"""

from __future__ import annotations

import hashlib
import struct
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from functools import wraps
from threading import Lock
from typing import Any, ParamSpec, TypeVar

import numpy as np

P = ParamSpec("P")
R = TypeVar("R")

MEMORIES: list[OrderedDict[bytes, Any]] = []
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


def digest(value: Any) -> bytes:
    """16 bytes that stand for the content of a value: of numbers, text, bytes, days, numpy arrays, tuples, lists, sets,
    mappings (in their order) and dataclasses of these, but for fields that say `compare=False`.

    What differs in kind differs: 1, 1.0 and True; 0.0 and -0.0; "a" and b"a"; arrays of other dtype, shape or order in
    memory, in which sums depend on it. TypeError if a value is of no such kind.
    """
    hashed = hashlib.blake2b(digest_size=16)
    _walk(value, hashed.update)
    return hashed.digest()


def _walk(value: Any, put: Callable[[bytes], None]) -> None:
    """Every value begins with its kind and its length, so that no two sequences of values give the same bytes."""
    plain = _PLAIN.get(type(value))
    if plain is not None:
        _put(plain[0], plain[1](value), put)
    elif isinstance(value, np.ndarray | np.generic):
        _array(np.asarray(value), type(value).__name__, put)
    elif isinstance(value, tuple | list):
        put(b"%s %d " % (_kind(value), len(value)))
        for one in value:
            _walk(one, put)
    elif isinstance(value, Mapping):
        put(b"mapping %d " % len(value))
        for name, one in value.items():
            _walk(name, put)
            _walk(one, put)
    elif isinstance(value, set | frozenset):
        _put(b"set", b"".join(sorted(map(digest, value))), put)
    elif isinstance(value, Enum):
        _put(_kind(value), value.name.encode(), put)
    elif is_dataclass(value) and not isinstance(value, type):
        put(_kind(value) + b" ")
        for field in fields(value):
            if field.compare:
                _walk(getattr(value, field.name), put)
    else:
        raise TypeError(f"the content of {type(value).__qualname__} is unknown, so nothing can be kept by it")


def _put(kind: bytes, content: bytes, put: Callable[[bytes], None]) -> None:
    put(b"%s %d " % (kind, len(content)))
    put(content)


def _array(array: np.ndarray, kind: str, put: Callable[[bytes], None]) -> None:
    if array.dtype.hasobject:
        raise TypeError("the content of an array of objects is unknown, so nothing can be kept by it")
    form = array.dtype.descr if array.dtype.names else array.dtype.str
    put(f"{kind} {form} {array.shape} {array.strides} ".encode())
    put(array.tobytes())


def _kind(value: Any) -> bytes:
    return f"{type(value).__module__}.{type(value).__qualname__}".encode()


_PLAIN: Mapping[type, tuple[bytes, Callable[[Any], bytes]]] = {
    type(None): (b"none", lambda _: b""),
    bool: (b"bool", lambda value: b"%d" % value),
    int: (b"int", lambda value: b"%d" % value),
    float: (b"float", struct.Struct("<d").pack),
    complex: (b"complex", lambda value: struct.pack("<2d", value.real, value.imag)),
    str: (b"str", lambda value: value.encode("utf-8", "surrogatepass")),
    bytes: (b"bytes", lambda value: value),
    date: (b"date", lambda value: value.isoformat().encode()),
    datetime: (b"datetime", lambda value: value.isoformat().encode()),
}
