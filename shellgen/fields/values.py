"""One figure or word of a preset, read by the kind of its field and checked against its bounds."""

from __future__ import annotations

import datetime
import difflib
import hashlib
import math
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any

from shellgen.core import registry
from shellgen.errors import PresetError
from shellgen.fields import units
from shellgen.fields.params import File
from shellgen.fields.yamltree import quote

Spec = Mapping[str, Any]
"""The metadata of a field made by `shellgen.params`."""

YES, NO = ("yes", "true", "on"), ("no", "false", "off")
SLUG = "[a-z0-9]+(-[a-z0-9]+)*"
RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}
"""Device names that Windows takes for itself whatever the extension (Microsoft Learn, "Naming Files, Paths")."""

FIRST_DAY, LAST_DAY = datetime.date(2000, 1, 1), datetime.date(2199, 12, 31)  # chosen: the lifetimes of makers
_INVISIBLE = ("Cc", "Cs", "Co", "Cn", "Zl", "Zp")
_TURNING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"  # reverse the text that follows on a page


@dataclass(frozen=True, slots=True)
class Place:
    """Where in which file: what an error needs to know."""

    file: str
    where: str
    line: int

    def at(self, name: str, line: int) -> Place:
        return replace(self, where=f"{self.where}.{name}" if self.where else name, line=line)

    def error(self, found: str, allowed: str, hint: str = "") -> PresetError:
        return PresetError(self.where, found, allowed, file=self.file, line=self.line, hint=hint)


def read(text: str, spec: Spec, place: Place) -> Any:
    """What `text` means for the field. PresetError with what was found and what is allowed."""
    return _READERS[spec["kind"]](text, spec, place)


def _quantity(text: str, spec: Spec, place: Place) -> float:
    unit = spec.get("unit", "")
    try:
        quantity = units.read(text, spec["kind"], unit=unit)
    except ValueError as error:
        raise place.error(quote(text), allowed(spec), str(error)) from error
    low, high = _bounds(spec)
    if not low <= quantity.value <= high:
        raise place.error(quote(text), allowed(spec, quantity.unit))
    return quantity.value


def _count(text: str, spec: Spec, place: Place) -> int:
    if not re.fullmatch("[+-]?[0-9]{1,9}", text) or not spec["low"] <= int(text) <= spec["high"]:
        raise place.error(quote(text), allowed(spec))
    return int(text)


def _choice(text: str, spec: Spec, place: Place) -> str:
    names = _options(spec)
    if text not in names:
        raise place.error(quote(text), listing(names), nearest(text, names))
    return text


def _flag(text: str, spec: Spec, place: Place) -> bool:
    if text.lower() not in YES + NO:
        raise place.error(quote(text), allowed(spec))
    return text.lower() in YES


def _text(text: str, spec: Spec, place: Place) -> str:
    if len(text) > spec["longest"] or not text:
        raise place.error(quote(text), allowed(spec))
    odd = [c for c in text if unicodedata.category(c) in _INVISIBLE or c in _TURNING]
    if odd:
        raise place.error(quote(text), allowed(spec), f"it holds the character U+{ord(odd[0]):04X}")
    return text


def _slug(text: str, spec: Spec, place: Place) -> str:
    if text in RESERVED:
        raise place.error(quote(text), allowed(spec), "Windows keeps this name for itself")
    if not re.fullmatch(SLUG, text) or len(text) > spec["longest"]:
        near = slug_of(text)[: spec["longest"]]
        raise place.error(quote(text), allowed(spec), f"such as {near}" if near and near not in RESERVED else "")
    return text


def slug_of(text: str) -> str:
    """The nearest name fit for a folder: small letters without accents, digits, single hyphens. May be empty."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub("[^a-z0-9]+", "-", plain).strip("-")


def _date(text: str, spec: Spec, place: Place) -> datetime.date:
    try:
        day = datetime.date.fromisoformat(text if re.fullmatch("[0-9]{4}-[0-9]{2}-[0-9]{2}", text) else "")
    except ValueError as error:
        raise place.error(quote(text), allowed(spec)) from error
    if not FIRST_DAY <= day <= LAST_DAY:
        raise place.error(quote(text), allowed(spec))
    return day


def _file(text: str, spec: Spec, place: Place) -> File:
    """Only what lies beside the preset or below is opened, so that a stranger's preset reaches nothing else."""
    _text(text, {**spec, "longest": 200}, place)
    try:
        return _beside(text, spec, place)
    except (OSError, RuntimeError) as error:  # RuntimeError: a link that leads to itself, before Python 3.13
        hint = getattr(error, "strerror", None) or "it leads to itself"
        raise place.error(f"{quote(text)}, which cannot be read", allowed(spec), hint) from error


