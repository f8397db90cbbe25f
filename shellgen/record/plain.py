"""Typed values of the record to plain JSON values, and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from functools import lru_cache
from types import NoneType, UnionType
from typing import Any, TypeVar, cast, get_args, get_origin, get_type_hints

T = TypeVar("T")


def plain(value: Any) -> Any:
    """Dictionaries, lists, numbers and text, in the order of the fields.

    A field is named as its key, with a "_" added where the key is a keyword of Python. A field whose default is None is
    left out while it is None.
    """
    if is_dataclass(value):
        own = ((field, getattr(value, field.name)) for field in fields(value))
        return {key(field): plain(of) for field, of in own if of is not None or not optional(field)}
    if isinstance(value, Mapping):
        return {name: plain(of) for name, of in value.items()}
    return [plain(of) for of in value] if isinstance(value, tuple) else value


def key(field: Field[Any]) -> str:
    """What a field is called in JSON."""
    return field.name.removesuffix("_")


def optional(field: Field[Any]) -> bool:
    """Whether it may be missing."""
    return field.default is None


types = lru_cache(get_type_hints)
"""The types of a dataclass's fields, by name."""


def typed(kind: type[T], value: Any) -> T:
    """The typed value from which `plain` made `value`. ValueError if it is not of this type."""
    return cast(T, _typed(kind, value))


def _typed(kind: Any, value: Any) -> Any:
    origin, own = get_origin(kind), get_args(kind)
    if is_dataclass(kind) and isinstance(value, dict):
        return _instance(cast(type, kind), value)
    if origin is UnionType:
        return _first(own, value)
    if origin is tuple and isinstance(value, list):
        return tuple(_typed(own[0], of) for of in value)
    if origin is Mapping and isinstance(value, dict):
        return {name: _typed(own[1], of) for name, of in value.items()}
    if origin is None and type(value) in ((float, int) if kind is float else (kind,)):
        return value
    raise ValueError(f"A {type(value).__name__} is not a value of {kind}.")


def _instance(kind: type, value: dict[str, Any]) -> Any:
    known = {key(field): field for field in fields(kind)}
    missing = [name for name, field in known.items() if field.default is MISSING and name not in value]
    unknown = [name for name in value if name not in known]
    for word, names in (("lacks", missing), ("cannot have", unknown)):
        if names:
            raise ValueError(f"{kind.__name__} {word} {', '.join(names)}. Its keys are {', '.join(known)}.")
    return kind(**{known[name].name: _typed(types(kind)[known[name].name], of) for name, of in value.items()})


def _first(kinds: tuple[Any, ...], value: Any) -> Any:
    """As the first of the types that it can be."""
    for kind in kinds:
        if kind is NoneType and value is None:
            return None
        try:
            return _typed(kind, value)
        except ValueError:
            continue
    raise ValueError(f"A {type(value).__name__} is not a value of any of {kinds}.")
