"""Values of the record's types, empty but for what a test needs of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from types import NoneType, UnionType
from typing import Any, TypeVar, get_args, get_origin

from shellgen.record.plain import optional, types

T = TypeVar("T")


def empty(kind: type[T], **own: Any) -> T:
    """Of a dataclass of the record. own : the fields that are not to be empty"""
    hints = types(kind)
    blank = {f.name: _empty(hints[f.name]) for f in fields(kind) if not optional(f)}  # type: ignore[arg-type]
    return kind(**{**blank, **own})


def _empty(kind: Any) -> Any:
    origin, own = get_origin(kind), get_args(kind)
    if is_dataclass(kind):
        return empty(kind)  # type: ignore[arg-type]
    if origin is UnionType:
        return None if NoneType in own else _empty(own[-1])
    return {} if origin is Mapping else () if origin is tuple else kind()
