"""Reads one figure or word of a preset by the kind of its field, and checks it against the bounds of the field."""

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
"""The metadata of a field declared with `shellgen.fields.params`."""

YES, NO = ("yes", "true", "on"), ("no", "false", "off")
SLUG = "[a-z0-9]+(-[a-z0-9]+)*"
RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}
"""Device names that Windows reserves, with any extension (Microsoft Learn, "Naming Files, Paths")."""

LIKELY = {"length": ("in", "cm", "m"), "mass": ("kg", "lb")}
"""Units that makers forget to write, likeliest first."""

MOST = 12
"""Names in an error; more cannot be read at a glance (chosen)."""

FIRST_DAY, LAST_DAY = datetime.date(2000, 1, 1), datetime.date(2199, 12, 31)  # chosen: the lifetimes of makers
_INVISIBLE = ("Cc", "Cs", "Co", "Cn", "Zl", "Zp")
_TURNING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"  # reverse the text that follows on a page


@dataclass(frozen=True, slots=True)
class Place:
    """File, field and line, as an error names them."""

    file: str
    where: str
    line: int

    def at(self, name: str, line: int) -> Place:
        return replace(self, where=f"{self.where}.{name}" if self.where else name, line=line)

    def error(self, problem: str, remedy: str, hint: str = "") -> PresetError:
        return PresetError(self.where, problem, remedy, file=self.file, line=self.line, hint=hint)


def read(text: str, spec: Spec, place: Place) -> Any:
    """The value that `text` stands for in this field. PresetError if it is not allowed there."""
    return _READERS[spec["kind"]](text, spec, place)


def _quantity(text: str, spec: Spec, place: Place) -> float:
    unit = spec.get("unit", "")
    try:
        quantity = units.read(text, spec["kind"], unit=unit)
    except ValueError as error:
        problem = f"{quote(text)} cannot be read as {_NOUNS[spec['kind']]}."
        raise place.error(problem, give(spec), str(error)) from error
    low, high = _bounds(spec)
    if not low <= quantity.value <= high:
        problem = "is too small." if quantity.value < low else "is too large."
        meant = "" if quantity.unit else _meant(text, spec)
        raise place.error(f"{quote(text)} {problem}", give(spec, quantity.unit), meant or spec["doc"])
    return quantity.value


def _meant(text: str, spec: Spec) -> str:
    """A question for a bare figure that lies within the bounds in another unit; empty if none is likely."""
    kind, (low, high) = spec["kind"], _bounds(spec)
    fitting = [
        (unit, value)
        for unit in LIKELY.get(kind, ())
        if low <= (value := units.read(f"{text} {unit}", kind).value) <= high
    ]
    bare = next(iter(units.SCALES[kind])) if fitting else ""
    sizes = listing(f"{text} {unit} would be {value:.0f} {bare}" for unit, value in fitting)
    words = either([f'"{text} {unit}"' for unit, _ in fitting]) if fitting else ""
    return f"A figure without a unit is in {bare}. {sizes}: write {words}." if fitting else ""


def _count(text: str, spec: Spec, place: Place) -> int:
    if not re.fullmatch("[+-]?[0-9]{1,9}", text):
        raise place.error(f"{quote(text)} is not a whole number.", give(spec))
    if not spec["low"] <= int(text) <= spec["high"]:
        problem = "is too small." if int(text) < spec["low"] else "is too large."
        raise place.error(f"{quote(text)} {problem}", give(spec), spec["doc"])
    return int(text)


def _choice(text: str, spec: Spec, place: Place) -> str:
    names = _options(spec)
    if text not in names:
        raise place.error(f"{quote(text)} is not one of the choices here.", give(spec), nearest(text, names))
    return text


def _flag(text: str, spec: Spec, place: Place) -> bool:
    if text.lower() not in YES + NO:
        raise place.error(f"{quote(text)} is neither yes nor no.", give(spec))
    return text.lower() in YES


def _text(text: str, spec: Spec, place: Place) -> str:
    if len(text) > spec["longest"] or not text:
        raise place.error(f"{quote(text)} is {'too long' if text else 'empty'}.", give(spec))
    odd = [c for c in text if unicodedata.category(c) in _INVISIBLE or c in _TURNING]
    if odd:
        raise place.error(f"{quote(text)} holds the character U+{ord(odd[0]):04X}.", give(spec))
    return text


def _slug(text: str, spec: Spec, place: Place) -> str:
    if text in RESERVED:
        raise place.error(f"{quote(text)} is a name that Windows reserves.", give(spec))
    if not re.fullmatch(SLUG, text) or len(text) > spec["longest"]:
        near = slug_of(text)[: spec["longest"]]
        hint = f"Try {near}." if near and near not in RESERVED else ""
        raise place.error(f"{quote(text)} cannot name a folder on every system.", give(spec), hint)
    return text


