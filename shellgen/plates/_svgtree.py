"""XML of a stranger as a tree: nothing outside the text is ever opened, and no text grows beyond its bytes."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NoReturn
from xml.parsers import expat

from shellgen.plates._sketch import Unreadable

DEPTH, ELEMENTS = 100, 60_000
"""Chosen: far beyond what drawing programs nest and save."""
ENTITIES, ENTITY, TEXT = 60, 300, 8_000_000
"""Entities (some programs declare the names of their own formats so), characters in each and characters of the whole
document once they stand for what they mean. Chosen."""


@dataclass(slots=True, eq=False)
class SvgElement:
    """name : without its prefix; attributes : with theirs; text : before the first child; tail : behind the element"""

    name: str
    attributes: dict[str, str]
    line: int
    children: list[SvgElement] = field(default_factory=list)
    text: str = ""
    tail: str = ""


def parse(data: bytes) -> SvgElement:
    """The root element. Unreadable for what is no XML, or for entities that refer to files or to each other."""
    builder = _Builder()
    try:
        builder.parser.Parse(data, True)
    except expat.ExpatError as error:
        raise Unreadable(f"line {error.lineno}: it is not whole XML ({expat.ErrorString(error.code)})") from error
    except (ValueError, LookupError) as error:
        raise Unreadable(f"its characters cannot be read ({error})") from error
    if builder.root is None or builder.root.name != "svg":
        raise Unreadable("it is not an SVG drawing")
    return builder.root


class _Builder:
    def __init__(self) -> None:
        self.parser = expat.ParserCreate()
        self.parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._characters
        self.parser.EntityDeclHandler = self._entity
        self.parser.ExternalEntityRefHandler = self._outside
        self.parser.buffer_text = True
        self.root: SvgElement | None = None
        self.open: list[SvgElement] = []
        self.elements = self.entities = self.size = 0

    def _refuse(self, reason: str) -> NoReturn:
        raise Unreadable(f"line {self.parser.CurrentLineNumber}: {reason}")

    def _grow(self, size: int) -> None:
        self.size += size
        if self.size > TEXT:
            self._refuse("its entities make it too long")

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self.elements += 1
        self._grow(sum(map(len, attributes.values())))
        if self.elements > ELEMENTS or len(self.open) >= DEPTH:
            self._refuse(f"it has more than {ELEMENTS} elements, or more than {DEPTH} inside each other")
        made = SvgElement(name.rpartition(":")[2], attributes, self.parser.CurrentLineNumber)
        if self.open:
            self.open[-1].children.append(made)
        else:
            self.root = made
        self.open.append(made)

    def _end(self, _: str) -> None:
        self.open.pop()

    def _characters(self, text: str) -> None:
        self._grow(len(text))
        if self.open and self.open[-1].children:
            self.open[-1].children[-1].tail += text
        elif self.open:
            self.open[-1].text += text

    def _entity(
        self, name: str, parameter: bool, value: str | None, base: object, system: str | None, *_: object
    ) -> None:
        self.entities += 1
        if system is not None or value is None or parameter:
            self._refuse("it refers to another file, which is never opened")
        if "&" in value or "<" in value or len(value) > ENTITY or self.entities > ENTITIES:
            self._refuse("it declares entities that are made of others, or too long")

    def _outside(self, *_: object) -> int:
        self._refuse("it refers to another file, which is never opened")
