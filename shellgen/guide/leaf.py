"""What a guide consists of, in no file format: steps of paragraphs, lists to tick, tables and pictures."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen.canvas import Drawing
from shellgen.canvas.rule import Rule


@dataclass(frozen=True, slots=True, eq=False)
class Words:
    """A paragraph."""

    text: str


@dataclass(frozen=True, slots=True, eq=False)
class Ticks:
    """Things to do in order, each with a box to tick."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """A table; with `tick`, a box before every row."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    tick: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A drawing at its printed size, no higher than `tall` mm, and its caption."""

    drawing: Drawing
    caption: str
    tall: float = 225.0


@dataclass(frozen=True, slots=True, eq=False)
class Gallery:
    """Small pictures side by side."""

    pictures: tuple[Picture, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Warn:
    """A caution with its signs, by their names in `signs`."""

    signs: tuple[str, ...]
    text: str


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Lines of a preset, as they are pasted into it."""

    text: str


Block = Words | Ticks | Rows | Picture | Gallery | Warn | Lines


def both(block: Block, rule: Rule) -> Block:
    """The block with every quantity in the maker's units; lines of a preset stay as they are."""
    match block:
        case Words(text):
            return Words(rule.both(text))
        case Ticks(items):
            return Ticks(tuple(map(rule.both, items)))
        case Rows(columns, rows, tick):
            return Rows(columns, tuple(tuple(map(rule.both, row)) for row in rows), tick)
        case Picture(drawing, caption, tall):
            return Picture(drawing, rule.both(caption), tall)
        case Gallery(pictures):
            return Gallery(tuple(Picture(p.drawing, rule.both(p.caption), p.tall) for p in pictures))
        case Warn(signs, text):
            return Warn(signs, rule.both(text))
    return block


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """needs, makes : what must exist first, and what exists afterwards
    equipment : tools and materials it uses, named as in the step that buys them

    hands_h, dry_h : hours of work, hours to dry at the end; 0 if the plan has none
    when : the days of the plan, in words
    """

    key: str
    title: str
    needs: tuple[str, ...]
    makes: tuple[str, ...]
    blocks: tuple[Block, ...]
    equipment: tuple[str, ...] = ()
    hands_h: float = 0.0
    dry_h: float = 0.0
    when: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Guide:
    """index : the pieces with their templates and joins. picture : PNG of the finished shell
    faults : what the checks found wrong, shown first
    """

    title: str
    words: str
    steps: tuple[Step, ...]
    index: Rows
    picture: bytes = b""
    faults: tuple[Warn, ...] = ()