def _beside(text: str, spec: Spec, place: Place) -> File:
    """OSError or RuntimeError if the file system does not let us look."""
    home = Path(place.file).resolve().parent
    path = home / text
    outside = PureWindowsPath(text).drive or PurePosixPath(text).is_absolute() or "\\" in text or ".." in path.parts
    if outside or not path.resolve().is_relative_to(home):
        raise place.error(quote(text), allowed(spec), "copy the file to where the preset is")
    if path.suffix.lower() not in spec["suffixes"]:
        raise place.error(quote(text), allowed(spec))
    if not path.is_file():
        raise place.error(f"{quote(text)}, which is not there", allowed(spec))
    if path.stat().st_size > spec["largest"]:
        size = f"{path.stat().st_size / 2**20:.0f} MB"
        raise place.error(f"{quote(text)} of {size}", f"up to {spec['largest'] // 2**20} MB", "thin it out first")
    with path.open("rb") as content:
        return File(text, path, hashlib.file_digest(content, "sha256").hexdigest())


_READERS: Mapping[str, Callable[[str, Spec, Place], Any]] = {
    **dict.fromkeys(("length", "angle", "ratio", "number", "mass"), _quantity),
    **dict.fromkeys(("choice", "member"), _choice),
    "count": _count,
    "flag": _flag,
    "text": _text,
    "slug": _slug,
    "date": _date,
    "file": _file,
}


def _bounds(spec: Spec) -> tuple[float, float]:
    turn = math.radians if spec["kind"] == "angle" else float
    return turn(spec["low"]), turn(spec["high"])


def _options(spec: Spec) -> tuple[str, ...]:
    return registry.names(spec["package"]) if spec["kind"] == "member" else spec["options"]


def allowed(spec: Spec, written_unit: str = "") -> str:
    """What a field takes, in words; bounds in the unit the maker wrote."""
    kind = spec["kind"]
    optional = ", or none" if spec.get("optional") and kind not in ("text", "slug") else ""
    if kind in units.SCALES or kind == "number":
        low, high = _bounds(spec)
        unit = spec.get("unit", "")
        least = units.write(low, kind, written_unit, unit=unit, rounding="up")
        return f"{least} to {units.write(high, kind, written_unit, unit=unit, rounding='down')}{optional}"
    if kind in ("choice", "member"):
        return listing(_options(spec)) + optional
    words = {
        "count": lambda: f"a whole number from {spec['low']} to {spec['high']}",
        "flag": lambda: "yes or no",
        "text": lambda: f"one line of 1 to {spec['longest']} plain characters",
        "slug": lambda: f"up to {spec['longest']} small letters, digits and single hyphens",
        "file": lambda: f"a file beside the preset, or in a folder below, ending in {listing(spec['suffixes'])}",
        "date": lambda: f"a day as YYYY-MM-DD from {FIRST_DAY} to {LAST_DAY}",
    }
    return words[kind]() + optional


def written(value: Any, spec: Spec) -> str:
    """The value as a maker could write it: "560 mm", "12 deg", "yes"."""
    kind = spec["kind"]
    if value is None:
        return "none"
    if kind in units.SCALES or kind == "number":
        return units.write(value, kind, unit=spec.get("unit", ""))
    if kind == "file":
        return str(value.written)
    return ("yes" if value else "no") if kind == "flag" else str(value)


def listing(names: Iterable[str]) -> str:
    """The names in one line."""
    return ", ".join(names) or "nothing"


def nearest(word: str, names: Iterable[str]) -> str:
    """A question with the right name, if one is near."""
    plain = {re.sub("[-_ ]+", " ", name.lower()): name for name in names}
    near = difflib.get_close_matches(re.sub("[-_ ]+", " ", word.lower()), plain, 1, 0.6)
    return f"did you mean {plain[near[0]]}?" if near else ""
