"""A JSON Schema of `shell.json`, from the types of the record."""

from __future__ import annotations

import inspect
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from types import NoneType, UnionType
from typing import Any, get_args, get_origin

from shellgen.record import Record
from shellgen.record.plain import key, optional, types

DIALECT = "https://json-schema.org/draft/2020-12/schema"
SCALARS = {str: "string", bool: "boolean", int: "integer", float: "number", NoneType: "null"}

Schema = dict[str, Any]


def schema() -> Schema:
    """Every key is listed, and no other is allowed."""
    found: dict[str, Schema] = {}
    whole = _of(Record, found)
    return {"$schema": DIALECT, "title": "shell.json", **whole, "$defs": dict(sorted(found.items()))}


def _of(kind: Any, found: dict[str, Schema]) -> Schema:
    """The schema of a type; those of dataclasses are added to `found` by name."""
    if is_dataclass(kind):
        return _object(kind, found)
    origin, own = get_origin(kind), get_args(kind)
    if origin is UnionType:
        return {"anyOf": [_of(one, found) for one in own]}
    if origin is tuple:
        return {"type": "array", "items": _of(own[0], found)}
    if origin is Mapping:
        return {"type": "object", "additionalProperties": _of(own[1], found)}
    return {"type": SCALARS[kind]}


def _object(kind: Any, found: dict[str, Schema]) -> Schema:
    name = kind.__name__.removesuffix("Entry")
    if name not in found:
        found[name] = {}  # reserves the name while its fields are read
        hints = types(kind)
        found[name] = {
            "description": inspect.getdoc(kind),
            "type": "object",
            "properties": {key(field): _of(_given(hints[field.name], field), found) for field in fields(kind)},
            "required": [key(field) for field in fields(kind) if not optional(field)],
            "additionalProperties": False,
        }
    return {"$ref": f"#/$defs/{name}"}


def _given(kind: Any, field: Any) -> Any:
    """The type of a field that is present: None only if that is a value of its own."""
    if not optional(field):
        return kind
    own = tuple(one for one in get_args(kind) if one is not NoneType)
    return own[0] if len(own) == 1 else kind
