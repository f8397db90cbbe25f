"""JSON Schema of the preset, from the same declarations as the reader, so that editors complete and check.

References
----------
JSON Schema 2020-12, core and validation vocabularies.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import MISSING, Field
from typing import Any

from shellgen.core import registry
from shellgen.fields import params, units
from shellgen.fields.values import SLUG, Spec, explained
from shellgen.fields.yamltree import INSTEAD

Schema = dict[str, Any]
NOTHING: Schema = {"enum": [None, "none"]}


def schema(params_class: type, *, title: str = "shellgen preset") -> Schema:
    """The schema of a file that is bound to `params_class`."""
    specs = params.specs(params_class)
    replacing = {
        "description": "Lines that replace those of the other sections, such as those that the plan of work offers.",
        "type": ["object", "null"],
        "properties": {name: {"description": f"Lines of {name} to replace."} for name in specs},
        "additionalProperties": False,
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": title,
        **_object(specs, first={INSTEAD: replacing}),
        "$defs": {kind: {"type": "string", "pattern": units.pattern(kind)} for kind in units.SCALES},
    }


def _object(specs: Mapping[str, Field[Any]], first: Schema | None = None, needed: Iterable[str] = ()) -> Schema:
    properties = {**(first or {}), **{name: _field(spec) for name, spec in specs.items()}}
    required = [*needed, *(name for name, spec in specs.items() if params.is_required(spec))]
    return {
        "type": "object",
        "properties": properties,
        **({"required": required} if required else {}),
        "additionalProperties": False,
    }


def _field(field: Field[Any]) -> Schema:
    spec = field.metadata
    body = _value(spec)
    if spec["optional"]:
        body = {"anyOf": [body, NOTHING]}
    default = field.default  # sections, and lists of them, show their defaults line by line
    if default is not MISSING and not (default and isinstance(spec.get("of"), type)):
        body = {**body, "default": _default(default, spec)}
    return {"description": _description(spec), **body}


def _description(spec: Spec) -> str:
    return spec["doc"] if spec["kind"] in ("group", "family", "many") else explained(spec)


def _default(value: Any, spec: Spec) -> Any:
    if spec["kind"] == "angle" and value is not None:
        return float(f"{math.degrees(value):.10g}")
    if spec["kind"] == "date" and value is not None:
        return value.isoformat()
    return list(value) if isinstance(value, tuple) else value


def _value(spec: Spec) -> Schema:
    return _KINDS[spec["kind"]](spec)


def _quantity(spec: Spec) -> Schema:
    """A number within its bounds, or text with a unit, whose bounds a schema cannot check."""
    kind = spec["kind"]
    known = {"$ref": f"#/$defs/{kind}"}
    text = known if kind in units.SCALES else {"type": "string", "pattern": units.pattern(kind, unit=spec["unit"])}
    return {"anyOf": [{"type": "number", "minimum": spec["low"], "maximum": spec["high"]}, text]}


def _family(spec: Spec) -> Schema:
    """One alternative per member, chosen by the key; the default member may leave the key out."""
    key, package = spec["key"], spec["package"]
    names = registry.names(package)
    shared = {name: field for name, field in params.specs(spec["common"]).items() if name != key}
    shapes = [
        _object(
            {**shared, **params.specs(params.own_params(package, name))},
            first={key: {"const": name}},
            needed=() if name == spec["member"] else (key,),
        )
        for name in names
    ]
    return {"anyOf": [{"enum": [*names, None]}, *shapes]}


def _many(spec: Spec) -> Schema:
    of = spec["of"]
    one = _field(of) if isinstance(of, Field) else _object(params.specs(of))
    several = {"type": ["array", "null"], "items": one, "maxItems": spec["most"]}
    return several if one.get("type") == "object" else {"anyOf": [several, one]}


_KINDS: Mapping[str, Callable[[Spec], Schema]] = {
    **dict.fromkeys(("length", "angle", "ratio", "number", "mass"), _quantity),
    "count": lambda spec: {"type": "integer", "minimum": spec["low"], "maximum": spec["high"]},
    "choice": lambda spec: {"enum": list(spec["options"])},
    "member": lambda spec: {"enum": list(registry.names(spec["package"]))},
    "flag": lambda spec: {"enum": [True, False, "yes", "no", "on", "off"]},
    "text": lambda spec: {"type": ["string", "number"], "minLength": 1, "maxLength": spec["longest"]},
    "slug": lambda spec: {"type": ["string", "integer"], "pattern": f"^{SLUG}$", "maxLength": spec["longest"]},
    "file": lambda spec: {"type": "string", "pattern": f"({'|'.join(spec['suffixes'])})$".replace(".", "[.]")},
    "date": lambda spec: {"type": "string", "format": "date", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"},
    "group": lambda spec: {**_object(params.specs(spec["of"])), "type": ["object", "null"]},
    "family": _family,
    "many": _many,
}