def slug_of(text: str) -> str:
    """The nearest name fit for a folder: small letters without accents, digits, single hyphens; or an empty text."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub("[^a-z0-9]+", "-", plain).strip("-")


def _date(text: str, spec: Spec, place: Place) -> datetime.date:
    try:
        day = datetime.date.fromisoformat(text if re.fullmatch("[0-9]{4}-[0-9]{2}-[0-9]{2}", text) else "")
    except ValueError as error:
        raise place.error(f"{quote(text)} is not a day of the calendar.", give(spec)) from error
    if not FIRST_DAY <= day <= LAST_DAY:
        problem = "is too early." if day < FIRST_DAY else "is too late."
        raise place.error(f"{quote(text)} {problem}", give(spec))
    return day


def _file(text: str, spec: Spec, place: Place) -> File:
    """Opens only files in the preset's folder or below it, so that a stranger's preset reaches nothing else."""
    _text(text, {**spec, "longest": 200}, place)
    try:
        return _in_folder(text, spec, place)
    except (OSError, RuntimeError) as error:  # RuntimeError: a link that leads to itself, before Python 3.13
        reason = getattr(error, "strerror", None) or "the link leads to itself"
        raise place.error(f"{quote(text)} cannot be read: {reason}.", give(spec)) from error


def _in_folder(text: str, spec: Spec, place: Place) -> File:
    """OSError or RuntimeError if the file system refuses access."""
    home = Path(place.file).resolve().parent
    path = home / text
    outside = PureWindowsPath(text).drive or PurePosixPath(text).is_absolute() or "\\" in text or ".." in path.parts
    if outside or not path.resolve().is_relative_to(home):
        hint = "Copy the file into the preset's folder."
        raise place.error(f"{quote(text)} leads out of the preset's folder.", give(spec), hint)
    if path.suffix.lower() not in spec["suffixes"]:
        raise place.error(f"{quote(text)} is of another kind.", give(spec))
    if not path.is_file():
        raise place.error(f"{quote(text)} does not exist.", give(spec))
    if path.stat().st_size > spec["largest"]:
        size = f"{path.stat().st_size / 2**20:.0f} MB"
        remedy = f"Thin the scan out to {spec['largest'] // 2**20} MB or less."
        raise place.error(f"{quote(text)} has {size}.", remedy)
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


_NOUNS = {"length": "a length", "angle": "an angle", "ratio": "a ratio", "mass": "a mass", "number": "a number"}
_VERBS = {"flag": "Write", "text": "Write", "slug": "Use", "file": "Name"}


def give(spec: Spec, written_unit: str = "") -> str:
    """What to write in a field, as a sentence; bounds in the unit that the maker wrote."""
    kind = spec["kind"]
    if kind not in ("choice", "member"):
        return f"{_VERBS.get(kind, 'Give')} {allowed(spec, written_unit)}."
    return f"Choose {either((*_options(spec), *(('none',) if spec.get('optional') else ())))}."


def allowed(spec: Spec, written_unit: str = "") -> str:
    """What a field accepts, without a verb; bounds in the unit that the maker wrote."""
    kind = spec["kind"]
    optional = ", or none" if spec.get("optional") and kind not in ("text", "slug") else ""
    if kind in units.SCALES or kind == "number":
        low, high = _bounds(spec)
        unit = spec.get("unit", "")
        written_unit = written_unit or ("kg" if kind == "mass" else "")
        least = units.write(low, kind, written_unit, unit=unit, rounding="up")
        return f"{least} to {units.write(high, kind, written_unit, unit=unit, rounding='down')}{optional}"
    if kind in ("choice", "member"):
        return listing(_options(spec)) + optional
    words: dict[str, Callable[[], str]] = {
        "count": lambda: f"a whole number from {spec['low']} to {spec['high']}",
        "flag": lambda: "yes or no",
        "text": lambda: f"one line of 1 to {spec['longest']} plain characters",
        "slug": lambda: f"up to {spec['longest']} small letters, digits and single hyphens",
        "file": lambda: (
            f"a file in the preset's folder, or in a folder below it, that ends in {either(spec['suffixes'])}"
        ),
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


def listing(names: Iterable[str], *, between: str = ", ", rest: str = "") -> str:
    """The names in one line; of many a dozen, and where the `rest` is listed."""
    known = tuple(names)
    more = len(known) - MOST
    if more <= 0:
        return between.join(known) or "nothing"
    return f"{between.join(known[:MOST])} and {more} more{f': {rest}' if rest else ''}"


def either(names: Iterable[str], *, rest: str = "") -> str:
    """The names as a choice: "A4, A3 or Letter"; of many a dozen, and where the `rest` is listed."""
    *others, last = known = tuple(names)
    if len(known) > MOST:
        return listing(known, rest=rest)
    return f"{', '.join(others)} or {last}" if others else last


def explained(spec: Spec, unit: str = "") -> str:
    """What a field means and accepts: the same words in lists, in questions and in the JSON Schema."""
    return f"{spec['doc']} Allowed: {allowed(spec, unit)}."


def nearest(word: str, names: Iterable[str]) -> str:
    """A question that offers the most similar name; empty if none is similar."""
    plain = {re.sub("[-_ ]+", " ", name.lower()): name for name in names}
    near = difflib.get_close_matches(re.sub("[-_ ]+", " ", word.lower()), plain, 1, 0.6)
    return f"Did you mean {plain[near[0]]}?" if near else ""
