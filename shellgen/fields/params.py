"""How a stage declares what a preset may say about it.

Each stage owns a frozen dataclass `Params` whose fields are declared with the functions below. `bind` reads YAML
into them and checks kind and bounds; `preset.schema` writes the JSON Schema. Nothing else needs to know the fields.
The values in a Params are mm, radians, grams and plain numbers.
"""

from __future__ import annotations

from dataclasses import MISSING, Field, dataclass, field, fields
from pathlib import Path
from typing import Any

from shellgen.core import registry

REQUIRED: Any = object()


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """A family section as read: which member, its own Params (None if it has none) and what all members share."""

    name: str
    own: Any
    common: Any = None


@dataclass(frozen=True, slots=True)
class File:
    """A file that a preset names.

    written : as in the preset
    digest  : SHA-256 of its content, so that results computed from it are out of date when the content changes
    """

    written: str
    path: Path
    digest: str


def _field(kind: str, default: Any, doc: str, **more: Any) -> Any:
    metadata = {"kind": kind, "doc": doc, "optional": default is None, **more}
    if default is REQUIRED:
        return field(metadata=metadata)
    if callable(default):
        return field(default_factory=default, metadata=metadata)
    return field(default=default, metadata=metadata)


def length(default: Any, low: float, high: float, doc: str) -> Any:
    """A length; bounds and default in mm. Written as a number of mm or "3/4 in", "5 cm". None allowed if default."""
    return _field("length", default, doc, low=low, high=high)


def angle(default: Any, low: float, high: float, doc: str) -> Any:
    """An angle; bounds and default in degrees, passed on in radians (`values` converts, and so does `default`)."""
    from math import radians

    value = default if default is None or default is REQUIRED else radians(default)
    return _field("angle", value, doc, low=low, high=high)


def ratio(default: Any, low: float, high: float, doc: str) -> Any:
    """A pure ratio. Written as a number or with a percent sign: 0.03 or "3 %"."""
    return _field("ratio", default, doc, low=low, high=high)


def number(default: Any, low: float, high: float, doc: str, unit: str = "") -> Any:
    """A number in the one unit named, such as "g/cm3" or "g/m2"."""
    return _field("number", default, doc, low=low, high=high, unit=unit)


def count(default: Any, low: int, high: int, doc: str) -> Any:
    """A whole number."""
    return _field("count", default, doc, low=low, high=high)


def mass(default: Any, low: float, high: float, doc: str) -> Any:
    """A mass; grams. Written as "120 g", "72 kg", "160 lb"; a bare number is grams."""
    return _field("mass", default, doc, low=low, high=high)


def choice(default: Any, options: tuple[str, ...], doc: str) -> Any:
    """One of the words in `options`."""
    return _field("choice", default, doc, options=options)


def member(default: Any, package: str, doc: str) -> Any:
    """The name of a module in a family folder, such as "shellgen.plates"."""
    return _field("member", default, doc, package=package)


def flag(default: bool, doc: str) -> Any:
    """Yes or no."""
    return _field("flag", default, doc)


def text(default: Any, doc: str, longest: int = 80) -> Any:
    """One line of plain text without control characters."""
    return _field("text", default, doc, longest=longest)


def file(default: Any, suffixes: tuple[str, ...], largest: int, doc: str) -> Any:
    """A file in the preset's folder or below it; a `File`. suffixes : small, with their dots; largest : bytes."""
    return _field("file", default, doc, suffixes=suffixes, largest=largest)


def date(default: Any, doc: str) -> Any:
    """A calendar day, YYYY-MM-DD (ISO 8601); a `datetime.date`."""
    return _field("date", default, doc)


def group(of: type, doc: str) -> Any:
    """A nested Params; may be left out if none of its fields is required."""
    required = any(is_required(spec) for spec in fields(of))
    return _field("group", REQUIRED if required else of, doc, of=of)


def family(default: str, key: str, package: str, doc: str, *, common: type | None = None) -> Any:
    """A section whose `key` names a member of `package`, and which holds that member's `Params`; a `Chosen`.

    common : Params whose fields may stand in the section with any member; its field `key`, if it has one,
             is the member's name
    A bare word in place of the section is the member with its defaults.
    """

    def chosen() -> Chosen:
        own = own_params(package, default)
        return Chosen(default, own() if own else None, common() if common else None)

    metadata = {"member": default, "key": key, "package": package, "common": common}
    return _field("family", chosen, doc, **metadata)


def own_params(package: str, name: str) -> type | None:
    """The `Params` of one member of a family, if it has any."""
    return getattr(registry.load(package, name), "Params", None)


def specs(params: type | None) -> dict[str, Field[Any]]:
    """The fields of a Params class by name, in the order they are declared."""
    return {spec.name: spec for spec in fields(params)} if params else {}


def is_required(spec: Field[Any]) -> bool:
    return spec.default is MISSING and spec.default_factory is MISSING


def slug(default: Any, doc: str, longest: int = 60) -> Any:
    """A name fit for a folder on any system: small letters, digits and single hyphens."""
    return _field("slug", default, doc, longest=longest)


def many(of: Any, doc: str, most: int = 200, default: Any = ()) -> Any:
    """A list. `of` is a Params class, or a field made by one of these functions; passed on as a tuple."""
    return _field("many", default, doc, of=of, most=most)
