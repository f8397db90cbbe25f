"""A preset as YAML, without the maker's comments, which may name people."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import MISSING, Field
from math import degrees
from pathlib import PurePath
from typing import Any

from shellgen.fields import params
from shellgen.fields.values import Spec, written
from shellgen.preset import Preset

STEP = "  "
UNITS = {"length": " mm", "mass": " g", "ratio": "", "number": ""}
"""Unit after a figure, by its kind. Figures have all their digits, so that they give the same shell."""


def text(preset: Preset) -> str:
    """The whole dome and everything that differs from the defaults, as a file that reads back to the same preset."""
    lines = ["# Written by shellgen. Lines that are left out have their defaults."]
    for name, field in params.specs(Preset).items():
        lines += _field(name, getattr(preset, name), field, full=name == "dome")
    return "\n".join(lines) + "\n"


def _field(name: str, value: Any, field: Field[Any], *, full: bool = False) -> Iterator[str]:
    """The lines of one key; none if it has its default and `full` is false."""
    spec = field.metadata
    if spec["kind"] == "group":
        yield from _under(name, list(_section(value, full=full)))
    elif spec["kind"] == "family":
        inner = [f"{spec['key']}: {value.name}"] if full or value.name != spec["member"] else []
        for part in (value.common, value.own):
            inner += _section(part, full=full, skip=spec["key"]) if part is not None else []
        yield from _under(name, inner)
    elif spec["kind"] == "many":
        yield from _many(name, value, field)
    elif (full or value != field.default) and (value is not None or field.default not in (None, MISSING)):
        yield f"{name}: {_scalar(value, spec)}"


def _section(value: Any, *, full: bool = False, skip: str = "") -> Iterator[str]:
    for name, field in params.specs(type(value)).items():
        if name != skip:
            yield from _field(name, getattr(value, name), field, full=full)


def _under(name: str, inner: list[str]) -> Iterator[str]:
    if inner:
        yield f"{name}:"
        yield from (STEP + line for line in inner)


def _many(name: str, values: Any, field: Field[Any]) -> Iterator[str]:
    of = field.metadata["of"]
    if isinstance(of, Field):
        if values != field.default:
            yield f"{name}: [{', '.join(_scalar(value, of.metadata) for value in values)}]"
        return
    blocks = [list(_section(value)) or ["{}"] for value in values]
    usual = field.default if field.default is not MISSING else ()
    if not blocks:
        if usual:
            yield f"{name}: []"
        return
    yield f"{name}:"
    for block in blocks:
        yield from (STEP + ("- " if k == 0 else "  ") + line for k, line in enumerate(block))


def _scalar(value: Any, spec: Spec) -> str:
    if value is None:
        return "none"
    if spec["kind"] == "angle":
        return f"{degrees(value):.10g} deg"
    if spec["kind"] in UNITS:
        return f"{value:.10g}{UNITS[spec['kind']]}"
    if spec["kind"] in ("text", "file"):
        plain = PurePath(value.written).name if spec["kind"] == "file" else str(value)
        return "'" + plain.replace("'", "''") + "'"
    return written(value, spec)
