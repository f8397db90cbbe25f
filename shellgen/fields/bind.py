"""Turns a tree of words and figures into the Params that the stages declare.

Every error names the field by its path (list items are counted from 1), its line, what is written there, what to write
instead in the maker's own unit, and the most similar name.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import Field, replace
from typing import Any, TypeVar

from shellgen.core import registry
from shellgen.errors import PresetError, ShellgenError
from shellgen.fields import params
from shellgen.fields.values import Place, Spec, allowed, either, give, listing, nearest, read
from shellgen.fields.yamltree import Node, Scalar, Section, YamlList, quote

T = TypeVar("T")
UNKNOWN = "There is no such line."
NOTHING = ("", "~", "null", "none")


def bind(node: Section, params_class: type[T], *, file: str = "") -> T:
    """An instance of the Params class from a whole file's tree. PresetError for the first mistake."""
    return _make(params_class, node, Place(file, "", 1))


def _make(params_class: type[T], node: Section, place: Place) -> T:
    return _build(params_class, _values(node, params.specs(params_class), place), node, place)


def _values(node: Section, specs: Mapping[str, Field[Any]], place: Place) -> dict[str, Any]:
    """The values written in a section, by field."""
    values = {}
    for key, value in node.entries.items():
        here = place.at(key if key.isidentifier() else quote(key), node.key_lines[key])
        if key not in specs:
            lines = listing(specs, rest=_listed(place))
            remedy = (
                f"The lines of this section are: {lines}." if specs else "Nothing more is asked here: leave it out."
            )
            raise here.error(UNKNOWN, remedy, nearest(key, specs))
        values[key] = _value(value, specs[key].metadata, replace(here, line=value.line))
    for name, spec in specs.items():
        if params.is_required(spec) and name not in values:
            raise place.at(name, node.line).error("This line is missing.", _wanted(spec.metadata), spec.metadata["doc"])
    return values


def _build(params_class: type[T], values: Mapping[str, Any], node: Node, place: Place) -> T:
    """The instance. An error that the stage raises about the figures gets its place in the file here."""
    try:
        return params_class(**values)
    except PresetError as error:
        first = error.where.split(".")[0]
        entry = node.entries.get(first) if isinstance(node, Section) else None
        here = place.at(error.where, entry.line if entry else place.line) if error.where else place
        raise here.error(error.problem, error.remedy, error.hint) from error
    except (ShellgenError, ValueError) as error:
        raise place.error("These figures do not fit together.", _sentence(str(error))) from error


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:].removesuffix(".") + "."


def _wanted(spec: Spec) -> str:
    kind = spec["kind"]
    return "Write a list." if kind == "many" else "Write a section." if kind in _NESTED else give(spec)


def _value(node: Node, spec: Spec, place: Place) -> Any:
    kind = spec["kind"]
    if kind in _NESTED:
        return _NESTED[kind](node, spec, place)
    if not isinstance(node, Scalar):
        what = "a list" if isinstance(node, YamlList) else "a section"
        raise place.error(f"This is {what}.", f"Give one value: {allowed(spec)}.")
    if node.plain and node.text.lower() in NOTHING:
        if spec["optional"]:
            return None
        if not node.text:
            raise place.error("There is no value.", give(spec), "Leave the line out for the default.")
    return read(node.text.strip(), spec, place)


def _is_empty(node: Node) -> bool:
    """Whether a key has only comments below it, or YAML's null: all values are defaults."""
    return isinstance(node, Scalar) and node.plain and node.text.lower() in ("", "~", "null")


def _need_section(node: Node, keys: Iterable[str], place: Place) -> Section:
    if isinstance(node, Section):
        return node
    if _is_empty(node):
        return Section({}, {}, node.line)
    found = quote(node.text) if isinstance(node, Scalar) else "A list"
    lines = listing(keys, rest=_listed(place))
    raise place.error(f"{found} cannot stand here.", f"Write lines below it, indented, with any of: {lines}.")


def _listed(place: Place) -> str:
    """The command that lists all lines of a section."""
    return f"shellgen list fields {re.split('[.[]', place.where)[0]}".rstrip()


def _group(node: Node, spec: Spec, place: Place) -> Any:
    return _make(spec["of"], _need_section(node, params.specs(spec["of"]), place), place)


def _family(node: Node, spec: Spec, place: Place) -> params.Chosen:
    key, package, common = spec["key"], spec["package"], spec["common"]
    names = registry.names(package)
    if isinstance(node, Scalar) and not _is_empty(node):
        if node.text not in names:
            remedy = f"Choose {either(names)}, or write lines below it, indented."
            raise place.error(f"{quote(node.text)} is not one of the choices here.", remedy, nearest(node.text, names))
        node = Section({key: node}, {key: node.line}, node.line)
    name, shared = spec["member"], params.specs(common)
    section = _need_section(node, (key, *shared, *params.specs(params.own_params(package, name))), place)
    if key in section.entries:
        word = section.entries[key]
        name = _value(word, {"kind": "choice", "options": names, "optional": False}, place.at(key, word.line))
    own = params.own_params(package, name)
    rest = Section({k: v for k, v in section.entries.items() if k != key}, section.key_lines, section.line)
    values = _family_values(rest, spec, name, {**shared, **params.specs(own)}, place)
    if key in shared:
        values[key] = name
    return params.Chosen(
        name,
        _build(own, {k: v for k, v in values.items() if k in params.specs(own)}, section, place) if own else None,
        _build(common, {k: v for k, v in values.items() if k in shared}, section, place) if common else None,
    )


def _family_values(
    node: Section, spec: Spec, name: str, specs: Mapping[str, Field[Any]], place: Place
) -> dict[str, Any]:
    """As `_values`; the error for an unknown key says which other member of the family has it."""
    try:
        return _values(node, specs, place)
    except PresetError as error:
        key = error.where.rsplit(".", 1)[-1]
        homes = [
            other
            for other in registry.names(spec["package"])
            if other != name and key in params.specs(params.own_params(spec["package"], other))
        ]
        if error.problem != UNKNOWN or not homes:
            raise
        hint = f"The line {key} is for {spec['key']}: {' or '.join(homes)}; here it is {name}."
        raise replace(place, where=error.where, line=error.line).error(error.problem, error.remedy, hint) from error


def _many(node: Node, spec: Spec, place: Place) -> tuple[Any, ...]:
    of = spec["of"]
    item = of.metadata if isinstance(of, Field) else {"kind": "group", "of": of}
    if _is_empty(node):
        return ()
    if isinstance(node, Scalar) and item["kind"] not in _NESTED:
        node = YamlList((node,), node.line)  # a single word counts as a list
    if not isinstance(node, YamlList):
        found = quote(node.text) if isinstance(node, Scalar) else "A section"
        raise place.error(f"{found} is not a list.", "Write each item on its own line behind a hyphen and a space.")
    if len(node.items) > spec["most"]:
        raise place.error(f"{len(node.items)} items are too many.", f"Give up to {spec['most']}.")
    places = (replace(place, where=f"{place.where}[{n}]", line=i.line) for n, i in enumerate(node.items, 1))
    return tuple(_value(i, item, here) for i, here in zip(node.items, places, strict=True))


_NESTED: Mapping[str, Callable[[Node, Spec, Place], Any]] = {"group": _group, "family": _family, "many": _many}
