"""A digest of the content of values: what results are remembered by."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from enum import Enum
from functools import partial
from itertools import chain
from marshal import dumps
from operator import attrgetter
from pathlib import PurePath
from types import BuiltinFunctionType, FunctionType, MethodType
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray


def digest(value: Any) -> bytes:
    """16 bytes that stand for the content of a value: of numbers, text, bytes, days, paths, numpy arrays, tuples,
    lists, sets, mappings (in their order), dataclasses of these but for fields that say `compare=False`, functions that
    a module defines by name, methods of such values and partial calls of either.

    What differs in kind differs: 1, 1.0 and True; 0.0 and -0.0; "a" and b"a"; arrays of other dtype, shape or order in
    memory, on which sums depend. TypeError if a value is of no such kind; a function made within another one has no
    content, for what it has captured cannot be seen.

    A frozen dataclass that equals nothing but itself (`eq=False`) and takes weak references (`weakref_slot=True`) is
    walked only once: nothing that it holds is changed once it is made, as everywhere in this project.
    """
    return _digest(_plain(value))


def name_of(function: Callable[..., Any]) -> str:
    """Module and name of a function. TypeError if it was made within another one."""
    name = f"{function.__module__}.{function.__qualname__}"
    if "<" in name:
        raise TypeError(f"{name} is made within another function, so nothing can be remembered by its content")
    return name


def _digest(plain: Any) -> bytes:
    return hashlib.blake2b(dumps(plain, _VERSION), digest_size=16).digest()


def _plain(value: Any) -> Any:
    """The value in plain things alone: what holds others is a tuple that begins with its kind, so that no two values of
    different content get the same digest."""
    kind = type(value)
    if kind in _PLAIN:
        return value
    walker = _WALKERS.get(kind)
    if walker is None:
        walker = _WALKERS[kind] = _walker(kind)
    return walker(value)


def _walker(kind: type) -> Callable[[Any], tuple[Any, ...]]:
    """What turns values of a type into plain things."""
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
    if issubclass(kind, PurePath):
        return lambda value: ("path", str(value))
    if issubclass(kind, FunctionType | BuiltinFunctionType):
        return lambda value: ("function", name_of(value))
    if issubclass(kind, MethodType):
        return lambda value: ("method", name_of(value.__func__), *_each((value.__self__,)))
    if issubclass(kind, partial):
        return lambda value: ("partial", *_each((value.func, value.args, value.keywords)))
    if is_dataclass(kind):
        return _of_dataclass(kind, name)
    raise TypeError(f"the content of {kind.__qualname__} is unknown, so nothing can be remembered by it")


def _of_dataclass(kind: type, name: str) -> Callable[[Any], tuple[Any, ...]]:
    counted = [field.name for field in fields(kind) if field.compare]
    content = attrgetter(*counted) if len(counted) > 1 else lambda value: [getattr(value, own) for own in counted]

    def whole(value: Any) -> tuple[Any, ...]:
        return (name, *_each(content(value)))

    settings = kind.__dataclass_params__  # type: ignore[attr-defined]  # no public way to ask
    once = settings.frozen and kind.__hash__ is _BY_IDENTITY and kind.__weakrefoffset__
    return _once(whole) if once else whole


def _each(values: Iterable[Any]) -> list[Any]:
    return [value if type(value) in _PLAIN else _plain(value) for value in values]


def _once(whole: Callable[[Any], tuple[Any, ...]]) -> Callable[[Any], tuple[Any, ...]]:
    """A digest in place of the content, remembered for as long as the value lives."""
    known = WeakKeyDictionary[Any, tuple[Any, ...]]()

    def short(value: Any) -> tuple[Any, ...]:
        content = known.get(value)
        if content is None:
            content = known[value] = ("once", _digest(whole(value)))
        return content

    return short


def _array(array: NDArray[Any]) -> tuple[Any, ...]:
    if array.dtype.hasobject:
        raise TypeError("the content of an array of objects is unknown, so nothing can be remembered by it")
    form = str(array.dtype.descr) if array.dtype.names else array.dtype.str
    return form, array.shape, array.strides, array.tobytes()


_BY_IDENTITY: Callable[..., int] = object.__hash__
"""The hash of a value that equals nothing but itself."""
_VERSION = 2
"""Of marshal's format: the last that writes equal things the same way, however often and wherever they occur."""
_PLAIN = frozenset((type(None), bool, int, float, complex, str, bytes))
_WALKERS: dict[type, Callable[[Any], tuple[Any, ...]]] = {}
"""By type; added as they come."""
