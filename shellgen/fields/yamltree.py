"""YAML text as a plain tree with the line of every key and value, without anything that a stranger could misuse.

Only the parser's events are used: YAML builds no object and guesses no type (`no`, `12:30` and `0123` stay text; the
field decides what they mean). Tags, anchors and aliases are refused, so a small file cannot grow into a large one.

References
----------
YAML Ain't Markup Language 1.2.2, section 3.2.2 (serialisation tree) and 5.1 (character set).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import yaml

from shellgen.errors import PresetError, printable

LARGEST = 128 * 1024  # bytes; chosen: two hundred spike groups with comments take about 60 kB
DEEPEST = 20  # lists and sections within each other; chosen: the deepest preset field stands 5 deep

INSTEAD = "instead"
"""Section of a preset whose lines replace those of the other sections."""

_EXAMPLE = "Write keys and values, such as: name: marsh-warden"
_ODD = re.compile("[^\t\n\r\x20-\x7e\xa0-\u2027\u202a-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""All characters outside YAML's character set, and line breaks that editors do not count."""


@dataclass(frozen=True, slots=True)
class Scalar:
    """A figure or word as written; `plain` if it has no quotes."""

    text: str
    line: int
    plain: bool


@dataclass(frozen=True, slots=True)
class YamlList:
    """A list."""

    items: tuple[Node, ...]
    line: int


@dataclass(frozen=True, slots=True)
class Section:
    """Keys with their values. `key_lines[key]` is the line of the key, `line` that of the first key."""

    entries: Mapping[str, Node]
    key_lines: Mapping[str, int]
    line: int


Node = Scalar | YamlList | Section


def joined(whole: Section, other: Section) -> Section:
    """Both sections; where both have a key, sections are joined and any other value is that of `other`."""
    entries = dict(whole.entries)
    for key, value in other.entries.items():
        mine = entries.get(key)
        entries[key] = joined(mine, value) if isinstance(mine, Section) and isinstance(value, Section) else value
    return Section(entries, {**whole.key_lines, **other.key_lines}, whole.line)


def quote(text: str, *, longest: int = 48) -> str:
    """`text` fit for a message: in quotes, cut short, nothing unprintable (a preset may come from a stranger)."""
    short = text if len(text) <= longest else text[: longest - 1] + "…"
    shown = printable(short)
    size = f" ({len(text)} characters)" if len(text) > longest else ""
    mark = "'" if '"' in shown else '"'
    return f"{mark}{shown}{mark}{size}"


def read(path: Path) -> Section:
    """The tree of a preset file. PresetError if it cannot be read or is not a file of keys and values."""
    return parse(content(path), file=str(path))


