"""YAML text as a plain tree with the line of every key and value, and nothing that a stranger could misuse.

Only the parser's events are used: no object is built by YAML and no scalar is guessed at (`no`, `12:30` and
`0123` stay text; what a figure means is for the field it stands in to say). Tags, anchors and aliases are refused,
so a small file cannot grow into a large one.

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

_ODD = re.compile("[^\t\n\r\x20-\x7e\xa0-\u2027\u202a-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""YAML's character set, less the line breaks that editors do not count."""


@dataclass(frozen=True, slots=True)
class Scalar:
    """A figure or word as written; `plain` if it stands without quotes."""

    text: str
    line: int
    plain: bool


@dataclass(frozen=True, slots=True)
class Items:
    """A list."""

    items: tuple[Node, ...]
    line: int


@dataclass(frozen=True, slots=True)
class Section:
    """Keys with their values. `key_lines[key]` is where the key stands, `line` where the first one does."""

    entries: Mapping[str, Node]
    key_lines: Mapping[str, int]
    line: int


Node = Scalar | Items | Section


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
    """The bytes of a preset file, one more than there may be at most. PresetError if it cannot be read."""
    try:
        if not path.is_file():
            found = "a folder" if path.is_dir() else "not a file" if path.exists() else "no such file"
            raise PresetError("", found, "the path of a preset, such as presets/marsh-warden.yaml", file=str(path))
        with path.open("rb") as stream:
            return stream.read(LARGEST + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise PresetError("", f"a file that cannot be read: {reason}", "a readable file", file=str(path)) from error


def parse(data: bytes, *, file: str = "") -> Section:
    """The tree of a preset's bytes."""
    text = _decode(data, file)
    try:
        return _document(yaml.parse(text, Loader=yaml.SafeLoader), file)
    except yaml.MarkedYAMLError as error:
        raise _explain(error, text, file) from error
    except (yaml.YAMLError, ValueError) as error:
        raise PresetError("", f"text that is not YAML: {error}", "keys and values", file=file) from error


def _decode(data: bytes, file: str) -> str:
    if len(data) > LARGEST:
        raise PresetError("", f"more than {LARGEST // 1024} kB", f"a preset of up to {LARGEST // 1024} kB", file=file)
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise PresetError("", "UTF-16 text", "UTF-8 text", file=file, line=1, hint="save the file as UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found = f"the byte 0x{data[error.start]:02x}, which is not UTF-8"
        raise PresetError("", found, "UTF-8 text", file=file, line=line, hint="save the file as UTF-8") from error
    if odd := _ODD.search(text):
        found = f"the control character U+{ord(odd[0]):04X}"
        raise PresetError("", found, "plain text", file=file, line=text.count("\n", 0, odd.start()) + 1)
    return text


def _document(events: Iterator[yaml.Event], file: str) -> Section:
    """The one document of the stream, which must be a section."""
    root: Node | None = None
    for event in events:
        if isinstance(event, yaml.DocumentStartEvent):
            if root is not None:
                line = event.start_mark.line + 1
                raise PresetError("", "a second document", "one preset in a file", file=file, line=line)
            root = _node(next(events), events, file, depth=1)
    if root is None:
        raise PresetError("", "an empty file", "keys and values, such as: name: marsh-warden", file=file)
    if isinstance(root, Scalar) and not root.text and root.plain:
        raise PresetError("", "nothing but comments", "keys and values, such as: name: marsh-warden", file=file)
    if not isinstance(root, Section):
        what = "a list" if isinstance(root, Items) else quote(root.text)
        raise PresetError("", what, "keys and values, such as: name: marsh-warden", file=file, line=root.line)
    return root


def _node(event: yaml.Event, events: Iterator[yaml.Event], file: str, *, depth: int) -> Node:
    line = event.start_mark.line + 1
    if isinstance(event, yaml.AliasEvent) or event.anchor is not None:
        sign = "*" if isinstance(event, yaml.AliasEvent) else "&"
        found = quote(f"{sign}{event.anchor}")
        raise PresetError("", found, "values written out, without & and *", file=file, line=line)
    if event.tag is not None:
        raise PresetError("", f"the tag {quote(event.tag)}", "plain values without !", file=file, line=line)
    if isinstance(event, yaml.ScalarEvent):
        return Scalar(event.value, line, event.style is None)
    if depth > DEEPEST:
        raise PresetError("", f"more than {DEEPEST} levels", f"up to {DEEPEST} levels", file=file, line=line)
    if isinstance(event, yaml.MappingStartEvent):
        return _section(events, file, line, depth=depth)
    items = []
    while not isinstance(event := next(events), yaml.SequenceEndEvent):
        items.append(_node(event, events, file, depth=depth + 1))
    return Items(tuple(items), line)


def _section(events: Iterator[yaml.Event], file: str, line: int, *, depth: int) -> Section:
    entries: dict[str, Node] = {}
    key_lines: dict[str, int] = {}
    while not isinstance(event := next(events), yaml.MappingEndEvent):
        key = _node(event, events, file, depth=depth + 1)
        if not isinstance(key, Scalar) or not key.text:
            raise PresetError("", "a key that is not a word", "a word and a colon", file=file, line=key.line)
        if key.text in entries:
            found = f"{quote(key.text)} twice, first in line {key_lines[key.text]}"
            raise PresetError("", found, "each key once", file=file, line=key.line)
        key_lines[key.text] = key.line
        entries[key.text] = _node(next(events), events, file, depth=depth + 1)
    return Section(entries, key_lines, line)


def _explain(error: yaml.MarkedYAMLError, text: str, file: str) -> PresetError:
    """The parser's complaint in a maker's words."""
    problem, context = error.problem or "", error.context or ""
    mark = error.problem_mark or error.context_mark
    opening = error.context_mark or mark
    at_opening = "quoted scalar" in context or "flow" in context or "simple key" in context
    line = (opening if at_opening else mark).line + 1 if mark and opening else 0
    lines = text.splitlines()
    found, hint = quote(lines[line - 1].strip()) if 0 < line <= len(lines) else "text that is not YAML", ""
    allowed = "a key, a colon and a space, then the value"
    if "'\\t'" in problem:
        found, allowed = "a tab", "spaces to indent with"
    elif "mapping values" in problem:
        hint = "a second colon, an indent too deep, or no space after the colon of the line above"
    elif "quoted scalar" in context:
        found, allowed = f"quotes that do not close, or a bad \\ in them, {found}", "a closing quote"
    elif "flow" in context:
        found, allowed = f"brackets that do not close, {found}", "a comma between values and a closing ] or }"
    elif "cannot start any token" in problem:
        hint = "put text with signs in quotes"
    elif "<block end>" in problem:
        hint = "lines of one section are indented alike"
    return PresetError("", found, allowed, file=file, line=line, hint=hint)
