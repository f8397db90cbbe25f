"""What a guide is made of, free of any file format: steps in order, each of words, lists to tick and pictures."""

from __future__ import annotations

from dataclasses import dataclass

from shellgen.canvas import Drawing


@dataclass(frozen=True, slots=True, eq=False)
class Words:
    """A paragraph."""

    text: str


@dataclass(frozen=True, slots=True, eq=False)
class Ticks:
    """Things to do in this order, each with a box to tick."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """A table; with `tick`, a box before every row."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    tick: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A drawing at the size at which it is printed, and what it shows; smaller where higher than `tall` mm."""

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


Block = Words | Ticks | Rows | Picture | Gallery | Warn


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """needs, makes : what must be there before, and what there is afterwards
    hand : tools and stuff to take in hand, by the words of the step that buys and lays ready

    hands_h, dry_h : hours at the bench, hours to dry at the end; 0 where the plan knows none
    when : the days of the plan, in words
    """

    key: str
    title: str
    needs: tuple[str, ...]
    makes: tuple[str, ...]
    blocks: tuple[Block, ...]
    hand: tuple[str, ...] = ()
    hands_h: float = 0.0
    dry_h: float = 0.0
    when: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Guide:
    """index : the pieces, where their templates are and which joins they have. picture : PNG of the finished shell
    faults : what the checks found wrong, which comes before all else
    """

    title: str
    words: str
    steps: tuple[Step, ...]
    index: Rows
    picture: bytes = b""
    faults: tuple[Warn, ...] = ()
