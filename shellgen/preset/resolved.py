"""A preset in full: every figure of a preset with its default, and every line that a preset may have."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import MISSING, Field
from typing import Any

from shellgen.canvas import Table
from shellgen.core import registry
from shellgen.fields import params
from shellgen.fields.values import Spec, allowed, written


def resolved(value: Any) -> Table:
    """One row for each figure of a bound preset; with the default if it differs."""
    return Table("preset", ("field", "value", "default"), tuple(_figures(value, "")))


def reference(params_class: type) -> Table:
    """One row for each line that a preset may have, including the lines of every member of a family."""
    rows = tuple(_lines(params.specs(params_class), ""))
    return Table("fields", ("field", "default", "allowed", "meaning"), rows)


def _join(where: str, name: str) -> str:
    return f"{where}.{name}" if where else name


def _figures(value: Any, where: str, skip: str = "") -> Iterator[tuple[str, str, str]]:
    for name, field in params.specs(type(value)).items():
        if name != skip:
            yield from _figure(getattr(value, name), field, _join(where, name))


def _figure(value: Any, field: Field[Any], where: str) -> Iterator[tuple[str, str, str]]:
    spec = field.metadata
    if spec["kind"] == "group":
        yield from _figures(value, where)
    elif spec["kind"] == "family":
        yield _join(where, spec["key"]), value.name, "" if value.name == spec["member"] else spec["member"]
        for part in (value.common, value.own):
            if part is not None:
                yield from _figures(part, where, skip=spec["key"])
    elif spec["kind"] == "many" and _item(spec)["kind"] in ("group", "family"):
        for number, item in enumerate(value, 1):
            yield from _figures(item, f"{where}[{number}]")
    else:
        usual = "" if field.default is MISSING else _text(field.default, spec)
        shown = _text(value, spec)
        yield where, shown, "" if shown == usual else usual


def _item(spec: Spec) -> Spec:
    of = spec["of"]
    return of.metadata if isinstance(of, Field) else {"kind": "group", "of": of}


def _text(value: Any, spec: Spec) -> str:
    if spec["kind"] == "many":
        return ", ".join(written(item, _item(spec)) for item in value) or "none"
    return written(value, spec)


def _lines(specs: Mapping[str, Field[Any]], where: str, skip: str = "") -> Iterator[tuple[str, str, str, str]]:
    for name, field in specs.items():
        if name != skip:
            yield from _line(field, _join(where, name))


def _line(field: Field[Any], where: str) -> Iterator[tuple[str, str, str, str]]:
    spec = field.metadata
    if spec["kind"] == "group":
        yield from _lines(params.specs(spec["of"]), where)
    elif spec["kind"] == "family":
        names = registry.names(spec["package"])
        yield _join(where, spec["key"]), spec["member"], ", ".join(names), spec["doc"]
        yield from _lines(params.specs(spec["common"]), where, skip=spec["key"])
        for name in names:
            own = params.specs(params.own_params(spec["package"], name))
            for path, usual, takes, doc in _lines(own, where):
                yield f"{path} ({name})", usual, takes, doc
    elif spec["kind"] == "many" and _item(spec)["kind"] == "group":
        yield from _lines(params.specs(_item(spec)["of"]), f"{where}[]")
    else:
        inner = _item(spec) if spec["kind"] == "many" else spec
        usual = "(needed)" if params.is_required(field) else _text(field.default, spec)
        takes = f"a list of: {allowed(inner)}" if spec["kind"] == "many" else allowed(spec)
        yield where, usual, takes, spec["doc"]