def content(path: Path) -> bytes:
    """The bytes of a preset file, at most one more than allowed. PresetError if it cannot be read."""
    try:
        if not path.is_file():
            is_folder, there = path.is_dir(), path.exists()
            found = "This is a folder." if is_folder else "This is not a file." if there else "There is no such file."
            remedy = "Name a preset, such as presets/marsh-warden.yaml."
            raise PresetError("", found, remedy, file=str(path))
        with path.open("rb") as stream:
            return stream.read(LARGEST + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        problem = f"The file cannot be read: {reason}."
        raise PresetError("", problem, "Name a file that you may read.", file=str(path)) from error


def parse(data: bytes, *, file: str = "") -> Section:
    """The tree of a preset's bytes."""
    text = _decode(data, file)
    try:
        return _document(yaml.parse(text, Loader=yaml.SafeLoader), file)
    except yaml.MarkedYAMLError as error:
        raise _explain(error, text, file) from error
    except (yaml.YAMLError, ValueError) as error:
        raise PresetError("", f"This is not YAML: {error}.", "Write keys and values.", file=file) from error


def _decode(data: bytes, file: str) -> str:
    if len(data) > LARGEST:
        size = f"{LARGEST // 1024} kB"
        raise PresetError("", f"The file has more than {size}.", f"A preset has up to {size}.", file=file)
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise PresetError("", "This is UTF-16 text.", "Save the file as UTF-8.", file=file, line=1)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found = f"Here is the byte 0x{data[error.start]:02x}, which is not UTF-8."
        raise PresetError("", found, "Save the file as UTF-8.", file=file, line=line) from error
    if odd := _ODD.search(text):
        found = f"Here is the control character U+{ord(odd[0]):04X}."
        raise PresetError("", found, "Write plain text.", file=file, line=text.count("\n", 0, odd.start()) + 1)
    return text


def _document(events: Iterator[yaml.Event], file: str) -> Section:
    """The one document of the stream, which must be a section."""
    root: Node | None = None
    for event in events:
        if isinstance(event, yaml.DocumentStartEvent):
            if root is not None:
                line = event.start_mark.line + 1
                raise PresetError("", "A second document begins.", "Write one preset in a file.", file=file, line=line)
            root = _node(next(events), events, file, depth=1)
    if root is None:
        raise PresetError("", "The file is empty.", _EXAMPLE, file=file)
    if isinstance(root, Scalar) and not root.text and root.plain:
        raise PresetError("", "The file has only comments.", _EXAMPLE, file=file)
    if not isinstance(root, Section):
        what = "a list" if isinstance(root, YamlList) else f"only {quote(root.text)}"
        raise PresetError("", f"The file is {what}.", _EXAMPLE, file=file, line=root.line)
    return root


def _node(event: yaml.Event, events: Iterator[yaml.Event], file: str, *, depth: int) -> Node:
    line = event.start_mark.line + 1
    if isinstance(event, yaml.AliasEvent) or event.anchor is not None:
        sign = "*" if isinstance(event, yaml.AliasEvent) else "&"
        found = quote(f"{sign}{event.anchor}")
        raise PresetError("", f"{found} is not allowed.", "Write values out, without & and *.", file=file, line=line)
    if event.tag is not None:
        problem = f"The tag {quote(event.tag)} is not allowed."
        raise PresetError("", problem, "Write plain values without !.", file=file, line=line)
    if isinstance(event, yaml.ScalarEvent):
        return Scalar(event.value, line, event.style is None)
    if depth > DEEPEST:
        problem = f"There are more than {DEEPEST} levels of sections and lists."
        raise PresetError("", problem, f"Use up to {DEEPEST} levels.", file=file, line=line)
    if isinstance(event, yaml.MappingStartEvent):
        return _section(events, file, line, depth=depth)
    items = []
    while not isinstance(event := next(events), yaml.SequenceEndEvent):
        items.append(_node(event, events, file, depth=depth + 1))
    return YamlList(tuple(items), line)


def _section(events: Iterator[yaml.Event], file: str, line: int, *, depth: int) -> Section:
    entries: dict[str, Node] = {}
    key_lines: dict[str, int] = {}
    while not isinstance(event := next(events), yaml.MappingEndEvent):
        key = _node(event, events, file, depth=depth + 1)
        if not isinstance(key, Scalar) or not key.text:
            raise PresetError("", "The key is not a word.", "Write a word and a colon.", file=file, line=key.line)
        if key.text in entries:
            found = f"{quote(key.text)} stands here twice, first in line {key_lines[key.text]}."
            raise PresetError("", found, "Write each key once.", file=file, line=key.line)
        key_lines[key.text] = key.line
        entries[key.text] = _node(next(events), events, file, depth=depth + 1)
    return Section(entries, key_lines, line)


def _explain(error: yaml.MarkedYAMLError, text: str, file: str) -> PresetError:
    """The parser's error in a maker's words."""
    problem, context = error.problem or "", error.context or ""
    mark = error.problem_mark or error.context_mark
    opening = error.context_mark or mark
    at_opening = "quoted scalar" in context or "flow" in context or "simple key" in context
    line = (opening if at_opening else mark).line + 1 if mark and opening else 0
    lines = text.splitlines()
    shown = quote(lines[line - 1].strip()) if 0 < line <= len(lines) else "This text"
    found, remedy, hint = f"{shown} is not YAML.", "Write a key, a colon and a space, then the value.", ""
    if "'\\t'" in problem:
        found, remedy = "Here is a tab.", "Indent with spaces."
    elif "mapping values" in problem:
        hint = "Perhaps there is a second colon, too much indent, or no space after the colon of the line above."
    elif "quoted scalar" in context:
        found, remedy = f"{shown} has quotes that do not close, or a bad \\ in them.", "Write a closing quote."
    elif "flow" in context:
        found = f"{shown} has brackets that do not close."
        remedy = "Write a comma between values and a closing ] or }."
    elif "cannot start any token" in problem:
        hint = "Put text with signs in quotes."
    elif "<block end>" in problem:
        hint = "Indent all lines of one section by the same amount."
    return PresetError("", found, remedy, file=file, line=line, hint=hint)
